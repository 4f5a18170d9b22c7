"""A DataFrame of runs as the table of cells that a file would give."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, TypeGuard

from scaleup.conversion import has_units, in_core
from scaleup.errors import Fault, InputError
from scaleup.io.run_columns import MEASURED
from scaleup.io.sheets import Row, Sheet
from scaleup.io.units import EXPECTED, split_heading
from scaleup.text import printable

if TYPE_CHECKING:
    from pandas import DataFrame


def is_frame(runs: object) -> TypeGuard[DataFrame]:
    """Return whether something is a DataFrame, asked without loading pandas."""
    return any(kind.__name__ == "DataFrame" for kind in type(runs).__mro__)


def sheet_of(frame: DataFrame, shown: str) -> Sheet:
    """Return the cells of a frame; ``shown`` names it in a fault.

    A heading carries its unit in square brackets as in a file, or the cells of its column are
    quantities of a units library. Rows are counted from 1.

    Raises
    ------
    InputError
        If the frame has no rows, or a quantity does not convert.
    """
    faults: list[Fault] = []
    headings, columns = [], []
    for heading, column in frame.items():
        head, cells = _column(str(heading), column.tolist(), shown, faults)
        headings.append(head)
        columns.append(cells)
    if not len(frame):
        faults.append(Fault(shown, "", "no rows", "a row for each run"))
    if faults:
        raise InputError(faults)
    rows = tuple(Row(number, cells) for number, cells in enumerate(zip(*columns, strict=True), 1))
    return Sheet(tuple(headings), 0, rows, counted="row")


def _column(
    heading: str, cells: Sequence[Any], shown: str, faults: list[Fault]
) -> tuple[str, list[Any]]:
    """Return a column as a file would have it: numbers in the unit of the heading, blanks None."""
    plain = [None if _blank(cell) else cell for cell in cells]
    name, _ = split_heading(heading)
    known = MEASURED.get(name)
    if known is None or not any(has_units(cell) for cell in plain):
        return heading, plain
    numbers: list[float | None] = []
    for row, cell in enumerate(plain, start=1):
        try:
            numbers.append(None if cell is None else _number(name, cell, known.unit))
        except ValueError:
            noun = EXPECTED[known.unit][0]
            where = f"row {row}, column {name}"
            faults.append(Fault(shown, where, printable(str(cell)), f"{noun}, with its unit"))
            numbers.append(None)
    return f"{name} [{known.unit}]", numbers


def _number(name: str, cell: Any, unit: str) -> float:
    if not has_units(cell):
        raise ValueError("a number without a unit among quantities")
    return float(in_core(name, cell, (unit,)))


def _blank(cell: Any) -> bool:
    """Return whether a cell is empty: None, not-a-number, a missing value, or blanks."""
    if cell is None or (isinstance(cell, str) and not cell.strip()):
        return True
    return (not has_units(cell) and type(cell).__name__ in ("NAType", "NaTType")) or cell != cell  # noqa: PLR0124
