"""Tables of cells from CSV and XLSX files, before anyone asks what the cells mean."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from scaleup.errors import Fault, InputError
from scaleup.io.reading_gate import read_bytes
from scaleup.io.toml import decoded
from scaleup.io.workbook import RUNS, sheet_names, workbook_frames
from scaleup.text import LARGE, NUMBER

if TYPE_CHECKING:
    from pathlib import Path

SIZE_LIMIT = 5_000_000
ROW_LIMIT = 10_000
COLUMN_LIMIT = 100


@dataclass(frozen=True)
class UnreadFormula:
    """A cell that holds a formula without the value it gave."""

    formula: str


@dataclass(frozen=True)
class Row:
    """The cells of one line of a file; a blank cell is None, a CSV cell is text."""

    line: int
    cells: tuple[Any, ...]


@dataclass(frozen=True)
class Sheet:
    """Headings, and the rows under them, all of the same width."""

    headings: tuple[str, ...]
    line: int
    """Of the headings; 0 where they stand on none."""
    rows: tuple[Row, ...]
    comma_may_be_decimal: bool = False
    counted: str = "line"
    """What a row is told as in a fault."""

    def decimal_of(self, places: Iterable[int]) -> str:
        """Return the decimal sign of some columns; a comma needs semicolons between the cells."""
        if not self.comma_may_be_decimal:
            return "."
        kept = tuple(places)
        cells = (str(row.cells[place]) for row in self.rows for place in kept)
        return "," if any("," in cell for cell in cells if NUMBER.fullmatch(cell)) else "."


def number_of(cell: Any, decimal: str) -> float | None:
    """Return the number in a cell, None if it holds none, or one with the other decimal sign.

    >>> number_of("6,5", ","), number_of("6,5", "."), number_of(True, ".")
    (6.5, None, None)
    """
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        return float(cell) if abs(cell) < LARGE else None
    other = "." if decimal == "," else ","
    if isinstance(cell, str) and NUMBER.fullmatch(cell) and other not in cell:
        return float(cell.replace(",", "."))
    return None


def read_sheet(path: Path, shown: str, limit: int = ROW_LIMIT) -> Sheet:
    """Return the table of a CSV or XLSX file, which has no more rows than the limit.

    Raises
    ------
    InputError
        If the file cannot be read, is too large, is empty, or its rows differ in width.
    """
    suffix = path.suffix.lower()
    if suffix not in (".csv", ".xlsx"):
        found = f'the ending "{path.suffix}"'
        raise InputError(Fault(shown, "", found, "a table ending in .csv or .xlsx"))
    data = read_bytes(path, shown, SIZE_LIMIT)
    csv_file = suffix == ".csv"
    rows, semicolons = _read_csv(data, shown) if csv_file else _read_xlsx(data, shown, limit)
    if len(rows) < 2:
        found = "no rows" if rows else "an empty table"
        raise InputError(Fault(shown, "", found, "a line of headings and at least one row"))
    return _within_bounds(rows, semicolons, shown, limit)


def read_further_sheet(path: Path, shown: str, name: str, limit: int) -> Sheet | None:
    """Return another sheet of an XLSX file, None if it is not there or has no rows.

    Raises
    ------
    InputError
        As `read_sheet` does.
    """
    data = read_bytes(path, shown, SIZE_LIMIT)
    if name not in (each.lower() for each in sheet_names(data, shown)):
        return None
    rows, semicolons = _read_xlsx(data, shown, limit, name)
    return _within_bounds(rows, semicolons, shown, limit) if len(rows) > 1 else None


def _within_bounds(rows: list[Row], semicolons: bool, shown: str, limit: int) -> Sheet:
    if len(rows) - 1 > limit or len(rows[0].cells) > COLUMN_LIMIT:
        found = f"{len(rows) - 1} rows and {len(rows[0].cells)} columns"
        allowed = f"up to {limit} rows and {COLUMN_LIMIT} columns"
        raise InputError(Fault(shown, "", found, allowed))
    return _sheet(rows, semicolons, shown)


def _sheet(rows: list[Row], semicolons: bool, shown: str) -> Sheet:
    head, body = rows[0], rows[1:]
    width = len(head.cells)
    uneven: dict[int, list[Row]] = {}
    for row in body:
        if len(row.cells) != width:
            uneven.setdefault(len(row.cells), []).append(row)
    if uneven:
        raise InputError(_uneven(rows, width, shown) for rows in uneven.values())
    used = [
        index
        for index in range(width)
        if head.cells[index] is not None or any(row.cells[index] is not None for row in body)
    ]
    headings = tuple("" if head.cells[i] is None else str(head.cells[i]) for i in used)
    kept = tuple(Row(row.line, tuple(row.cells[i] for i in used)) for row in body)
    return Sheet(headings, head.line, kept, semicolons)


def _uneven(rows: list[Row], width: int, shown: str) -> Fault:
    """Return the fault of rows that all have the same other number of cells than headings."""
    found, more = len(rows[0].cells), len(rows) - 1
    also = {0: "", 1: " and 1 more line"}.get(more, f" and {more} more lines")
    return Fault(
        shown,
        f"line {rows[0].line}{also}",
        "1 cell" if found == 1 else f"{found} cells",
        f"{width} cells, one for each heading",
        "Part the cells by semicolons if you write a decimal comma."
        if found > width
        else "Leave a cell empty where nothing is known.",
    )


def _read_csv(data: bytes, shown: str) -> tuple[list[Row], bool]:
    lines = [
        (number, line)
        for number, line in enumerate(re.split("\r\n|\r|\n", decoded(data, shown)), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    semicolons = bool(lines) and ";" in lines[0][1]
    rows = [_csv_row(number, line, ";" if semicolons else ",", shown) for number, line in lines]
    return [row for row in rows if any(cell is not None for cell in row.cells)], semicolons


def _csv_row(number: int, line: str, delimiter: str, shown: str) -> Row:
    try:
        cells = next(csv.reader([line], delimiter=delimiter, strict=True, skipinitialspace=True))
    except csv.Error as error:
        allowed = "cells whose quotation marks are closed on the same line"
        found = f"a line that cannot be parted into cells ({error})"
        raise InputError(Fault(shown, f"line {number}", found, allowed)) from None
    return Row(number, tuple(cell.strip() or None for cell in cells))


def _read_xlsx(data: bytes, shown: str, limit: int, name: str = RUNS) -> tuple[list[Row], bool]:
    values, formulas = workbook_frames(data, shown, limit + 1, COLUMN_LIMIT, name)
    values = values.reindex_like(formulas)
    pairs = zip(values.to_numpy().tolist(), formulas.to_numpy().tolist(), strict=True)
    rows = [
        Row(number, tuple(_cell(value, formula) for value, formula in zip(*pair, strict=True)))
        for number, pair in enumerate(pairs, start=1)
    ]
    return [row for row in rows if any(cell is not None for cell in row.cells)], False


def _cell(value: Any, formula: Any) -> Any:
    if value is None or value != value:  # noqa: PLR0124  a blank cell is NaN
        is_formula = isinstance(formula, str) and formula.startswith("=")
        return UnreadFormula(formula) if is_formula else None
    return (value.strip() or None) if isinstance(value, str) else value
