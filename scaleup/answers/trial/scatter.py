"""Scatter within runs: how much single tablets of one run differ, and how that goes with speed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scaleup.model.estimate import Estimate, unavailable
from scaleup.model.run import Run

LEAST_TABLETS = 5
NORMAL = 1.645


@dataclass(frozen=True)
class RunScatter:
    """Relative standard deviations within one run; None where it was not measured."""

    name: str
    speed: float
    """rpm."""
    tablets: int
    weight: float | None
    thickness: float | None
    breaking_force: float | None
    force: float | None


def scatter_of(runs: Sequence[Run]) -> tuple[RunScatter, ...]:
    """Return the scatter of every run that has one."""
    found = [
        RunScatter(
            run.name,
            run.speed or 0.0,
            run.tablets,
            _share(run.weight_standard_deviation, run.weight),
            _share(run.thickness_standard_deviation, run.thickness),
            _share(run.breaking_force_standard_deviation, run.breaking_force),
            _share(run.force_standard_deviation, run.force),
        )
        for run in runs
    ]
    return tuple(
        each
        for each in found
        if any(part is not None for part in (each.weight, each.breaking_force, each.force))
    )


def _share(spread: float | None, mean: float | None) -> float | None:
    return None if spread is None or not mean else spread / mean


def weight_against_speed(rows: Sequence[RunScatter]) -> Estimate:
    """Return k of ``SD of weight ~ speed^k`` with its 90 % band, or why the runs tell none.

    A straight line through ln(SD) against ln(speed), each run counting as its tablets do: the
    variance of ln of a standard deviation of n tablets is 1 / (2 (n - 1)).
    """
    known = [row for row in rows if row.weight and row.speed and row.tablets >= LEAST_TABLETS]
    speed = np.log([row.speed for row in known])
    if len(known) < 3 or np.ptp(speed) < np.log(1.5):
        return unavailable("1", "fewer than three runs at parted speeds with single tablets")
    spread = np.log([row.weight or 1.0 for row in known])
    root = np.sqrt([2.0 * (row.tablets - 1) for row in known])
    terms = np.column_stack([np.ones(len(known)), speed]) * root[:, None]
    covariance = np.linalg.inv(terms.T @ terms)
    line = covariance @ terms.T @ (spread * root)
    error = NORMAL * float(np.sqrt(covariance[1, 1]))
    return Estimate(float(line[1]), "1", float(line[1]) - error, float(line[1]) + error)
