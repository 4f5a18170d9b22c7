"""In which unit a figure is shown: the usual one of its size, or one that the user asked for.

Figures are computed and handed on in core units; only what is read on a screen or a page changes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from math import log
from types import MappingProxyType
from typing import NamedTuple


class UnitShown(NamedTuple):
    """A unit by its name, with what one core unit is in it."""

    name: str
    factor: float


USUAL: Mapping[str, Sequence[UnitShown]] = {
    "N": (UnitShown("kN", 1e-3), UnitShown("N", 1.0)),
    "N/mm": (UnitShown("kN/mm", 1e-3), UnitShown("N/mm", 1.0)),
    "N/s": (UnitShown("kN/s", 1e-3), UnitShown("N/s", 1.0)),
    "s": (UnitShown("s", 1.0), UnitShown("ms", 1e3)),
    "1/h": (UnitShown("tablets/h", 1.0),),
    "1": (UnitShown("", 1.0),),
}
"""Core unit: the units its figures are usually read in, the largest first; others as they are."""

_NONE: Mapping[str, Sequence[UnitShown]] = MappingProxyType({})
_asked_for: ContextVar[Mapping[str, Sequence[UnitShown]]] = ContextVar("asked for", default=_NONE)


@contextmanager
def shown_in(asked: Mapping[str, Sequence[UnitShown]]) -> Iterator[None]:
    """Return a context in which figures are shown in the units asked for, by their core unit.

    >>> with shown_in({"N": [UnitShown("kgf", 1.0 / 9.80665)]}):
    ...     unit_of(12000.0, "N").name
    'kgf'
    """
    token = _asked_for.set(
        {core: sorted(units, key=lambda unit: unit.factor) for core, units in asked.items()}
    )
    try:
        yield
    finally:
        _asked_for.reset(token)


def unit_of(value: float, core: str) -> UnitShown:
    """Return the unit a value in a core unit is read in: the largest of which it is at least 1.

    >>> unit_of(12000.0, "N").name, unit_of(95.0, "N").name, unit_of(0.0064, "s").name
    ('kN', 'N', 'ms')
    """
    units = _asked_for.get().get(core) or USUAL.get(core) or (UnitShown(core, 1.0),)
    return next((unit for unit in units if abs(value) * unit.factor >= 1.0), units[-1])


def column_unit(core: str, usual: UnitShown) -> UnitShown:
    """Return the unit of a whole column: of those asked for the one nearest in size to the usual.

    >>> column_unit("N", UnitShown("kN", 1e-3)).name
    'kN'
    >>> with shown_in({"N": [UnitShown("lbf", 0.2248), UnitShown("kgf", 0.10197)]}):
    ...     column_unit("N", UnitShown("kN", 1e-3)).name
    'kgf'
    """
    asked = _asked_for.get().get(core)
    if not asked:
        return usual
    return min(asked, key=lambda unit: abs(log(unit.factor / usual.factor)))


def main_force_unit() -> UnitShown:
    """Return the unit of columns and axes of main forces.

    >>> main_force_unit().name
    'kN'
    """
    return column_unit("N", USUAL["N"][0])
