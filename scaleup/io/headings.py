"""What a heading that no column has was meant to be."""

from __future__ import annotations

import re

from scaleup.io.run_columns import COMMON_NAMES, MEASURED, WORDS
from scaleup.io.units import UnitFault, factor, split_heading
from scaleup.text import meant, printable

_WITH_UNIT = re.compile(r"(?P<name>.*?[^\s(,/_:-])[\s(,/_:-]+(?P<unit>[^\s()]+?)\)?\s*")
BRACKETS = "the unit stands in square brackets."


def heading_meant(heading: str) -> str:
    """Return a sentence with the heading that was meant, empty if none is close.

    >>> heading_meant("Force (kgf)")
    'Write "force [kgf]": the unit stands in square brackets.'
    >>> heading_meant("hardness [kp]"), heading_meant("thicknes")
    ('Write "breaking force [kp]".', 'Did you mean thickness or in-die thickness?')
    """
    name, unit = split_heading(heading)
    column = COMMON_NAMES.get(_tidy(name))
    if column is not None and unit and _measures(unit, column):
        return f'Write "{column} [{printable(unit)}]".'
    if column is not None:
        return f"Did you mean {_written(column)}?"
    return _unbracketed(heading) or meant(_tidy(name), (*WORDS, *MEASURED))


def _unbracketed(heading: str) -> str:
    """Return the heading with its unit in brackets, empty if it ends in no unit of a column."""
    match = _WITH_UNIT.fullmatch(heading.strip())
    if match is None:
        return ""
    name = _tidy(match["name"])
    column = COMMON_NAMES.get(name, name)
    if column in MEASURED and _measures(match["unit"], column):
        return f'Write "{column} [{match["unit"]}]": {BRACKETS}'
    if column in MEASURED and "(" in heading:
        return f"Write {_written(column)}: {BRACKETS}"
    return ""


def _tidy(name: str) -> str:
    return " ".join(name.lower().replace("_", " ").split())


def _written(column: str) -> str:
    known = MEASURED.get(column)
    return column if known is None else f'"{column} [{known.example}]"'


def _measures(unit: str, column: str) -> bool:
    if column not in MEASURED:
        return False
    try:
        factor(unit, MEASURED[column].unit)
    except UnitFault:
        return False
    return True
