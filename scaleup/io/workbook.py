"""The cells of an XLSX workbook, within bounds that are held while they are read."""

from __future__ import annotations

import io
import warnings
import zipfile
import zlib
from typing import TYPE_CHECKING, Any
from xml.etree.ElementTree import ParseError

from scaleup.errors import Fault, InputError
from scaleup.io.workbook_guard import refuse_bomb

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from openpyxl import Workbook
    from pandas import DataFrame

RUNS = "runs"
"""The sheet that is read where a workbook has several."""
LAST_ROW = 1 << 20
"""The format has no more rows (ECMA-376)."""
DAMAGED = (
    AttributeError,
    EOFError,
    IndexError,
    KeyError,
    NotImplementedError,
    OSError,
    ParseError,
    RuntimeError,
    TypeError,
    ValueError,
    zipfile.BadZipFile,
    zlib.error,
)
"""What reading a damaged workbook ends in: it is checked while it is turned into objects."""
ERRORS = ("#N/A", "#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#GETTING_DATA")
BLANKS = frozenset((*ERRORS, "NA", "N/A", "n/a", "NaN", "nan", "NULL", "null", "None"))
"""Texts of a cell that stand for nothing: errors of a formula, and words for what is not known."""
WHOLE = 1e15
"""Below this a number without decimals is a whole number."""


def workbook_frames(
    data: bytes, shown: str, rows: int, columns: int, name: str = RUNS
) -> tuple[DataFrame, DataFrame]:
    """Return the cells of one sheet of a workbook as two frames.

    The sheet is the one so called; of a workbook with one sheet, that one is taken for the runs.

    The first has the values that formulas gave, the second the formulas; a blank cell is None.

    Raises
    ------
    InputError
        If it is no workbook or too large, has no such sheet, or has a cell that is not blank beyond
        so many rows and columns, which is found before a frame is built.
    """
    try:
        refuse_bomb(data, shown)
        both = [
            _frame(data, shown, name, (rows, columns), values=values) for values in (True, False)
        ]
        return both[0], both[1]
    except DAMAGED:
        raise InputError(_damaged(shown)) from None


def sheet_names(data: bytes, shown: str) -> tuple[str, ...]:
    """Return the names of the sheets of a workbook.

    Raises
    ------
    InputError
        If it is no workbook, or too large.
    """
    from openpyxl import load_workbook  # noqa: PLC0415  start-up stays quick

    try:
        refuse_bomb(data, shown)
        book = load_workbook(io.BytesIO(data), read_only=True, keep_links=False)
        try:
            return tuple(sheet.title for sheet in book.worksheets)
        finally:
            book.close()
    except DAMAGED:
        raise InputError(_damaged(shown)) from None


def _damaged(shown: str) -> Fault:
    told, mend = "an XLSX workbook", "Save it again as XLSX, or as CSV."
    return Fault(shown, "", "no XLSX workbook", told, mend)


def _frame(
    data: bytes, shown: str, name: str, bounds: tuple[int, int], *, values: bool
) -> DataFrame:
    import pandas as pd  # noqa: PLC0415  start-up stays quick
    from openpyxl import load_workbook  # noqa: PLC0415

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # styles that do not matter here
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=values, keep_links=False)
        try:
            sheet = book[_sheet_name(book, name, shown)]
            sheet.reset_dimensions()  # the file may state any
            cells = list(_bounded(sheet.iter_rows(values_only=True), bounds, shown))
        finally:
            book.close()
    width = max(map(len, cells), default=0)
    return pd.DataFrame([row + [None] * (width - len(row)) for row in cells], dtype=object)


def _sheet_name(book: Workbook, name: str, shown: str) -> str:
    names = [sheet.title for sheet in book.worksheets]
    if len(names) == 1 and name == RUNS:
        return names[0]
    found = next((each for each in names if each.lower() == name), None)
    if found is None:
        told = f"{len(names)} sheets, none of them called {name}"
        raise InputError(Fault(shown, "", told, f"one sheet, or a sheet called {name}"))
    return found


def _bounded(
    rows: Iterable[Sequence[Any]], bounds: tuple[int, int], shown: str
) -> Iterable[list[Any]]:
    """Yield rows without the blank cells at their ends, and blank rows only where others follow."""
    blank = 0
    for number, row in enumerate(rows, start=1):
        cells = _trimmed(row)
        if not cells:
            blank += 1
            if number > LAST_ROW:
                raise ValueError(number)
            continue
        if number > bounds[0] or len(cells) > bounds[1]:
            raise InputError(_far(number, len(cells), bounds, shown))
        yield from ([] for _ in range(blank))
        blank = 0
        yield cells


def _trimmed(row: Sequence[Any]) -> list[Any]:
    end = len(row)
    while end and _plain(row[end - 1]) is None:
        end -= 1
    return [_plain(cell) for cell in row[:end]]


def _plain(cell: Any) -> Any:
    """Return a cell, None if nothing stands in it."""
    if isinstance(cell, str):
        return None if cell in BLANKS or not cell.strip() else cell
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < WHOLE:
        return int(cell)
    return cell


def _far(row: int, column: int, bounds: tuple[int, int], shown: str) -> Fault:
    from openpyxl.utils import get_column_letter  # noqa: PLC0415

    where = f"cell {get_column_letter(column)}{row}"
    allowed = f"cells in up to {bounds[0]} rows and {bounds[1]} columns"
    return Fault(shown, where, "a cell beyond any table", allowed, "Clear what lies there.")
