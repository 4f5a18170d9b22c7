"""Numbers in sentences: the unit people read, and as many digits as they need."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, log10


@dataclass(frozen=True)
class Reading:
    """The unit in which a core unit is read, and what one core unit is in it."""

    unit: str
    factor: float


READINGS: dict[str, Reading] = {
    "N": Reading("kN", 1e-3),
    "s": Reading("ms", 1e3),
    "1": Reading("", 1.0),
    "1/h": Reading("/h", 1.0),
}
"""Core units that are read in another unit; every other is read as it is."""


def reading(unit: str) -> Reading:
    """Return how a core unit is read."""
    return READINGS.get(unit, Reading(unit, 1.0))


def say(value: float, unit: str, digits: int = 3) -> str:
    """Return a value in its reading unit with so many significant digits.

    >>> say(12345.0, "N")
    '12.3 kN'
    >>> say(0.0064, "s")
    '6.4 ms'
    """
    how = reading(unit)
    return f"{significant(value * how.factor, digits)} {how.unit}".rstrip()


def significant(value: float, digits: int) -> str:
    """Return a number with so many significant digits, never in powers of ten.

    >>> significant(1234.5, 3), significant(0.012345, 3), significant(0.0, 3)
    ('1230', '0.0123', '0')
    """
    if value == 0.0:
        return "0"
    places = digits - 1 - floor(log10(abs(value)))
    rounded = round(value, places)
    return f"{rounded:.{max(places, 0)}f}".rstrip("0").rstrip(".") if places > 0 else f"{rounded:.0f}"


def percent(share: float) -> str:
    """Return a share as a whole percentage.

    >>> percent(0.123)
    '12 %'
    """
    return f"{share * 100:.0f} %"
