"""What a user gives in Python: a plain number, a text with its unit, or a quantity."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from scaleup.conversion import HasUnits, has_units, in_core
from scaleup.errors import Fault, InputError
from scaleup.io.units import UnitFault, expected, to_core
from scaleup.text import printable

Number = float | str | HasUnits
"""A plain number in the core unit, a text with its unit, or a quantity of a units library."""


def in_unit(name: str, value: Any, unit: str) -> Any:
    """Return a text with its unit, or a quantity, as a number in a core unit; all else as it is.

    `name` is that of the argument.

    Raises
    ------
    InputError
        If the text is no quantity, or the quantity does not convert.

    Examples
    --------
    >>> from pint import UnitRegistry
    >>> in_unit("speed", "60 rpm", "rpm"), in_unit("speed", UnitRegistry()("1 Hz"), "rpm")
    (60.0, 60.0)
    >>> in_unit("confidence", "95 %", "1"), in_unit("confidence", 0.95, "1")
    (0.95, 0.95)
    >>> in_unit("speed", "60 mm", "rpm")
    Traceback (most recent call last):
    scaleup.errors.InputError: speed: found the unit "mm", which does not measure a speed; \
allowed: a speed with its unit, such as "25 rpm"
    """
    if isinstance(value, str):
        try:
            return to_core(value, unit)
        except UnitFault as fault:
            raise InputError(Fault("", name, fault.found, fault.allowed)) from None
    if not has_units(value):
        return value
    try:
        return float(in_core(name, value, (unit,)))
    except (TypeError, ValueError):  # the former of several numbers
        raise InputError(Fault("", name, printable(str(value)), expected(unit))) from None


def each_in_unit(name: str, values: Any, unit: str) -> Any:
    """Return several of them, or one quantity of several numbers, as a list; all else as it is.

    Raises
    ------
    InputError
        With every fault found.

    Examples
    --------
    >>> each_in_unit("speeds", ["20 rpm", 40.0], "rpm")
    [20.0, 40.0]
    """
    if isinstance(values, str):
        return values
    if has_units(values):
        try:
            return [float(each) for each in in_core(name, values, (unit,))]
        except (TypeError, ValueError):  # the former of one number
            raise InputError(Fault("", name, printable(str(values)), expected(unit))) from None
    if not isinstance(values, Iterable):
        return values
    numbers: list[Any] = []
    faults: list[Fault] = []
    for each in values:
        try:
            numbers.append(in_unit(name, each, unit))
        except InputError as error:
            faults += error.faults
    if faults:
        raise InputError(faults)
    return numbers
