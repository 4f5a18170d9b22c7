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
    data: bytes, shown: str, rows: int, columns: int
) -> tuple[DataFrame, DataFrame]:
    """Return the cells of a workbook's one sheet, or of the one called runs, as two frames.

    The first has the values that formulas gave, the second the formulas; a blank cell is None.

    Raises
    ------
    InputError
        If it is no workbook or too large, has no such sheet, or has a cell that is not blank beyond
        so many rows and columns, which is found before a frame is built.
    """
    try:
        refuse_bomb(data, shown)
        values = _frame(data, shown, (rows, columns), values=True)
        return values, _frame(data, shown, (rows, columns), values=False)
    except DAMAGED:
        told, mend = "an XLSX workbook", "Save it again as XLSX, or as CSV."
        raise InputError(Fault(shown, "", "no XLSX workbook", told, mend)) from None


def _frame(data: bytes, shown: str, bounds: tuple[int, int], *, values: bool) -> DataFrame:
    import pandas as pd  # noqa: PLC0415  start-up stays quick
    from openpyxl import load_workbook  # noqa: PLC0415

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # styles that do not matter here
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=values, keep_links=False)
        try:
            sheet = book[_sheet_name(book, shown)]
            sheet.reset_dimensions()  # the file may state any
            cells = list(_bounded(sheet.iter_rows(values_only=True), bounds, shown))
        finally:
            book.close()
    width = max(map(len, cells), default=0)
    return pd.DataFrame([row + [None] * (width - len(row)) for row in cells], dtype=object)


def _sheet_name(book: Workbook, shown: str) -> str:
    names = [sheet.title for sheet in book.worksheets]
    if len(names) == 1:
        return names[0]
    runs = [name for name in names if name.lower() == "runs"]
    if not runs:
        found = f"{len(names)} sheets, none of them called runs"
        raise InputError(Fault(shown, "", found, "one sheet, or a sheet called runs"))
    return runs[0]


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
