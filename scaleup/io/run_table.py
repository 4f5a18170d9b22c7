"""The run table: one row for each compressed tablet, or for the mean of a few."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from scaleup.model.run import Run


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
    from scaleup.io.run_rows import runs_from  # noqa: PLC0415  a row reader needs Run
    from scaleup.io.sheets import read_sheet  # noqa: PLC0415

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
    from scaleup.io.sheets import read_sheet  # noqa: PLC0415
    from scaleup.io.units import split_heading  # noqa: PLC0415

    units = [split_heading(each)[1] for each in read_sheet(path, shown or path.name).headings]
    return tuple(unit for unit in dict.fromkeys(units) if unit)
