"""Every run against the fit: what the fit gives there, and how far off the run is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtr

from scaleup.arrays import Array
from scaleup.calibration.observations import Observation
from scaleup.calibration.posterior import BELIEF, SCATTER
from scaleup.calibration.strength_curve import USUAL_SCATTER
from scaleup.short_repr import short_repr

UNLIKELY = 0.05
"""A run is suspicious if the largest miss of all runs would be as large less often than this."""
FULL = 1.0 - 1e-9


@dataclass(frozen=True)
class Miss:
    """How far one measured figure is from the fit, seen from the other runs.

    Attributes
    ----------
    deviations
        The deleted residual: measured less fitted over the standard deviation it would have if
        the run had no part in the fit (Cook & Weisberg, *Residuals and Influence in Regression*
        (1982), chapter 2, from memory).
    leverage
        Share of the run's own figure in the fitted one; near 1, the run alone decides and cannot
        be judged.
    chance
        How often the largest of all runs would miss by as much (Bonferroni's bound).
    """

    deviations: float
    leverage: float
    chance: float

    @property
    def suspicious(self) -> bool:
        """Return whether chance hardly explains the miss."""
        return self.chance < UNLIKELY


@short_repr
@dataclass(frozen=True)
class RunFit:
    """One run against the fit."""

    observation: Observation
    effective_dwell: float
    """s, at the middle of the draws."""
    solid_fraction: float
    """Of the fit, at the middle of the draws."""
    solid_fraction_miss: Miss
    strength: float | None
    """MPa, of the fit."""
    strength_miss: Miss | None
    """Of ln(strength)."""

    @property
    def suspicious(self) -> bool:
        """Return whether chance hardly explains one of its misses."""
        strength = self.strength_miss
        return self.solid_fraction_miss.suspicious or (strength is not None and strength.suspicious)

    @property
    def largest_miss(self) -> float:
        """Return the larger of its misses in standard deviations, with its sign."""
        misses = [self.solid_fraction_miss, self.strength_miss]
        return max((miss.deviations for miss in misses if miss is not None), key=abs)


def deleted(miss: Array, leverage: Array, usual: float) -> list[Miss]:
    """Return the deleted residual of every run; misses and leverages of shape (runs,).

    The usual scatter counts as three more runs, so that few runs that happen to agree do not make
    each other suspicious.
    """
    free = np.maximum(1.0 - leverage, 1.0 - FULL)
    squares = miss**2 / free
    freedom = max(BELIEF + miss.size - float(leverage.sum()) - 1.0, 1.0)
    rest = np.maximum(float(np.sum(miss**2)) - squares, 0.0)
    spread = np.sqrt((BELIEF * usual**2 + rest) / freedom)
    deviations = miss / (spread * np.sqrt(free))
    chances = np.minimum(2.0 * miss.size * stdtr(freedom, -np.abs(deviations)), 1.0)
    return [
        Miss(float(each), float(lever), float(chance))
        for each, lever, chance in zip(deviations, leverage, chances, strict=True)
    ]


def solid_fraction_misses(
    measured: Array, fitted: Array, weights: Array, leverage: Array
) -> list[Miss]:
    """Return the misses of the solid fractions, all arguments of shape (runs,)."""
    return deleted(np.sqrt(weights) * (measured - fitted), leverage, SCATTER)


def strength_misses(
    measured: Array, fitted: Array, weights: Array, solid: Array, shifts: Array
) -> list[Miss]:
    """Return the misses of ln(strength) from the line over solid fraction, of shape (runs,).

    The line has a factor for each press that is held against the others: `shifts` are 1 for its
    runs and 0 for all else, shape (runs, presses).
    """
    rows = np.column_stack([np.ones(solid.size), solid, shifts])
    terms = np.sqrt(weights)[:, None] * rows
    leverage = np.einsum("ij,ji->i", terms, np.linalg.pinv(terms))
    miss = np.sqrt(weights) * np.log(measured / fitted)
    return deleted(miss, np.clip(leverage, 0.0, 1.0), USUAL_SCATTER)
