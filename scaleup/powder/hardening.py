"""How a powder hardens as it densifies, without the effect of time.

A hardening form is one curve: Heckel's variable ``D = ln(1/(1 - SF))`` of the ejected tablet
against the static pressure, the pressure that would give that tablet if it acted for the
reference time. The rate law (`scaleup.powder.law`) is the same on top of every form.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from scaleup.arrays import Array, Places
from scaleup.short_repr import short_repr


class Hardening(Protocol):
    """One curve of densification against static pressure, for many draws at once."""

    @property
    def scale(self) -> Array:
        """Return the pressure in MPa that measures this powder's resistance, shape (draws,)."""
        ...

    def densification(self, static_pressure: Array) -> Array:
        """Return D of the ejected tablet at a static pressure in MPa."""
        ...

    def slope(self, static_pressure: Array) -> Array:
        """Return dD/dP in 1/MPa at a static pressure in MPa."""
        ...

    def densification_and_slope(self, static_pressure: Array) -> tuple[Array, Array]:
        """Return both of the above, for what takes them at every step."""
        ...

    def static_pressure(self, densification: Array) -> Array:
        """Return the static pressure in MPa at which the ejected tablet has this D."""
        ...

    def chosen(self, which: Places) -> Hardening:
        """Return the same form for some of the draws."""
        ...

    def named(self) -> tuple[tuple[str, Array, str], ...]:
        """Return symbol, draws and core unit of every parameter."""
        ...


@dataclass(frozen=True)
class Heckel:
    """A straight line in Heckel's variable: ``D = A + P/Y`` (Heckel 1961).

    Attributes
    ----------
    yield_pressure
        Y in MPa, shape (draws,).
    rearrangement
        A, the intercept, shape (draws,).
    """

    yield_pressure: Array
    rearrangement: Array

    @property
    def scale(self) -> Array:
        """Return Y."""
        return self.yield_pressure

    @cached_property
    def _softness(self) -> Array:
        result: Array = 1.0 / self.yield_pressure
        return result

    def densification(self, static_pressure: Array) -> Array:
        """Return ``A + P/Y``."""
        result: Array = static_pressure * self._softness
        result += self.rearrangement
        return result

    def slope(self, static_pressure: Array) -> Array:
        """Return ``1/Y``, whatever the pressure."""
        if static_pressure.shape == self._softness.shape:
            return self._softness
        shape = np.broadcast_shapes(static_pressure.shape, self._softness.shape)
        return np.broadcast_to(self._softness, shape)

    def densification_and_slope(self, static_pressure: Array) -> tuple[Array, Array]:
        """Return ``A + P/Y`` and ``1/Y``."""
        return self.densification(static_pressure), self.slope(static_pressure)

    def static_pressure(self, densification: Array) -> Array:
        """Return ``Y (D - A)``."""
        result: Array = self.yield_pressure * (densification - self.rearrangement)
        return result

    def chosen(self, which: Places) -> Heckel:
        """Return the same form for some of the draws."""
        return Heckel(self.yield_pressure[which], self.rearrangement[which])

    def named(self) -> tuple[tuple[str, Array, str], ...]:
        """Return Y and A."""
        return ("Y", self.yield_pressure, "MPa"), ("A", self.rearrangement, "1")


@short_repr
@dataclass(frozen=True)
class KuentzLeuenberger:
    """Heckel's line, bent near the loosest powder that can carry a load.

    ``P = (1/C) [eps - eps_c - eps_c ln(eps/eps_c)]`` with porosity eps and critical porosity eps_c
    (Kuentz & Leuenberger, J Pharm Sci 88 (1999) 174, from memory). With ``S = eps_c/C`` and
    ``w = ln(eps/eps_c)`` it reads ``P/S = e^w - w - 1``, which Lambert's W solves:
    ``e^w = -W(-exp(-1 - P/S))``.

    Attributes
    ----------
    scale
        S in MPa: the yield pressure of Heckel's line at high pressure, shape (draws,).
    rearrangement
        D of the powder that just carries a load, ``-ln eps_c``, positive, shape (draws,).
    """

    scale: Array
    rearrangement: Array

    def densification(self, static_pressure: Array) -> Array:
        """Return ``-ln eps``.

        >>> form = KuentzLeuenberger(np.array([0.7 / 0.005]), -np.log(np.array([0.7])))
        >>> float(-np.expm1(-form.densification(np.array([100.0])))[0])
        0.84202
        """
        result: Array = self.rearrangement - _below_critical(static_pressure / self.scale)
        return result

    def slope(self, static_pressure: Array) -> Array:
        """Return ``1/(S (1 - eps/eps_c))``, which is without bound where the load begins."""
        return self._slope(_below_critical(static_pressure / self.scale))

    def densification_and_slope(self, static_pressure: Array) -> tuple[Array, Array]:
        """Return both from one porosity."""
        w = _below_critical(static_pressure / self.scale)
        return self.rearrangement - w, self._slope(w)

    def _slope(self, w: Array) -> Array:
        result: Array = 1.0 / (self.scale * np.maximum(-np.expm1(w), 1e-12))
        return result

    def static_pressure(self, densification: Array) -> Array:
        """Return the pressure of the defining equation, 0 for powder looser than critical."""
        w = np.minimum(self.rearrangement - densification, 0.0)
        result: Array = self.scale * (np.expm1(w) - w)
        return result

    def chosen(self, which: Places) -> KuentzLeuenberger:
        """Return the same form for some of the draws."""
        return KuentzLeuenberger(self.scale[which], self.rearrangement[which])

    def named(self) -> tuple[tuple[str, Array, str], ...]:
        """Return C and the critical porosity."""
        critical = np.exp(-self.rearrangement)
        return ("C", critical / self.scale, "1/MPa"), ("eps_c", critical, "1")


def _below_critical(load: Array) -> Array:
    """Return w of ``e^w - w - 1 = load``, w at most 0.

    Two steps of Halley's method from ``load + 1 - exp(-p - load/3)``, ``p = sqrt(2 load)``, which
    has the right series where the load begins and the right limit at high load; against Lambert's
    W (the slow twin in the tests) the result is right to 1e-13 of D.
    """
    w = np.exp(-np.sqrt(2.0 * load) - load / 3.0) - 1.0 - load
    for _ in range(2):
        steep = np.minimum(np.expm1(w), -1e-300)
        miss = steep - w - load
        w = w - 2.0 * miss * steep / (2.0 * steep * steep - miss * (1.0 + steep))
    result: Array = w
    return result


@short_repr
@dataclass(frozen=True)
class Kawakita:
    """``(V0 - V)/V0 = a b P/(1 + b P)`` with a the initial porosity.

    Kawakita & Lüdde, Powder Technol 4 (1971) 61 (from memory), in their own reading of a: under
    unlimited pressure only the volume of the solid is left, so ``a = 1 - SF_0``. In Heckel's
    variable it is ``D = ln(1/a) + ln(1 + P/S)`` with ``S = 1/(b SF_0)``.

    Attributes
    ----------
    scale
        S in MPa, shape (draws,).
    rearrangement
        D of the loose powder, ``-ln a``, positive, shape (draws,).
    """

    scale: Array
    rearrangement: Array

    def densification(self, static_pressure: Array) -> Array:
        """Return ``ln(1/a) + ln(1 + P/S)``."""
        result: Array = self.rearrangement + np.log1p(static_pressure / self.scale)
        return result

    def slope(self, static_pressure: Array) -> Array:
        """Return ``1/(S + P)``."""
        result: Array = 1.0 / (self.scale + static_pressure)
        return result

    def densification_and_slope(self, static_pressure: Array) -> tuple[Array, Array]:
        """Return ``ln(1/a) + ln(1 + P/S)`` and ``1/(S + P)``."""
        return self.densification(static_pressure), self.slope(static_pressure)

    def static_pressure(self, densification: Array) -> Array:
        """Return ``S (e^(D - D_0) - 1)``."""
        result: Array = self.scale * np.expm1(densification - self.rearrangement)
        return result

    def chosen(self, which: Places) -> Kawakita:
        """Return the same form for some of the draws."""
        return Kawakita(self.scale[which], self.rearrangement[which])

    def named(self) -> tuple[tuple[str, Array, str], ...]:
        """Return a and b."""
        porosity = np.exp(-self.rearrangement)
        return ("a", porosity, "1"), ("b_K", 1.0 / (self.scale * (1.0 - porosity)), "1/MPa")
