"""How likely densification parameters are, given the runs: the one likelihood of every press.

Solid fractions scatter around the law with an unknown spread, which is integrated out under a
weak prior; that makes the likelihood Student's t rather than normal, so few runs give wide tails.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from scaleup.arrays import Array, Places, whole_columns
from scaleup.calibration.also_fitted import NOTHING_ELSE, AlsoFitted
from scaleup.calibration.forms import Form
from scaleup.calibration.observations import Observation
from scaleup.calibration.prior import ElasticPrior, RatePrior
from scaleup.calibration.run_dwell import DwellOfRuns
from scaleup.powder.law import SHORTEST_DWELL, Powder

SCATTER = 0.006
"""Usual scatter of a solid fraction, as a thickness within 0.7 % gives it (a judgement)."""
IN_DIE_SCATTER = 0.01
"""The same for a solid fraction from in-die thickness."""
BELIEF = 3.0
"""How many runs the usual scatter is worth."""


def powder_of(form: Form, columns: Array) -> Powder:
    """Return the powder of parameter sets, shape (sets, columns), untested nowhere."""
    sets, columns = len(columns), whole_columns(columns)
    return Powder(
        form.build(columns[:, :-2]),
        columns[:, -2],
        np.exp(columns[:, -1]),
        np.zeros(sets),
        np.zeros(sets),
    )


@dataclass(frozen=True)
class Posterior:
    """The runs with a solid fraction, and the beliefs, as a function of parameter sets."""

    form: Form
    rate: RatePrior
    elastic: ElasticPrior
    dwell: DwellOfRuns
    also: AlsoFitted = NOTHING_ELSE

    @property
    def observations(self) -> tuple[Observation, ...]:
        """Return the runs, in the order of every array over runs."""
        return self.dwell.observations

    @cached_property
    def weights(self) -> Array:
        """Return how many tablets each run is the mean of, scaled to a mean of 1, (runs, 1)."""
        tablets = np.array([float(seen.run.tablets) for seen in self.observations])
        weights: Array = (tablets / tablets.mean())[:, None]
        return weights

    @cached_property
    def measured(self) -> Array:
        """Return the solid fractions of the runs, shape (runs, 1)."""
        return np.array([[seen.solid_fraction] for seen in self.observations], dtype=np.float64)

    @cached_property
    def read(self) -> Places:
        """Return which runs have an in-die thickness."""
        known = [seen.in_die_solid_fraction is not None for seen in self.observations]
        return np.flatnonzero(known)

    @cached_property
    def in_die(self) -> Array:
        """Return the solid fractions under load of the runs that have one, shape (read, 1)."""
        known = [self.observations[run].in_die_solid_fraction for run in self.read]
        return np.array(known, dtype=np.float64)[:, None]

    @cached_property
    def pressure(self) -> Array:
        """Return the peak pressures in MPa, shape (runs, 1)."""
        return np.array([[seen.pressure] for seen in self.observations])

    def solid_fractions(self, columns: Array) -> tuple[Array, Array]:
        """Return the law's solid fractions, ejected (runs, sets) and in the die (read, sets)."""
        pulse, dwell = self.also.pulse(columns), self.dwell_of(columns)
        powder = self.powder(columns, dwell)
        pressure = self.pressure * np.exp(self.also.log_pressure(columns))
        state = powder.static_pressure(pressure, dwell)
        level, read = powder.hardening.densification(state), self.read
        if not read.size:
            return -np.expm1(-level), np.empty((0, len(columns)))
        share = self.dwell.elastic_share(pulse, read.tolist())
        pressed = np.broadcast_to(pressure, level.shape)[read]
        under_load = level[read] + share * pressed / powder.elastic
        return -np.expm1(-level), -np.expm1(-under_load)

    def dwell_of(self, columns: Array) -> Array:
        """Return the effective dwell of every run in s, shape (runs, sets)."""
        return self.dwell.at(self.also.pulse(columns))

    def powder(self, columns: Array, dwell: Array) -> Powder:
        """Return the powder of parameter sets; `dwell` is the effective dwell of the runs in s.

        The exponent is m at the geometric mean of the dwells.
        """
        return replace(
            powder_of(self.form, self.also.pulse(columns)),
            tested_dwell=dwell.min(axis=0),
            curvature=self.also.change(columns),
            middle_dwell=np.exp(np.log(np.maximum(dwell, SHORTEST_DWELL)).mean(axis=0)),
        )

    def log_density(self, columns: Array) -> Array:
        """Return the logarithm of the posterior density but for a constant, shape (sets,)."""
        pulse = self.also.pulse(columns)
        beliefs = (
            self.form.log_density(pulse[:, :-2])
            + self.rate.log_density(pulse[:, -2])
            + self.elastic.log_density(pulse[:, -1])
            - 0.5 * np.sum(self.also.deviations(columns) ** 2, axis=0)
        )
        density: Array = beliefs + self.log_likelihood(columns)
        return density

    def log_likelihood(self, columns: Array) -> Array:
        """Return how likely the runs are, but for a constant common to all forms, (sets,)."""
        kept = columns.copy()
        exponents = self.also.pulse(kept)[:, -2]
        exponents[:] = np.clip(exponents, 0.0, self.rate.upper)
        ejected, under_load = self.solid_fractions(kept)
        likelihood = _student(self.weights * (self.measured - ejected) ** 2, SCATTER)
        if self.read.size:
            miss = self.weights[self.read] * (self.in_die - under_load) ** 2
            likelihood = likelihood + _student(miss, IN_DIE_SCATTER)
        return likelihood

    def residuals(self, columns: Array, scatter: float, in_die_scatter: float) -> Array:
        """Return runs and beliefs as residuals whose squares are to be least.

        Columns have shape (sets, columns), the residuals (residuals, sets).
        """
        ejected, under_load = self.solid_fractions(columns)
        root, pulse = np.sqrt(self.weights), self.also.pulse(columns)
        form = pulse[:, :-2]
        return np.vstack(
            [
                root * (self.measured - ejected) / scatter,
                root[self.read] * (self.in_die - under_load) / in_die_scatter,
                ((form - self.form.centre) / self.form.spread).T,
                (pulse[:, -2] - self.rate.mean) / self.rate.spread,
                (pulse[:, -1] - self.elastic.log_mean) / self.elastic.log_spread,
                self.also.deviations(columns),
            ]
        )


def _student(squares: Array, scatter: float) -> Array:
    """Return the log likelihood of squared misses (runs, sets) with their spread left open."""
    runs = squares.shape[0]
    total = BELIEF * scatter**2 + squares.sum(axis=0)
    result: Array = -0.5 * (runs + BELIEF) * np.log(total)
    return result


def scatter_of(squares: Array, usual: float) -> float:
    """Return the spread that squared misses of shape (runs,) and the usual scatter suggest."""
    total = BELIEF * usual**2 + float(squares.sum())
    return float(np.sqrt(total / (BELIEF + squares.size)))
