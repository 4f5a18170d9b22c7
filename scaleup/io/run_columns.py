"""The columns of a run table: heading, field, core unit, and what no tablet can have."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Column:
    """A measured column; ``least`` and ``most`` are the bounds of sense, in the core unit."""

    field: str
    unit: str
    least: float
    most: float
    example: str
    zero: bool = False
    """Whether 0 is a value of its own, below ``least``."""


MEASURED: dict[str, Column] = {
    "force": Column("force", "N", 10.0, 1e6, "kN"),
    "hold": Column("hold", "s", 1e-4, 36000.0, "s", zero=True),
    "loading rate": Column("loading_rate", "N/s", 1.0, 1e8, "kN/s"),
    "speed": Column("speed", "rpm", 1e-3, 1e3, "rpm"),
    "precompression": Column("precompression", "N", 10.0, 1e6, "kN", zero=True),
    "weight": Column("weight", "mg", 1.0, 50e3, "mg"),
    "thickness": Column("thickness", "mm", 0.1, 50.0, "mm"),
    "in-die thickness": Column("in_die_thickness", "mm", 0.1, 50.0, "mm"),
    "diameter": Column("diameter", "mm", 0.5, 60.0, "mm"),
    "breaking force": Column("breaking_force", "N", 0.1, 5e3, "N"),
    "ejection force": Column("ejection_force", "N", 0.1, 1e5, "N"),
    "fill depth": Column("fill_depth", "mm", 0.1, 150.0, "mm"),
}
"""Heading without its unit: what the column holds."""

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
