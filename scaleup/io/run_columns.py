"""The columns of a run table: heading, field, core unit, and what no tablet can have."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple, get_args

from scaleup.model.fields import annotations_of
from scaleup.model.run import Run


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

WORDS = ("run", "press", "tablets", "note", "record", "compression")
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
    "press": "machine",
    "record": "log, log file",
}
"""What else the trade calls a column."""

COMMON_NAMES = {each: column for column, names in ALSO_CALLED.items() for each in names.split(", ")}
