"""Draws of the parameters: the peak of the posterior, then importance sampling around it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from scaleup.arrays import Array
from scaleup.calibration.posterior import IN_DIE_SCATTER, SCATTER, Posterior, scatter_of

TAILS = 5.0
"""Degrees of freedom of the proposal, heavier-tailed than what it covers."""
FIRST_ROUND = 4000
PER_DRAW = 5
STEP = float(np.sqrt(np.finfo(np.float64).eps))
"""Share of a parameter, or of 1, by which it is moved to see a slope."""


@dataclass(frozen=True)
class Peak:
    """The most likely parameter set and the curvature there."""

    columns: Array
    covariance: Array
    leverage: Array
    """Share of each run's own solid fraction in its fitted one, shape (runs,)."""


@dataclass(frozen=True)
class Sample:
    """Parameter sets drawn with equal weight, and how much the weights before were worth."""

    columns: Array
    effective: float
    """Effective number of independent draws among the proposals."""


class Slopes:
    """Residuals, with their slopes by differences from one call for all parameters at once."""

    def __init__(self, residuals: Callable[[Array, float, float], Array], high: Array) -> None:
        self._residuals, self._high = residuals, high
        self._asked: tuple[object, ...] = ()
        self._jacobian = np.empty((0, 0))

    def residuals(self, columns: Array, *scatters: float) -> Array:
        """Return the residuals of one parameter set, shape (residuals,)."""
        step = STEP * np.where(columns < 0.0, -1.0, 1.0) * np.maximum(np.abs(columns), 1.0)
        step = np.where(columns + step > self._high, -step, step)
        moved = columns + np.diag(step)
        values = self._residuals(np.vstack([columns, moved]), *scatters)
        self._jacobian = (values[:, 1:] - values[:, :1]) / (np.diag(moved) - columns)
        self._asked = (columns.tobytes(), *scatters)
        here: Array = values[:, 0].copy()
        return here

    def jacobian(self, columns: Array, *scatters: float) -> Array:
        """Return the slopes there, shape (residuals, columns)."""
        if self._asked != (columns.tobytes(), *scatters):
            self.residuals(columns, *scatters)
        return self._jacobian


def find_peak(posterior: Posterior, start: Array) -> Peak:
    """Return the most likely set; the scatter is re-estimated until it settles."""
    lowest = posterior.form.lowest
    low, high = np.full(start.size, -np.inf), np.full(start.size, np.inf)
    low[: lowest.size] = lowest
    low[lowest.size], high[lowest.size] = 0.0, posterior.rate.upper
    columns, scatter, in_die = start, SCATTER, IN_DIE_SCATTER
    slopes = Slopes(posterior.residuals, high)
    for _ in range(4):
        columns = np.clip(columns, low + 1e-9, high - 1e-9)
        solution = least_squares(
            slopes.residuals, columns, slopes.jacobian, (low, high), args=(scatter, in_die)
        )
        columns = solution.x
        ejected, under_load = posterior.solid_fractions(columns[None, :])
        scatter = scatter_of(posterior.weights * (posterior.measured - ejected) ** 2, SCATTER)
        miss = posterior.weights[posterior.read] * (posterior.in_die - under_load) ** 2
        in_die = scatter_of(miss, IN_DIE_SCATTER)
    jacobian = np.asarray(solution.jac, dtype=np.float64)
    covariance = np.asarray(np.linalg.inv(jacobian.T @ jacobian), dtype=np.float64)
    rows = jacobian[: len(posterior.observations)]
    leverage: Array = np.einsum("ij,jk,ik->i", rows, covariance, rows)
    return Peak(columns, covariance, np.clip(leverage, 0.0, 1.0))


def draw(posterior: Posterior, peak: Peak, draws: int, rng: np.random.Generator) -> Sample:
    """Return equally weighted draws of the posterior, shape (draws, columns).

    A first round of proposals around the peak corrects the proposal's centre and width; the second
    is weighted and resampled.
    """
    centre, covariance = peak.columns, peak.covariance * 1.5
    proposals, weights = _round(posterior, centre, covariance, FIRST_ROUND, rng)
    centre = weights @ proposals
    spread = (proposals - centre) * np.sqrt(weights)[:, None]
    covariance = 1.3 * (spread.T @ spread) + 1e-3 * peak.covariance
    proposals, weights = _round(posterior, centre, covariance, PER_DRAW * draws, rng)
    steps = (np.arange(draws) + rng.random()) / draws
    chosen = np.minimum(np.searchsorted(np.cumsum(weights), steps), weights.size - 1)
    return Sample(proposals[rng.permutation(chosen)], 1.0 / float(np.sum(weights**2)))


def _round(
    posterior: Posterior, centre: Array, covariance: Array, count: int, rng: np.random.Generator
) -> tuple[Array, Array]:
    """Return proposals from a multivariate t distribution and their normalised weights."""
    size = centre.size
    factor = np.linalg.cholesky(covariance)
    normal = rng.standard_normal((count, size))
    stretch = np.sqrt(TAILS / rng.chisquare(TAILS, count))[:, None]
    proposals = centre + (normal * stretch) @ factor.T
    distance = np.sum((normal * stretch) ** 2, axis=1)
    proposed = -0.5 * (TAILS + size) * np.log1p(distance / TAILS)
    with np.errstate(over="ignore"):
        excess = posterior.log_density(proposals) - proposed
    weights = np.exp(excess - excess.max())
    return proposals, weights / weights.sum()
