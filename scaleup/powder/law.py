"""One law for every press: hardening with a power-law dependence on rate.

The composition is this project's own; its parts are Heckel's densification variable (1961), an
elastic part that springs back on unloading, and a power law between pressure and rate.

With x the static pressure (the state of the powder), P the pressure and S the hardening scale,

    dx/dt = m/(1+m) * (S/t_ref) * (P/x)^(1/m)            t_ref = 1 s

which integrates to ``(x/S)^((1+m)/m) = (1/t_ref) * integral of (P/S)^(1/m) dt``. With the
effective dwell ``t_eff = integral of (P/P_peak)^(1/m) dt`` it collapses to

    x = S * [(P_peak/S) * (t_eff/t_ref)^m]^(1/(1+m))

so equal peak pressure and equal effective dwell give the same tablet on any press.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.special import xlogy

from scaleup.arrays import Array, Places
from scaleup.powder.hardening import Hardening
from scaleup.short_repr import short_repr

LOG_10 = float(np.log(10.0))
LEAST = 1e-12
"""Change of the exponent for each decade that stands for none."""
SHORTEST_DWELL = 1e-12
"""s, below any press; keeps the dwell of a rate-independent powder, which vanishes, finite."""


@short_repr
@dataclass(frozen=True)
class Powder:
    """The parameters of one powder, in as many draws as its uncertainty needs.

    Attributes
    ----------
    hardening
        The densification curve without time.
    rate_exponent
        m, at least 0, shape (draws,).
    elastic
        K in MPa: under pressure P the tablet's D is larger by P/K, shape (draws,).
    tested_dwell
        The shortest effective dwell in s for which the rate exponent was tested, shape (draws,).
    curvature
        c: share by which the rate exponent changes for each decade of dwell, shape (draws,).
    middle_dwell
        t_0 in s, at which the rate exponent is m: the geometric mean of the tested effective
        dwells, shape (draws,); the tested dwell if not given.
    """

    hardening: Hardening
    rate_exponent: Array
    elastic: Array
    tested_dwell: Array
    curvature: Array
    middle_dwell: Array = field(default_factory=lambda: np.empty(0))

    def __post_init__(self) -> None:
        if not self.middle_dwell.size:
            object.__setattr__(self, "middle_dwell", self.tested_dwell)

    @property
    def draws(self) -> int:
        """Return the number of draws."""
        return int(self.rate_exponent.size)

    def chosen(self, which: Places) -> Powder:
        """Return some of the draws, their places rising."""
        return Powder(
            self.hardening.chosen(which),
            self.rate_exponent[which],
            self.elastic[which],
            self.tested_dwell[which],
            self.curvature[which],
            self.middle_dwell[which],
        )

    def decades_beyond(self, effective_dwell: Array) -> Array:
        """Return by how many decades a dwell in s is shorter than any tested; 0 inside."""
        ratio = self.tested_dwell / np.maximum(effective_dwell, SHORTEST_DWELL)
        result: Array = np.log(np.maximum(ratio, 1.0)) / LOG_10
        return result

    def decades_from_middle(self, effective_dwell: Array) -> Array:
        """Return ``l = log10(t_eff/t_0)``, below 0 for a dwell shorter than the middle."""
        middle = np.maximum(self.middle_dwell, SHORTEST_DWELL)
        result: Array = np.log(np.maximum(effective_dwell, SHORTEST_DWELL) / middle) / LOG_10
        return result

    def weakening(self, effective_dwell: Array) -> Array:
        """Return the factor on pressure by which the powder departs from one rate exponent.

        ``10^(m c l^2/2)``: the exponent is ``m (1 + c l)`` at ``l = log10(t_eff/t_0)``. Where that
        would be below 0, so that a longer dwell weakened the tablet, the dwell stops mattering.
        """
        return np.exp(self._log_weakening(effective_dwell))

    def _log_weakening(self, effective_dwell: Array) -> Array:
        if not self.curvature.any():
            return np.zeros(np.broadcast_shapes(self.curvature.shape, np.shape(effective_dwell)))
        decades = self.decades_from_middle(effective_dwell)
        turning = -1.0 / np.where(np.abs(self.curvature) < LEAST, LEAST, self.curvature)
        counted = np.where(
            turning < 0.0, np.maximum(decades, turning), np.minimum(decades, turning)
        )
        excess = counted * (1.0 + 0.5 * self.curvature * counted) - decades
        result: Array = LOG_10 * self.rate_exponent * excess
        return result

    def dwell_factor(self, effective_dwell: Array) -> Array:
        """Return ``t_eff^m``, with the change of the exponent away from the middle dwell."""
        return np.exp(self._log_dwell_factor(effective_dwell))

    def _log_dwell_factor(self, effective_dwell: Array) -> Array:
        tested = np.asarray(xlogy(self.rate_exponent, effective_dwell), dtype=np.float64)
        return tested + self._log_weakening(effective_dwell)

    def exponent_at(self, effective_dwell: Array) -> Array:
        """Return the rate exponent at a dwell in s, d ln(dwell factor) / d ln(t_eff).

        ``m (1 + c l)`` with ``l = log10(t_eff/t_0)``, never below 0.
        """
        decades = self.decades_from_middle(effective_dwell)
        exponent: Array = self.rate_exponent * np.maximum(1.0 + self.curvature * decades, 0.0)
        return exponent

    def static_pressure(self, pressure: Array, effective_dwell: Array) -> Array:
        """Return x in MPa after a pulse of this peak pressure in MPa and effective dwell in s."""
        scale, m = self.hardening.scale, self.rate_exponent
        with np.errstate(divide="ignore"):  # no pressure, no state
            load = np.log(pressure) - np.log(scale) + self._log_dwell_factor(effective_dwell)
        result: Array = scale * np.exp(load / (1.0 + m))
        return result

    def peak_pressure(self, static_pressure: Array, effective_dwell: Array) -> Array:
        """Return the peak pressure in MPa that leaves the static pressure x; the law inverted."""
        scale, m = self.hardening.scale, self.rate_exponent
        with np.errstate(divide="ignore"):  # no state, no pressure
            load = (1.0 + m) * np.log(static_pressure / scale)
        result: Array = scale * np.exp(load - self._log_dwell_factor(effective_dwell))
        return result

    def solid_fraction(self, static_pressure: Array) -> Array:
        """Return the solid fraction of the ejected tablet."""
        result: Array = -np.expm1(-self.hardening.densification(static_pressure))
        return result

    def solid_fraction_after(self, pressure: Array, effective_dwell: Array) -> Array:
        """Return the solid fraction of the tablet ejected after one pulse."""
        return self.solid_fraction(self.static_pressure(pressure, effective_dwell))
