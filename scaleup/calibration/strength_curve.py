"""Strength against solid fraction, and ejection stress against pressure, from the runs.

``sigma = sigma_0 exp(-b (1 - SF))`` (Ryshkewitch 1953, Duckworth 1953). Given the solid
fractions, ln(sigma) is a straight line; its two parameters are drawn from the exact posterior of
a line with unknown scatter, one line for each draw of the densification, so that the two stay
correlated. Strength does not feed back on the rate exponent: a change of the curve (shear,
lubrication) must not pass for a change of rate. Where production runs have strengths as well, their
curve is the lab's times one factor, the feeder's.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array, Places, whole_columns
from scaleup.calibration.production_drift import DRIFT_STRENGTH
from scaleup.short_repr import short_repr

USUAL_SCATTER = 0.08
"""Usual scatter of ln(strength), as breaking forces within 8 % give it (a judgement)."""
BELIEF = 3.0
"""How many runs the usual scatter is worth."""
LEAST_SLOPE = 0.1
"""A curve that falls with solid fraction is no curve; draws are kept above this, by turning them
about the middle of the runs, which stay where they were measured."""


@short_repr
@dataclass(frozen=True)
class StrengthCurve:
    """Draws of ``sigma = sigma_0 exp(-b (1 - SF))``, each of shape (draws,)."""

    strength_of_solid: Array
    """sigma_0 in MPa."""
    porosity_exponent: Array
    """b."""
    feeder: Array
    """Strength of production tablets over that of lab tablets of the same solid fraction: what the
    feeder does to the blend. 1 where no production run says otherwise."""
    feeder_known: bool = False
    """Whether production and lab runs both have a strength, so that the factor was estimated."""
    drift: Array | None = None
    """ln of the strength at the end of a trial over that at its start, at equal solid fraction;
    None where production runs do not say when they were made."""

    def chosen(self, which: Places) -> StrengthCurve:
        """Return some of the draws."""
        return StrengthCurve(
            self.strength_of_solid[which],
            self.porosity_exponent[which],
            self.feeder[which],
            self.feeder_known,
            None if self.drift is None else self.drift[which],
        )

    def strength(self, solid_fraction: Array) -> Array:
        """Return the tensile strength in MPa of a lab tablet at a solid fraction."""
        result: Array = self.strength_of_solid * np.exp(
            -self.porosity_exponent * (1.0 - solid_fraction)
        )
        return result

    def in_production(self, solid_fraction: Array) -> Array:
        """Return the tensile strength in MPa of a production tablet at a solid fraction."""
        return self.feeder * self.strength(solid_fraction)

    def solid_fraction(self, strength: float) -> Array:
        """Return the solid fraction of a lab tablet of a strength in MPa; above 1 if none."""
        result: Array = 1.0 - np.log(self.strength_of_solid / strength) / self.porosity_exponent
        return result


@dataclass(frozen=True)
class LineBelief:
    """A weak normal belief of each coefficient of a line."""

    centre: tuple[float, ...]
    spread: tuple[float, ...]


def draw_lines(
    terms: Array, y: Array, weights: Array, belief: LineBelief, rng: np.random.Generator
) -> tuple[Array, Array]:
    """Return coefficients (terms, draws) and scatters (draws,) of ``y = sum of c_i x_i``.

    Each draw has a line of its own, from the exact posterior of a line with unknown scatter.

    Parameters
    ----------
    terms
        The x_i, shape (terms, runs, draws).
    y
        Shape (runs,) or (runs, draws).
    weights
        Shape (runs,).
    belief
        Prior of the coefficients, worth little beside three runs.
    rng
        Source of the draws.
    """
    prior = (USUAL_SCATTER / np.array(belief.spread)) ** 2
    centre = np.array(belief.centre)
    precision = np.einsum("irn,r,jrn->nij", terms, weights, terms) + np.diag(prior)
    every = np.broadcast_to(y[:, None] if y.ndim == 1 else y, terms.shape[1:])
    target = np.einsum("irn,r,rn->ni", terms, weights, every) + prior * centre
    mean = np.linalg.solve(precision, target[:, :, None])[:, :, 0]
    miss = every - np.einsum("irn,ni->rn", terms, mean)
    squares = weights @ miss**2 + np.sum(prior * (mean - centre) ** 2, axis=1)
    freedom = BELIEF + len(y)
    variance = (BELIEF * USUAL_SCATTER**2 + squares) / rng.chisquare(freedom, mean.shape[0])
    normal = rng.standard_normal(mean.shape)
    root = np.linalg.cholesky(precision)
    noise = np.linalg.solve(root.transpose(0, 2, 1), normal[:, :, None])[:, :, 0]
    drawn = mean + noise * np.sqrt(variance)[:, None]
    return whole_columns(drawn).T, np.sqrt(variance)


STRENGTH_BELIEF = LineBelief((np.log(8.0), 9.0), (2.0, 8.0))
"""ln(sigma_0/MPa) and b: what tablets usually show (a judgement, overruled by three runs)."""
FEEDER_BELIEF = LineBelief((*STRENGTH_BELIEF.centre, 0.0), (*STRENGTH_BELIEF.spread, 0.3))
"""The same, and ln of the feeder factor: a loss or a gain of a quarter is nothing unheard of."""


def draw_strength_curve(
    solid_fraction: Array,
    strength: Array,
    weights: Array,
    produced: np.ndarray,
    sheared: Array | None,
    with_factor: LineBelief,
    rng: np.random.Generator,
    places: Array | None = None,
) -> tuple[StrengthCurve, Array]:
    """Return draws of the curve and of its scatter in ln(strength).

    `produced` says which runs were made in production, shape (runs,). Where there are both kinds, a
    factor between them is drawn as well, so that a blend sheared in the feeder shifts the curve
    and nothing else; `with_factor` is what is believed of the curve and of that factor. `sheared`
    is ln of what shear did to each run, shape (runs, draws), where runs were sheared differently.
    `places` are those of production runs in their trial, shape (runs,), where a drift is drawn.
    """
    one = np.ones_like(solid_fraction)
    both = bool(produced.any() and not produced.all())
    rows = [one, solid_fraction - 1.0]
    if both:
        rows.append(one * produced[:, None])
    belief = with_factor if both else STRENGTH_BELIEF
    if places is not None:
        rows.append(one * places[:, None])
        belief = LineBelief((*belief.centre, 0.0), (*belief.spread, DRIFT_STRENGTH))
    logs = np.log(strength) if sheared is None else np.log(strength)[:, None] - sheared
    lines, scatter = draw_lines(np.stack(rows), logs, weights, belief, rng)
    feeder = np.exp(lines[2]) if both else np.ones(one.shape[1])
    slope = np.maximum(lines[1], LEAST_SLOPE)
    middle = weights @ solid_fraction / weights.sum()  # where a curve kept from falling is turned
    log_solid = lines[0] + (slope - lines[1]) * (1.0 - middle)
    drift = None if places is None else lines[-1]
    return StrengthCurve(np.exp(log_solid), slope, feeder, both, drift), scatter


@short_repr
@dataclass(frozen=True)
class EjectionLine:
    """Draws of ``tau = tau_0 P^k``, each of shape (draws,)."""

    log_intercept: Array
    exponent: Array

    def chosen(self, which: Places) -> EjectionLine:
        """Return some of the draws."""
        return EjectionLine(self.log_intercept[which], self.exponent[which])

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
    terms = np.stack([np.ones_like(x), x])
    lines, _ = draw_lines(terms, np.log(stress), weights, EJECTION_BELIEF, rng)
    return EjectionLine(lines[0], lines[1])
