"""Figures of solved pulses carried between parameter sets by a quadratic surface.

The fit asks for tens of thousands of parameter sets, so the logarithm of the dwell is solved on a
design of parameter sets and pressures and carried between them. The surface reports its own error.
At the pressure of a run it is a quadratic in the parameters alone, and all runs share its terms.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array, whole_columns

SMALLEST_EXPONENT = 2e-3
"""Added to m before its logarithm is taken; below it the dwell hardly matters."""


@dataclass(frozen=True)
class Terms:
    """Every product of up to two standardised parameters of a set, ln m in the place of m."""

    centre: Array
    scale: Array

    @classmethod
    def around(cls, design: Array) -> Terms:
        """Return the terms standardised by parameter sets of shape (sets, columns)."""
        features = _features(design)
        return cls(features.mean(axis=0), np.maximum(features.std(axis=0), 1e-9))

    @property
    def first_order(self) -> int:
        """Return how many terms there are up to the first order; they come first."""
        return self.centre.size + 1

    def of(self, columns: Array) -> Array:
        """Return the terms of parameter sets, shape (sets, terms)."""
        z = (_features(columns) - self.centre) / self.scale
        first, second = np.triu_indices(z.shape[1])
        return np.column_stack([np.ones(len(z)), z, z[:, first] * z[:, second]])


def _features(columns: Array) -> Array:
    """Return shape parameters, ln m and ln K side by side."""
    features = whole_columns(columns.copy())
    features[:, -2] = np.log(features[:, -2] + SMALLEST_EXPONENT)
    return features


@dataclass(frozen=True)
class Surface:
    """A quadratic in the standardised parameters and in ln P."""

    centre: float
    scale: float
    """Of ln P."""
    plain: Array
    """Coefficients of the terms, shape (terms,)."""
    sloped: Array
    """Coefficients of ln P times each term up to the first order."""
    bent: float
    """Coefficient of (ln P)²."""
    error: float
    """Root mean square of the residual."""

    def at(self, pressure: float) -> Array:
        """Return the coefficients of the terms at a pressure in MPa, shape (terms,)."""
        z = (np.log(pressure) - self.centre) / self.scale
        result = self.plain.copy()
        result[: self.sloped.size] += z * self.sloped
        result[0] += z * z * self.bent
        return result


def fit_surface(terms: Terms, design: Array, pressure: Array, values: Array) -> Surface:
    """Return the least-squares quadratic through values, shape (sets,), at pressures in MPa.

    Examples
    --------
    >>> design = np.random.default_rng(1).normal(0.05, 0.01, (60, 3))
    >>> terms, pressure = Terms.around(design), np.linspace(100.0, 200.0, 60)
    >>> surface = fit_surface(terms, design, pressure, design[:, 0] * np.log(pressure))
    >>> surface.error < 1e-12
    True
    >>> at = terms.of(design) @ surface.at(150.0)
    >>> bool(np.allclose(at, design[:, 0] * np.log(150.0)))
    True
    """
    logs = np.log(pressure)
    centre, scale = float(logs.mean()), max(float(logs.std()), 1e-9)
    z = ((logs - centre) / scale)[:, None]
    plain = terms.of(design)
    every = np.column_stack([plain, z * plain[:, : terms.first_order], z * z])
    coefficients = np.asarray(np.linalg.lstsq(every, values, rcond=None)[0], dtype=np.float64)
    error = float(np.sqrt(np.mean((every @ coefficients - values) ** 2)))
    end = plain.shape[1]
    return Surface(
        centre, scale, coefficients[:end], coefficients[end:-1], float(coefficients[-1]), error
    )


@dataclass(frozen=True)
class Carried:
    """Surfaces at the pressures of their runs: quadratics in the parameters, one for each run."""

    runs: tuple[int, ...]
    coefficients: Array
    """Shape (runs, terms)."""
    error: float
    """The largest error of any surface, 0 without one."""

    @classmethod
    def of(cls, surfaces: Mapping[int, Surface], pressures: Sequence[float]) -> Carried:
        """Return surfaces by the places of their runs, `pressures` in MPa being of all runs."""
        rows = [surface.at(pressures[run]) for run, surface in surfaces.items()]
        error = max((surface.error for surface in surfaces.values()), default=0.0)
        return cls(tuple(surfaces), np.array(rows), error)

    def at(self, terms: Array, runs: Sequence[int] | None = None) -> Array:
        """Return the values at parameter sets with these terms, shape (runs, sets).

        Those of all its runs, or of some in an order asked for.
        """
        rows = self.coefficients
        if runs is not None:
            rows = rows[[self.runs.index(run) for run in runs]]
        values: Array = rows @ terms.T
        return values
