"""Strength against solid fraction, and ejection stress against pressure, from the runs.

``sigma = sigma_0 exp(-b (1 - SF))`` (Ryshkewitch 1953, Duckworth 1953). Given the solid
fractions, ln(sigma) is a straight line; its two parameters are drawn from the exact posterior of
a line with unknown scatter, one line for each draw of the densification, so that the two stay
correlated. Strength does not feed back on the rate exponent: a change of the curve (shear,
lubrication) must not pass for a change of rate.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array

USUAL_SCATTER = 0.08
"""Usual scatter of ln(strength), as breaking forces within 8 % give it (a judgement)."""
BELIEF = 3.0
"""How many runs the usual scatter is worth."""
LEAST_SLOPE = 0.1
"""A curve that falls with solid fraction is no curve; draws are kept above this."""


@dataclass(frozen=True)
class StrengthCurve:
    """Draws of ``sigma = sigma_0 exp(-b (1 - SF))``, each of shape (draws,)."""

    strength_of_solid: Array
    """sigma_0 in MPa."""
    porosity_exponent: Array
    """b."""

    def strength(self, solid_fraction: Array) -> Array:
        """Return the tensile strength in MPa at a solid fraction."""
        result: Array = self.strength_of_solid * np.exp(
            -self.porosity_exponent * (1.0 - solid_fraction)
        )
        return result

    def solid_fraction(self, strength: float) -> Array:
        """Return the solid fraction that gives a strength in MPa; above 1 if none does."""
        result: Array = 1.0 - np.log(self.strength_of_solid / strength) / self.porosity_exponent
        return result


@dataclass(frozen=True)
class LineBelief:
    """A weak normal belief of intercept and slope."""

    centre: tuple[float, float]
    spread: tuple[float, float]


def draw_lines(
    x: Array, y: Array, weights: Array, belief: LineBelief, rng: np.random.Generator
) -> tuple[Array, Array, Array]:
    """Return intercepts, slopes and scatters of ``y = a + c x``, one line for each draw.

    Parameters
    ----------
    x
        Shape (runs, draws).
    y, weights
        Shape (runs,).
    belief
        Prior of a and c, worth little beside three runs.
    rng
        Source of the draws.
    """
    w = weights[:, None]
    target = y[:, None]
    prior = (USUAL_SCATTER / np.array(belief.spread)) ** 2
    centre = np.array(belief.centre)
    s0 = w.sum(axis=0) + prior[0]
    s1 = (w * x).sum(axis=0)
    s2 = (w * x * x).sum(axis=0) + prior[1]
    t0 = (w * target).sum(axis=0) + prior[0] * centre[0]
    t1 = (w * target * x).sum(axis=0) + prior[1] * centre[1]
    determinant = s0 * s2 - s1 * s1
    intercept = (s2 * t0 - s1 * t1) / determinant
    slope = (s0 * t1 - s1 * t0) / determinant
    squares = (w * (target - intercept - slope * x) ** 2).sum(axis=0)
    squares += prior[0] * (intercept - centre[0]) ** 2 + prior[1] * (slope - centre[1]) ** 2
    freedom = BELIEF + y.size
    variance = (BELIEF * USUAL_SCATTER**2 + squares) / rng.chisquare(freedom, x.shape[1])
    first, second = rng.standard_normal((2, x.shape[1])) * np.sqrt(variance)
    slope_noise = first * np.sqrt(s0 / determinant)
    intercept_noise = -s1 / s0 * slope_noise + second / np.sqrt(s0)
    return intercept + intercept_noise, slope + slope_noise, np.sqrt(variance)


STRENGTH_BELIEF = LineBelief((np.log(8.0), 9.0), (2.0, 8.0))
"""ln(sigma_0/MPa) and b: what tablets usually show (a judgement, overruled by three runs)."""


def draw_strength_curve(
    solid_fraction: Array, strength: Array, weights: Array, rng: np.random.Generator
) -> tuple[StrengthCurve, Array]:
    """Return draws of the curve and of its scatter in ln(strength)."""
    a, c, scatter = draw_lines(
        solid_fraction - 1.0, np.log(strength), weights, STRENGTH_BELIEF, rng
    )
    return StrengthCurve(np.exp(a), np.maximum(c, LEAST_SLOPE)), scatter


@dataclass(frozen=True)
class EjectionLine:
    """Draws of ``tau = tau_0 P^k``, each of shape (draws,)."""

    log_intercept: Array
    exponent: Array

    def stress(self, pressure: Array) -> Array:
        """Return the ejection stress in MPa after a peak pressure in MPa."""
        result: Array = np.exp(self.log_intercept + self.exponent * np.log(pressure))
        return result


EJECTION_BELIEF = LineBelief((0.0, 0.3), (5.0, 1.0))
"""ln(tau/MPa) at 1 MPa and its growth with ln P: nearly nothing is believed beforehand."""


def draw_ejection_line(
    pressure: Array, stress: Array, weights: Array, draws: int, rng: np.random.Generator
) -> EjectionLine:
    """Return draws of ejection stress against pressure."""
    x = np.repeat(np.log(pressure)[:, None], draws, axis=1)
    a, c, _ = draw_lines(x, np.log(stress), weights, EJECTION_BELIEF, rng)
    return EjectionLine(a, c)
