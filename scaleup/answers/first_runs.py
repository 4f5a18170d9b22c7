"""Which lab runs make an answer possible where there is none: forces, and columns to fill."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.answers.proposals import TABLETS
from scaleup.calibration.calibrated_study import CalibratedStudy
from scaleup.calibration.fit import Fit, NoFit
from scaleup.calibration.observations import Observation
from scaleup.transfer.lab_settings import LabSetting, lab_settings
from scaleup.transfer.tested import greatest_lab_force

SPAN = 4.0
"""Highest over lowest of the forces that a first curve is pressed at (common practice: from loose
to firm tablets)."""
TWICE = 2.0
"""The highest of them is up to this times the highest pressed so far."""
LEAST_STRONG = 3
"""Tablets with a breaking force that a strength curve takes."""


@dataclass(frozen=True)
class FirstRuns:
    """Lab runs without which there is no answer."""

    forces: tuple[float, ...]
    """Main forces in N, rising."""
    tablets: int
    """At each force."""
    columns: tuple[str, ...]
    """What is to be measured of each tablet."""
    longest: LabSetting | None
    """A longer timing at the middle force, which measures the rate exponent; None if there is
    none."""
    why: str


def first_runs(lab: CalibratedStudy) -> FirstRuns | None:
    """Return the lab runs that an answer needs first; None if it needs none."""
    if isinstance(lab.fit, Fit) and lab.fit.strength is not None:
        return None
    forces = _forces(lab)
    if isinstance(lab.fit, NoFit):
        why, longest = "; ".join(lab.fit.reasons), _longest(lab)
    else:
        why, longest = "too few breaking forces for a strength curve", None
    return FirstRuns(forces, TABLETS, _columns(lab.observations), longest, why)


def _forces(lab: CalibratedStudy) -> tuple[float, ...]:
    """Return three forces in N that span the runs, within what lab press and tips may make."""
    area = lab.study.lab.tooling.profile.tip_area
    tested = [seen.pressure * area for seen in lab.observations]
    low, high, limit = min(tested), max(tested), greatest_lab_force(lab.study.lab)
    if _dense(lab):
        high, low = low, low / SPAN
    elif high < SPAN / TWICE * low:
        high = min(TWICE * high, limit)
        low = min(low, high / SPAN)
    high = min(high, limit)
    return tuple(float(each) for each in np.geomspace(min(low, high / TWICE), high, 3))


def _dense(lab: CalibratedStudy) -> bool:
    """Return whether the tablets are too dense for a curve, so that less force is needed."""
    return isinstance(lab.fit, NoFit) and any("hardly a pore" in each for each in lab.fit.reasons)


def _columns(seen: tuple[Observation, ...]) -> tuple[str, ...]:
    """Return what a fit and a strength curve take of each tablet; what was never measured first."""
    wanted = ("weight", "thickness", "breaking_force")
    lacking = [name for name in wanted if all(getattr(each.run, name) is None for each in seen)]
    return tuple(
        name.replace("_", " ")
        for name in (*lacking, *(each for each in wanted if each not in lacking))
    )


def _longest(lab: CalibratedStudy) -> LabSetting | None:
    """Return the longest hold, or else the slowest speed, of the lab press."""
    settings = lab_settings(lab.study.lab)
    holds = [each for each in settings if each.setting.hold]
    if holds:
        return max(holds, key=lambda each: each.setting.hold or 0.0)
    slow = [each for each in settings if each.setting.speed is not None]
    return min(slow, key=lambda each: each.setting.speed or 0.0, default=None)
