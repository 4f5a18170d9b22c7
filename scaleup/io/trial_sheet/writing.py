"""Writes a trial sheet as CSV and as a workbook."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from scaleup.io.csv_table import csv_table, plain_text
from scaleup.io.trial_sheet.columns import RUN_COLUMNS as COLUMNS
from scaleup.io.trial_sheet.columns import RUNS as SHEET
from scaleup.io.trial_sheet.columns import Value, shown_value
from scaleup.io.workbook_writing import workbook_bytes

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet


def csv_sheet(rows: Sequence[dict[str, Value]], head: Sequence[str]) -> str:
    """Return the sheet as CSV; `head` are lines of comment above it."""
    cells = [[shown_value(column, row.get(column.name)) for column in COLUMNS] for row in rows]
    return csv_table([column.heading for column in COLUMNS], cells, head)


def xlsx_sheet(rows: Sequence[dict[str, Value]], pages: dict[str, Sequence[str]]) -> bytes:
    """Return the sheet as a workbook: the runs, locked but for the blanks, and pages of text."""
    from openpyxl import Workbook  # noqa: PLC0415  start-up stays quick

    book = Workbook()
    sheet = book.active
    if sheet is None:
        raise RuntimeError("a new workbook has a sheet")
    sheet.title = SHEET
    _write_runs(sheet, rows)
    for title, lines in pages.items():
        page = book.create_sheet(title)
        page.column_dimensions["A"].width = 110
        for number, line in enumerate(lines, start=1):
            _text(page, number, 1, line)
        page.protection.sheet = True
    return workbook_bytes(book)


def _write_runs(sheet: Worksheet, rows: Sequence[dict[str, Value]]) -> None:
    from openpyxl.styles import Alignment, Font, PatternFill, Protection  # noqa: PLC0415
    from openpyxl.utils import get_column_letter  # noqa: PLC0415
    from openpyxl.worksheet.properties import PageSetupProperties  # noqa: PLC0415

    blank = PatternFill("solid", fgColor="FFF6D6")
    for place, column in enumerate(COLUMNS, start=1):
        head = sheet.cell(1, place, column.heading)
        head.font, head.alignment = Font(bold=True), Alignment(wrap_text=True, vertical="top")
        sheet.column_dimensions[get_column_letter(place)].width = 16 if column.core else 18
        for line, row in enumerate(rows, start=2):
            value = shown_value(column, row.get(column.name))
            if isinstance(value, str):
                _text(sheet, line, place, value)
            elif value is not None:
                sheet.cell(line, place, value)
            if column.filled:
                cell = sheet.cell(line, place)
                cell.fill, cell.protection = blank, Protection(locked=False)
    _choices(sheet, len(rows))
    sheet.freeze_panes = "B2"
    sheet.protection.sheet = True
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)


def _text(sheet: Worksheet, line: int, place: int, text: str) -> None:
    """Write a text that stays a text, whatever it begins with."""
    cell = sheet.cell(line, place)
    cell.value = text
    cell.data_type = "s"
    cell.quotePrefix = plain_text(text) != text


def _choices(sheet: Worksheet, rows: int) -> None:
    from openpyxl.utils import get_column_letter  # noqa: PLC0415
    from openpyxl.worksheet.datavalidation import DataValidation  # noqa: PLC0415

    for place, column in enumerate(COLUMNS, start=1):
        letter = get_column_letter(place)
        cells = f"{letter}2:{letter}{rows + 1}"
        if column.choices:
            given = DataValidation("list", formula1=f'"{",".join(column.choices)}"')
        elif column.filled and column.core:
            given = DataValidation("decimal", operator="greaterThanOrEqual", formula1="0")
        else:
            continue
        given.showErrorMessage = True
        given.error = f"{column.name}: {', '.join(column.choices) or 'a number, 0 or more'}"
        sheet.add_data_validation(given)
        given.add(cells)
