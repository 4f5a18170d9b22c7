"""The columns of a run table, and what a heading that no column has was meant to be."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from typing import NamedTuple, get_args

from scaleup.io.units import UnitFault, factor, split_heading
from scaleup.model.checked import annotations_of
from scaleup.model.run import Run
from scaleup.text import CLOSE, meant, printable


class Column(NamedTuple):
    """A measured column; ``least`` and ``most`` are the bounds of sense, in the core unit."""

    field: str
    unit: str
    least: float
    most: float
    example: str
    zero: bool
    """Whether 0 is a value of its own, below ``least``."""


def _measured() -> Iterator[tuple[str, Column]]:
    for name, annotation in annotations_of(Run).items():
        for part in (annotation, *get_args(annotation)):
            for mark in getattr(part, "__metadata__", ()):
                heading = name.replace("in_die", "in-die").replace("_", " ")
                yield (
                    heading,
                    Column(name, mark.unit, mark.least, mark.most, mark.example, mark.zero),
                )


MEASURED: dict[str, Column] = dict(_measured())
"""Heading without its unit: what the column holds, as the fields of a run say."""

WORDS = (
    "run", "press", "made on", "trial", "tablets", "batch", "revolutions", "seen", "note",
    "record", "compression",
)  # fmt: skip
"""Headings that take no unit."""

ALSO_CALLED = {
    "breaking force": "hardness, tablet hardness, crushing strength, crushing force, "
    "breaking load, breaking strength, tensile strength",
    "force": "compression force, compaction force, main force, main compression force, peak force, "
    "load, pressure, compression pressure, punch force, upper punch force",
    "thickness": "height, tablet height, tablet thickness",
    "in-die thickness": "in die thickness, in-die height, in die height",
    "weight": "mass, tablet weight, tablet mass",
    "hold": "hold time, holding time, dwell, dwell time",
    "loading rate": "rate, force rate, compression rate",
    "speed": "turret speed, stroke rate, press speed",
    "precompression": "pre-compression, pre compression, precompression force, "
    "pre-compression force",
    "diameter": "tablet diameter",
    "ejection force": "ejection",
    "fill depth": "filling depth, fill height, die fill",
    "run": "sample, condition, batch, id, run name, name, run no",
    "tablets": "n, replicates, number of tablets",
    "note": "notes, comment, comments, remark, remarks",
    "lower punch force": "lower force, force below, lower compression force",
    "batch": "lot, blend batch, batch no, lot no",
    "seen": "defects, defect, observations, appearance",
    "weight standard deviation": "weight sd, sd weight",
    "thickness standard deviation": "thickness sd, sd thickness",
    "breaking force standard deviation": "breaking force sd, hardness sd",
    "force standard deviation": "force sd, compression force sd",
    "elapsed": "elapsed time, time since start, time",
    "revolutions": "turns, blender turns, blender revolutions, blend revolutions",
    "press": "machine",
    "record": "log, log file",
}
"""What else the trade calls a column."""

COMMON_NAMES = {each: column for column, names in ALSO_CALLED.items() for each in names.split(", ")}

_WITH_UNIT = re.compile(r"(?P<name>.*?[^\s(,/_:-])[\s(,/_:-]+(?P<unit>[^\s()]+?)\)?\s*")
BRACKETS = "the unit stands in square brackets."


def heading_meant(
    heading: str, known: Collection[str] | None = None, close_from: float = CLOSE
) -> str:
    """Return a sentence with the heading that was meant, empty if none is close.

    `known` are the columns a table may have, without their units; those of a run table if absent.

    >>> heading_meant("Force (kgf)")
    'Write "force [kgf]": the unit stands in square brackets.'
    >>> heading_meant("hardness [kp]"), heading_meant("thicknes")
    ('Write "breaking force [kp]".', 'Did you mean thickness or in-die thickness?')
    """
    name, unit = split_heading(heading)
    names = (*WORDS, *MEASURED) if known is None else known
    column = COMMON_NAMES.get(_tidy(name))
    column = column if column in names else None
    if column is not None and unit and _measures(unit, column):
        return f'Write "{column} [{printable(unit)}]".'
    if column is not None:
        return f"Did you mean {_written(column)}?"
    return _unbracketed(heading, names) or meant(_tidy(name), names, close_from)


def _unbracketed(heading: str, names: Collection[str]) -> str:
    """Return the heading with its unit in brackets, empty if it ends in no unit of a column."""
    match = _WITH_UNIT.fullmatch(heading.strip())
    if match is None:
        return ""
    name = _tidy(match["name"])
    column = COMMON_NAMES.get(name, name)
    if column not in names:
        return ""
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
