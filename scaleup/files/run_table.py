"""The run table: one row for each compressed tablet, or for the mean of a few."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from pathlib import Path

PressName = Literal["lab", "production"]


@dataclass(frozen=True)
class Run:
    """One row of a run table in mm, N, s, mg and rpm; what is blank in the table is None."""

    name: str
    force: float
    press: PressName = "lab"
    hold: float | None = None
    loading_rate: float | None = None
    speed: float | None = None
    precompression: float | None = None
    weight: float | None = None
    thickness: float | None = None
    in_die_thickness: float | None = None
    diameter: float | None = None
    breaking_force: float | None = None
    ejection_force: float | None = None
    fill_depth: float | None = None
    tablets: int = 1
    """How many tablets the row is the mean of."""
    note: str = ""
    record: str = ""
    """File of a force log beside the study; empty if none was logged."""
    compression: int | None = None
    """Which compression of the log, counted from 1; None if it has only one."""
    line: int = 0
    """Line of the file, counted from 1."""


def read_runs(path: Path, shown: str = "") -> tuple[Run, ...]:
    """Return the runs of a CSV or XLSX table; ``shown`` is the file's name in a fault.

    A heading carries its unit in square brackets, such as ``force [kN]``. CSV cells are parted by
    commas, or by semicolons, which also allow a decimal comma; lines that start with ``#`` are
    comments. An XLSX file has one sheet, or one called ``runs``.

    Raises
    ------
    InputError
        With every fault found, by line and column.
    """
    from scaleup.files.run_rows import runs_from  # noqa: PLC0415  a row reader needs Run
    from scaleup.files.sheets import read_sheet  # noqa: PLC0415

    shown = shown or path.name
    return runs_from(read_sheet(path, shown), shown)


def heading_units(path: Path, shown: str = "") -> tuple[str, ...]:
    """Return the units in the headings of a run table, each once, in their order.

    >>> from pathlib import Path
    >>> heading_units(Path("examples/marram/runs.csv"))
    ('kN', 's', 'mg', 'mm', 'N')

    Raises
    ------
    InputError
        If the table cannot be read.
    """
    from scaleup.files.sheets import read_sheet  # noqa: PLC0415
    from scaleup.files.units import split_heading  # noqa: PLC0415

    units = [split_heading(each)[1] for each in read_sheet(path, shown or path.name).headings]
    return tuple(unit for unit in dict.fromkeys(units) if unit)
