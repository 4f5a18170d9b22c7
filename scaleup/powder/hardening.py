"""How a powder hardens as it densifies, without the effect of time.

A hardening form is one curve: Heckel's variable ``D = ln(1/(1 - SF))`` of the ejected tablet
against the static pressure, the pressure that would give that tablet if it acted for the
reference time. The rate law (`scaleup.powder.law`) is the same on top of every form.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from scaleup.arrays import Array


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

    def static_pressure(self, densification: Array) -> Array:
        """Return the static pressure in MPa at which the ejected tablet has this D."""
        ...

    def pick(self, draws: Array) -> Hardening:
        """Return the same form for the draws at these positions."""
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

    def densification(self, static_pressure: Array) -> Array:
        """Return ``A + P/Y``."""
        result: Array = self.rearrangement + static_pressure / self.yield_pressure
        return result

    def slope(self, static_pressure: Array) -> Array:
        """Return ``1/Y``, whatever the pressure."""
        result: Array = 1.0 / self.yield_pressure + 0.0 * static_pressure
        return result

    def static_pressure(self, densification: Array) -> Array:
        """Return ``Y (D - A)``."""
        result: Array = self.yield_pressure * (densification - self.rearrangement)
        return result

    def pick(self, draws: Array) -> Heckel:
        """Return the same form for the draws at these positions."""
        return Heckel(self.yield_pressure[draws], self.rearrangement[draws])

    def named(self) -> tuple[tuple[str, Array, str], ...]:
        """Return Y and A."""
        return ("Y", self.yield_pressure, "MPa"), ("A", self.rearrangement, "1")
