"""Quantities of any units library turned into plain numbers in a core unit, or refused.

Nothing is known here of the library: a quantity has `units`, a method `to` that takes the text of a
unit, and a `magnitude`. What looks like a quantity but cannot be converted is refused, since its
bare number would be taken for one in the core unit.
"""

from __future__ import annotations

import re
from typing import Any, Protocol, TypeGuard

import numpy as np

from scaleup.arrays import Array

ANGLE = re.compile(r"rev|rp[ms]|turn|cycle|circle|rad|deg|°|arc", re.IGNORECASE)
"""What the name of a unit has in it that measures an angle, or turns in a time."""
TEXTS = {"1": "dimensionless"}
"""How units libraries write a core unit that they read otherwise."""


class HasUnits(Protocol):
    """A quantity of a units library."""

    @property
    def units(self) -> Any:
        """Return the unit."""
        ...

    def to(self, other: Any, /) -> Any:
        """Return the quantity in another unit."""
        ...


def has_units(value: object) -> TypeGuard[HasUnits]:
    """Return whether a value carries a unit, be it one that cannot be converted."""
    return hasattr(value, "units") or hasattr(value, "unit")


def in_core(name: str, value: HasUnits, allowed: tuple[str, ...]) -> Array:
    """Return the number of a quantity in the first of some core units that it converts to.

    A frequency is taken for turns in a time where ``rpm`` is asked for: 40 Hz are 2400 rpm, also
    where the library counts a turn as 2 pi.

    Raises
    ------
    ValueError
        If it converts to none of them.

    Examples
    --------
    >>> from pint import UnitRegistry
    >>> units = UnitRegistry()
    >>> float(in_core("head_flat", units.Quantity("0.9525 cm"), ("mm",)))
    9.525
    >>> float(in_core("speed", units.Quantity("40 Hz"), ("rpm",)))
    2400.0
    >>> in_core("head_flat", units.Quantity("400 mg"), ("mm",))
    Traceback (most recent call last):
    ValueError: head_flat must be a plain number in mm or a quantity that converts to it, found \
400 milligram
    """
    for unit in allowed:
        number = _converted(value, unit)
        if number is not None:
            return number
    told = " or ".join("1 (a share)" if unit == "1" else unit for unit in allowed)
    found = str(value)[:60]
    rule = f"a plain number in {told} or a quantity that converts to it"
    raise ValueError(f"{name} must be {rule}, found {found}")


def _converted(value: HasUnits, unit: str) -> Array | None:
    """Return a quantity as a number in a core unit, None if it cannot be."""
    angular = ANGLE.search(str(getattr(value, "units", ""))) is not None
    if unit == "1" and angular:
        return None
    target = "1/minute" if unit == "rpm" and not angular else TEXTS.get(unit, unit)
    try:
        return np.asarray(value.to(target).magnitude, dtype=np.float64)
    # Each library has errors of its own for a unit it cannot convert or does not know, all of them
    # one of these.
    except (TypeError, ValueError, AttributeError, LookupError):
        return None
