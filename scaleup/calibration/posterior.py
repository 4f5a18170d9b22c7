"""How likely densification parameters are, given the runs: the one likelihood of every press.

Solid fractions scatter around the law with an unknown spread, which is integrated out under a
weak prior; that makes the likelihood Student's t rather than normal, so few runs give wide tails.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array, whole_columns
from scaleup.calibration.dwell_surface import DwellOfRuns
from scaleup.calibration.forms import Form
from scaleup.calibration.observations import Observation
from scaleup.calibration.prior import ElasticPrior, RatePrior
from scaleup.powder.law import Powder

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

    @property
    def observations(self) -> tuple[Observation, ...]:
        """Return the runs, in the order of every array over runs."""
        return self.dwell.observations

    @property
    def weights(self) -> Array:
        """Return how many tablets each run is the mean of, scaled to a mean of 1, (runs, 1)."""
        tablets = np.array([float(seen.run.tablets) for seen in self.observations])
        weights: Array = (tablets / tablets.mean())[:, None]
        return weights

    @property
    def measured(self) -> Array:
        """Return the solid fractions of the runs, shape (runs, 1)."""
        return np.array([[seen.solid_fraction] for seen in self.observations], dtype=np.float64)

    @property
    def in_die(self) -> Array:
        """Return the solid fractions under load, not-a-number where none, shape (runs, 1)."""
        return np.array(
            [[seen.in_die_solid_fraction] for seen in self.observations], dtype=np.float64
        )

    @property
    def pressure(self) -> Array:
        """Return the peak pressures in MPa, shape (runs, 1)."""
        return np.array([[seen.pressure] for seen in self.observations])

    def states(self, columns: Array) -> tuple[Powder, Array]:
        """Return the powder and the static pressures in MPa of the runs, shape (runs, sets)."""
        powder = powder_of(self.form, columns)
        return powder, powder.static_pressure(self.pressure, self.dwell.at(columns))

    def solid_fractions(self, columns: Array) -> tuple[Array, Array]:
        """Return the law's ejected and in-die solid fractions of the runs, (runs, sets)."""
        powder, state = self.states(columns)
        level = powder.hardening.densification(state)
        under_load = level + self.dwell.elastic_share(columns) * self.pressure / powder.elastic
        return -np.expm1(-level), -np.expm1(-under_load)

    def log_density(self, columns: Array) -> Array:
        """Return the logarithm of the posterior density but for a constant, shape (sets,)."""
        density: Array = (
            self.form.log_density(columns[:, :-2])
            + self.rate.log_density(columns[:, -2])
            + self.elastic.log_density(columns[:, -1])
            + self.log_likelihood(columns)
        )
        return density

    def log_likelihood(self, columns: Array) -> Array:
        """Return how likely the runs are, but for a constant common to all forms, (sets,)."""
        kept = columns.copy()
        kept[:, -2] = np.clip(kept[:, -2], 0.0, self.rate.upper)
        ejected, under_load = self.solid_fractions(kept)
        likelihood = _student(self.weights * (self.measured - ejected) ** 2, SCATTER)
        known = ~np.isnan(self.in_die[:, 0])
        if known.any():
            miss = self.weights[known] * (self.in_die[known] - under_load[known]) ** 2
            likelihood = likelihood + _student(miss, IN_DIE_SCATTER)
        return likelihood

    def residuals(self, columns: Array, scatter: float, in_die_scatter: float) -> Array:
        """Return runs and beliefs of one set as residuals whose squares are to be least."""
        ejected, under_load = self.solid_fractions(columns[None, :])
        root = np.sqrt(self.weights)
        known = ~np.isnan(self.in_die[:, 0])
        in_die = (root * (self.in_die - under_load))[known, 0] / in_die_scatter
        return np.concatenate(
            [
                (root * (self.measured - ejected))[:, 0] / scatter,
                in_die,
                (columns[:-2] - self.form.centre) / self.form.spread,
                [(columns[-2] - self.rate.mean) / self.rate.spread],
                [(columns[-1] - self.elastic.log_mean) / self.elastic.log_spread],
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
