"""What the runs of a trial are expected to teach, and what they cost.

Every draw of the fit says what a run would measure. What is measured is of one batch while the next
is another, it may drift through the trial, and it scatters: all three are noise to what is wanted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scaleup.answers.expected_narrowing import narrowing, variance_left
from scaleup.answers.trial.options import TrialOptions
from scaleup.arrays import Array
from scaleup.calibration.plant.lots import lot
from scaleup.calibration.plant.sides import BothSides
from scaleup.calibration.production_drift import DRIFT_PRESSURE, DRIFT_STRENGTH
from scaleup.transfer.case import TransferCase
from scaleup.transfer.operating_point import OperatingPoint

WASTE = 0.10
"""Share of powder lost at start-up (a judgement of this program); what is pressed while the press
is set is counted by itself."""
PARTED = 1.5
"""Ratio of turret speeds from which production runs show what speed does."""
STEP = 1.02
"""Ratio of pressures between which a slope is taken."""


@dataclass(frozen=True)
class RunsCost:
    """Powder in mg and time in s."""

    powder: float
    time: float

    @property
    def told(self) -> str:
        """Return both in words.

        >>> RunsCost(2.5e6, 960.0).told
        '2.5 kg and 16 min'
        """
        return f"{self.powder / 1e6:.3g} kg and {self.time / 60.0:.0f} min"


def cost_of(case: TransferCase, speeds: Sequence[float], options: TrialOptions) -> RunsCost:
    """Return what runs at turret speeds in rpm take, the turret turning while it is set too."""
    tablets = sum(case.production.output(speed) * options.time / 3600.0 for speed in speeds)
    return RunsCost(
        tablets * case.process.charge.weight * (1.0 + WASTE),
        len(speeds) * options.time,
    )


@dataclass(frozen=True)
class Wanted:
    """One figure that a trial is to teach."""

    name: str
    draws: Array


class Worth:
    """How much a set of runs narrows each figure that is wanted of a trial."""

    def __init__(self, case: TransferCase, centre: OperatingPoint, tablets: int) -> None:
        self.case, self.tablets = case, tablets
        self.wanted = tuple(_wanted(case, centre))
        self._rng = np.random.default_rng(case.calibrated.drawing.seed)
        draws = case.process.fit.powder.draws
        self._drift = self._rng.standard_normal((2, draws))
        self._batch = _of_the_batch(case)

    def narrowing(self, points: Sequence[OperatingPoint]) -> dict[str, float]:
        """Return by which share each wanted band narrows, its runs being in this order."""
        measured = np.vstack(self._measured(points))
        return {
            each.name: narrowing(
                float(np.var(each.draws, ddof=1)), variance_left(each.draws, measured, 1.0)
            )
            for each in self.wanted
        }

    def _measured(self, points: Sequence[OperatingPoint]) -> list[Array]:
        """Return every mean in units of its scatter, shape (draws,)."""
        fit = self.case.process.fit
        places = np.linspace(-0.5, 0.5, len(points)) if len(points) > 1 else np.zeros(1)
        solid_noise = fit.solid_fraction_scatter / np.sqrt(self.tablets)
        rows = []
        for point, place in zip(points, places, strict=True):
            log_pressure = DRIFT_PRESSURE * place * self._drift[0] + self._batch[0]
            moved = point.solid_fraction + log_pressure * _slope(point)
            rows.append(moved / solid_noise)
            if point.strength is not None and fit.strength_scatter:
                log_strength = DRIFT_STRENGTH * place * self._drift[1] + self._batch[1]
                noise = fit.strength_scatter / np.sqrt(self.tablets)
                rows.append((np.log(point.strength) + log_strength) / noise)
        return rows


def _slope(point: OperatingPoint) -> Array:
    """Return the rise of the solid fraction with ln(pressure), shape (draws,)."""
    more = point.process.at(float(np.median(point.pressure)) * STEP, point.speed)
    slope: Array = (more.solid_fraction - point.solid_fraction) / np.log(STEP)
    return slope


def _of_the_batch(case: TransferCase) -> Array:
    """Return how far another batch is off the one pressed, ln of pressure and of strength."""
    evidence, charge = case.process.fit.plant, case.process.charge
    sides = BothSides(case.study, case.production, evidence.lab_weight, charge.weight,
                      evidence.solid_fraction)  # fmt: skip
    term = lot(sides, evidence.lots, evidence.scores)
    rng = np.random.default_rng(case.calibrated.drawing.seed + 1)
    normal = rng.standard_normal((2, case.process.fit.powder.draws))
    spreads = np.array([np.std(term.log_pressure), np.std(term.strength(case.speed))])
    return spreads[:, None] * normal


def ladder_run(case: TransferCase) -> bool:
    """Return whether production runs on the press asked about span two well parted speeds."""
    runs = case.process.fit.plant.runs
    if runs is None or runs.press != case.production.press.id:
        return False
    speeds = [each.run.speed for each in case.observations if each.run.press == "production"]
    known = [speed for speed in speeds if speed]
    return max(known, default=1.0) >= PARTED * min(known, default=1.0)


def _wanted(case: TransferCase, centre: OperatingPoint) -> list[Wanted]:
    """Return what the next batch gives at the centre, and first how the blend behaves.

    How speed-sensitive it is and how steep its curve are worth knowing for their own sake once, and
    after that for what they do to the tablet.
    """
    powder, curve = case.process.fit.powder, case.process.fit.strength
    wanted = [Wanted("the solid fraction at the centre", centre.solid_fraction)]
    if centre.strength is not None:
        wanted.append(Wanted("the strength at the centre", np.log(centre.strength)))
    if ladder_run(case):
        return wanted
    dwell = np.array(np.median(centre.effective_dwell))
    wanted.append(Wanted("the rate exponent at production dwell", powder.exponent_at(dwell)))
    if curve is not None:
        wanted.append(Wanted("the slope of the strength curve", curve.porosity_exponent))
    else:
        wanted.append(Wanted("the rise of solid fraction with force", _slope(centre)))
    return wanted
