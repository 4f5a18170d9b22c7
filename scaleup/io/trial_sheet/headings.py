"""The headings of a filled table: its columns, and those that somebody added."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scaleup.io.run_columns import heading_meant
from scaleup.io.trial_sheet.columns import SheetColumn
from scaleup.io.units import UnitFault, factor, split_heading
from scaleup.text import has_control, printable

DEGREES = "°C"
AS_DEGREES = (DEGREES, "C", "ºC", "degC")
"""How a temperature may be headed; it is not converted."""

SURE = 0.72
"""From which likeness on a heading is a column misspelt and not one that somebody added (a
judgement of this program)."""
OTHERWISE = " If it is another figure, give it a heading less like it."


@dataclass(frozen=True)
class Head:
    """What a heading stands for: a column of the table, or one that somebody added."""

    heading: str
    column: SheetColumn | None = None
    size: float = 1.0
    """What one of its unit is in the core unit; not-a-number where the heading lacks it."""


@dataclass(frozen=True)
class HeadingFault(Exception):  # noqa: N818  named after the fault it becomes
    """A heading that is surely meant otherwise."""

    found: str
    allowed: str
    mend: str = ""


def head_of(heading: str, known: dict[str, SheetColumn]) -> Head:
    """Return what a heading stands for; `known` are the columns by their names in small letters.

    A heading that no column is near to is an added one and kept.

    Raises
    ------
    HeadingFault
        If it is a column misspelt, or has a unit of another kind.
    """
    name, unit = split_heading(heading)
    column = known.get(name)
    if column is None:
        return _added(heading, known)
    return Head(heading, column, _size(column, unit))


def _added(heading: str, known: dict[str, SheetColumn]) -> Head:
    if not heading.strip() or has_control(heading):
        raise HeadingFault(f'the heading "{printable(heading)}"', "a heading above every column")
    mend = heading_meant(heading, known, SURE)
    if mend:
        mend += OTHERWISE if mend.endswith("?") else ""
        raise HeadingFault(
            f'the unknown heading "{printable(heading)}"', "a heading of the sheet", mend
        )
    return Head(heading.strip())


def _size(column: SheetColumn, unit: str) -> float:
    if not column.core or not column.unit or (column.core == DEGREES and unit in AS_DEGREES):
        return 1.0
    if not unit:
        return math.nan
    try:
        if column.core != DEGREES:
            return factor(unit, column.core)
        found = f'"{printable(unit)}"'
    except UnitFault as error:
        found = error.found
    raise HeadingFault(found, f'a unit such as "{column.heading}"')
