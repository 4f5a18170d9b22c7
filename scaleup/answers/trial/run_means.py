"""The means of a trial's runs beside what the lab's fit says they would be, as one vector."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from scaleup.answers.trial.centre_runs import SETTING_SOLID, SETTING_STRENGTH
from scaleup.answers.trial.design import Rung, point_of
from scaleup.arrays import Array
from scaleup.calibration.observations import Observation
from scaleup.transfer.case import TransferCase
from scaleup.transfer.operating_point import OperatingPoint

STEP = 1.03
"""Ratio of pressures between which slopes are taken."""
FLOOR = 1e-9


@dataclass(frozen=True)
class RunMeans:
    """Solid fractions of all runs, then ln(strength) of those that have one.

    Vectors have the shape (means,), the first `runs` of them solid fractions.
    """

    names: tuple[str, ...]
    """Of the runs."""
    strong: tuple[int, ...]
    """Which runs have a strength."""
    measured: Array
    drawn: Array
    """What each draw says, shape (means, draws)."""
    noise: Array
    """Standard deviation of each mean about what it would be."""
    slope: Array
    """Rise of each mean with ln(pressure)."""
    log_dwell: Array
    """ln of the effective dwell over the geometric mean of the tested ones."""
    place: Array
    """Of each run in the trial, from -1/2 to 1/2."""
    exponent: float
    """The rate exponent at production dwell as the lab's fit has it."""
    dwell: float = 0.01
    """s, the effective dwell at which that is."""

    @property
    def of_strength(self) -> np.ndarray:
        """Return which means are of strength."""
        return np.arange(self.measured.size) >= len(self.names)

    @cached_property
    def residual(self) -> Array:
        """Return measured less predicted."""
        result: Array = self.measured - self.drawn.mean(axis=1)
        return result

    @cached_property
    def _root(self) -> Array:
        covariance = np.atleast_2d(np.cov(self.drawn)) + np.diag(self.noise**2)
        whole = covariance + FLOOR * np.eye(self.measured.size)
        return np.asarray(np.linalg.cholesky(whole), dtype=np.float64)

    def solve(self, vector: Array) -> Array:
        """Return S^-1 times a vector."""
        half = np.linalg.solve(self._root, vector)
        result: Array = np.linalg.solve(self._root.T, half)
        return result

    def name_of(self, place: int) -> str:
        """Return run and figure of one mean."""
        if place < len(self.names):
            return f"{self.names[place]} solid fraction"
        return f"{self.names[self.strong[place - len(self.names)]]} strength"

    def direction(self, code: str) -> Array:
        """Return how much a cause of size 1 moves each mean."""
        solid = ~self.of_strength
        zero = np.zeros(self.measured.size)
        return {
            "rate": self.slope * self.log_dwell,
            "force-gauge": self.slope,
            "solid-fraction-reading": np.where(solid, self.measured, zero),
            "strength-factor": np.where(solid, zero, 1.0),
            "strength-drift": np.where(solid, zero, self.place),
            "density-drift": self.slope * self.place,
        }[code]


def run_means(case: TransferCase, seen: Sequence[Observation]) -> RunMeans:
    """Return the means of trial runs beside a case that knows nothing of them."""
    used = [each for each in seen if each.solid_fraction is not None]
    points = [_point(case, each) for each in used]
    more = [_point(case, each, STEP) for each in used]
    strong = tuple(
        place
        for place, (each, point) in enumerate(zip(used, points, strict=True))
        if each.strength is not None and point.strength is not None
    )
    fit = case.process.fit
    tablets = np.array([float(each.run.tablets) for each in used])
    solid_noise = np.hypot(fit.solid_fraction_scatter / np.sqrt(tablets), SETTING_SOLID)
    strength_noise = np.hypot((fit.strength_scatter or 0.0) / np.sqrt(tablets), SETTING_STRENGTH)
    middle_dwell = float(np.median(fit.powder.middle_dwell))
    dwell = np.array([np.log(np.median(each.effective_dwell) / middle_dwell) for each in points])
    place = _places(used)
    rows = [point.solid_fraction for point in points]
    rows += [_log_strength(points[at]) for at in strong]
    upper = [point.solid_fraction for point in more] + [_log_strength(more[at]) for at in strong]
    slope = np.array([np.median(up - row) for up, row in zip(upper, rows, strict=True)])
    which = [*range(len(used)), *strong]
    here = float(np.median([np.median(each.effective_dwell) for each in points]))
    return RunMeans(
        names=tuple(each.run.name for each in used),
        strong=strong,
        measured=np.array(
            [each.solid_fraction for each in used]
            + [np.log(used[at].strength or 1.0) for at in strong],
            dtype=np.float64,
        ),
        drawn=np.vstack(rows),
        noise=np.concatenate([solid_noise, strength_noise[list(strong)]]),
        slope=slope / np.log(STEP),
        log_dwell=dwell[which],
        place=place[which],
        exponent=float(np.median(fit.powder.exponent_at(np.array(here)))),
        dwell=here,
    )


def _point(case: TransferCase, seen: Observation, times: float = 1.0) -> OperatingPoint:
    process = case.process.of_weight(seen.weight)
    force = times * seen.run.force
    return point_of(process, Rung("", seen.run.speed or case.speed, force, seen.pre_share))


def _log_strength(point: OperatingPoint) -> Array:
    strength = point.strength
    if strength is None:
        raise TypeError("a point of a fit with a strength curve has a strength")
    result: Array = np.log(strength)
    return result


def _places(seen: Sequence[Observation]) -> Array:
    """Return the place of each run in the trial, 0 for all where their times are not known."""
    times = [each.run.elapsed for each in seen]
    known = np.array([np.nan if time is None else time for time in times])
    if np.isnan(known).any() or np.ptp(known) == 0.0:
        return np.zeros(len(seen))
    result: Array = (known - known.min()) / np.ptp(known) - 0.5
    return result
