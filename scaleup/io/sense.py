"""From what to what a quantity can be, where it is usual, and how well either is known."""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import inf
from typing import Literal

from scaleup.io.units import factor

Grade = Literal["exact", "common practice", "from memory", "a judgement of this program"]

ROUNDING = 1e-9
"""Share of a bound within which a value counts as on it."""
MISTAKEN: dict[str, tuple[str, ...]] = {
    "mm": ("mm", "cm", "m", "um", "in"),
    "mm^2": ("mm^2", "cm^2"),
    "mm^3": ("mm^3", "cm^3"),
    "N": ("kN", "N", "kgf", "lbf"),
    "MPa": ("GPa", "MPa", "kPa"),
    "s": ("s", "ms", "min"),
    "rpm": ("rpm", "1/s"),
    "mm/s": ("mm/s", "m/s"),
    "N/s": ("kN/s", "N/s"),
    "N/mm": ("kN/mm", "N/mm", "N/um"),
    "rad": ("deg", "rad"),
}
"""Core unit: units that are written for one another."""


@dataclass(frozen=True)
class Sense:
    """The values that one quantity of a profile can have, and those it usually has."""

    unit: str
    """As the trade writes it; empty for a plain number."""
    core: str
    can: tuple[float, float]
    """Outside of it the value cannot be, in the unit."""
    usual: tuple[float, float]
    """Outside of it the value is doubtful, in the unit."""
    grade: Grade
    why: str

    def possible(self, number: float) -> bool:
        """Return whether a value in the core unit can be."""
        return _within(number / self._factor, self.can)

    def is_usual(self, number: float) -> bool:
        """Return whether a value in the core unit is nothing to wonder about."""
        return _within(number / self._factor, self.usual)

    def shown(self, number: float) -> str:
        """Return a value in the core unit as the trade writes it.

        >>> Sense("kN/mm", "N/mm", (5, 5000), (20, 1000), "from memory", "").shown(160.0)
        '0.16 kN/mm'
        """
        return f"{float(f'{number / self._factor:.4g}'):.10g} {self.unit}".rstrip()

    @property
    def allowed(self) -> str:
        """Return in words what can be, and why."""
        return f"{self.within(self.can)} ({self.reason})"

    @property
    def reason(self) -> str:
        """Return why, and how well that is known."""
        return f"{self.why}; {self.grade}"

    def within(self, bounds: tuple[float, float]) -> str:
        """Return bounds in words.

        >>> Sense("mm", "mm", (0.0, 4.0), (0.0, 1.0), "from memory", "").within((0.0, 4.0))
        'at most 4 mm'
        """
        low, high = bounds
        if bounds == (0.0, inf):
            return "anything"
        if high == inf:
            return f"at least {low:g} {self.unit}".rstrip()
        if low == 0.0:
            return f"at most {high:g} {self.unit}".rstrip()
        return f"{low:g} to {high:g} {self.unit}".rstrip()

    def meant(self, written: str) -> str:
        """Return a sentence that guesses the unit that was meant, empty if none is likely.

        >>> sense = Sense("GPa", "MPa", (50, 1000), (180, 720), "from memory", "")
        >>> sense.meant("210 MPa")
        'Did you mean "210 GPa"?'
        """
        found = re.match(r"\s*([+-]?[\d.]+(?:[eE][+-]?\d+)?)", written)
        if found is None:
            return ""
        for unit in MISTAKEN.get(self.core, ()):
            if self.is_usual(float(found[1]) * factor(unit, self.core)):
                return f'Did you mean "{found[1]} {unit}"?'
        return ""

    @property
    def _factor(self) -> float:
        return factor(self.unit, self.core) if self.unit else 1.0


def _within(value: float, bounds: tuple[float, float]) -> bool:
    low, high = bounds
    return low * (1.0 - ROUNDING) <= value <= high * (1.0 + ROUNDING)
