"""From what to what a quantity can be, where it is usual, and how well either is known."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, pi
from typing import Literal

Grade = Literal["exact", "common practice", "from memory", "a judgement of this program"]

ROUNDING = 1e-9
"""Share of a bound within which a value counts as on it."""
FACTORS = {
    "kN": 1e3, "kN/mm": 1e3, "kN/s": 1e3, "ms": 1e-3, "GPa": 1e3, "deg": pi / 180.0, "m/s": 1e3,
    "%": 0.01, "kg": 1e6,
}  # fmt: skip
"""What one unit of the trade is in its core unit; any other is a core unit by another name."""


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

    @property
    def _factor(self) -> float:
        return FACTORS.get(self.unit, 1.0)


def _within(value: float, bounds: tuple[float, float]) -> bool:
    low, high = bounds
    return low * (1.0 - ROUNDING) <= value <= high * (1.0 + ROUNDING)
