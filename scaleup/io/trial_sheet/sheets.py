"""The sheets of a trial workbook: tables to fill in, locked but for their blanks, and text."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import TYPE_CHECKING

from scaleup.io.csv_table import plain_text
from scaleup.io.trial_sheet.columns import SheetColumn, Value, shown_value

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell, MergedCell
    from openpyxl.worksheet.worksheet import Worksheet

BLANK = "FFF6D6"
"""Colour of what is to be filled in."""
A4 = 9
"""Code of the paper (ECMA-376)."""
PAGE = 150.0
"""Width of columns, in characters, that fits on one page in letters of about 8 points."""
FOOTER = 180
"""Characters of a footer; with its codes it may have 255 (ECMA-376)."""
LINE, LONGEST, DIGEST = 15.0, 90, 66
"""Height of a line of text in points, and how many characters of the plan, and of a fact of it,
stand on one."""
WIDE, NARROW, WORDS = 18.0, 13.0, 20.0
"""Widths of columns of short text, numbers and remarks, in characters."""


def write_table(
    sheet: Worksheet, columns: tuple[SheetColumn, ...], rows: Sequence[dict[str, Value]]
) -> None:
    """Write a table under its headings; what is filled in during the trial is coloured."""
    from openpyxl.utils import get_column_letter  # noqa: PLC0415  start-up stays quick

    for place, column in enumerate(columns, start=1):
        _heading(sheet, 1, place, column.heading)
        sheet.column_dimensions[get_column_letter(place)].width = _width(column)
        for line, row in enumerate(rows, start=2):
            value = shown_value(column, row.get(column.name))
            if isinstance(value, str):
                _text(sheet, line, place, value)
            elif value is not None:
                sheet.cell(line, place, value)
            if column.filled:
                _blank(sheet, line, place)
        _allow(sheet, column, get_column_letter(place), len(rows))
    sheet.row_dimensions[1].height = 3.0 * LINE  # no heading takes more lines
    sheet.freeze_panes = "B2"
    sheet.print_title_rows = "1:1"
    sheet.print_title_cols = "A:A"
    _protect_and_set_up(sheet, sum(map(_width, columns)))


def write_record(sheet: Worksheet, blanks: Sequence[str], facts: Sequence[tuple[str, str]]) -> None:
    """Write what is to be filled in of a trial once, and what is known of its plan."""
    sheet.column_dimensions["A"].width, sheet.column_dimensions["B"].width = 36, DIGEST + 4.0
    _heading(sheet, 1, 1, "fill in")
    for line, name in enumerate(blanks, start=2):
        _text(sheet, line, 1, name)
        _blank(sheet, line, 2)
    _heading(sheet, len(blanks) + 3, 1, "of the plan")
    for line, (name, fact) in enumerate(facts, start=len(blanks) + 4):
        _wrapped(_text(sheet, line, 1, name))
        _wrapped(_text(sheet, line, 2, fact))
        sheet.row_dimensions[line].height = max(_height(name, DIGEST // 2), _height(fact, DIGEST))
    sheet.freeze_panes = "A2"
    _protect_and_set_up(sheet)


def write_lines(sheet: Worksheet, lines: Sequence[str]) -> None:
    """Write lines of text; one that does not begin with a space is a heading."""
    sheet.column_dimensions["A"].width = LONGEST + 5.0
    for number, line in enumerate(lines, start=1):
        cell = _text(sheet, number, 1, line)
        _wrapped(cell)
        sheet.row_dimensions[number].height = _height(line, LONGEST)
        if not line.startswith(" "):
            _bold(cell)
    sheet.freeze_panes = "A2"
    _protect_and_set_up(sheet)


def write_footer(sheet: Worksheet, text: str) -> None:
    """Write what every printed page of a sheet carries, with its number."""
    footer = sheet.oddFooter
    if footer is None:
        raise RuntimeError("a new sheet has a footer")
    told = text if len(text) <= FOOTER else f"{text[: FOOTER - 1]}…"
    footer.left.text = told.replace("&", "&&")  # an ampersand begins a code
    footer.right.text = "&A, page &P of &N"
    footer.left.size = footer.right.size = 8


def _width(column: SheetColumn) -> float:
    if column.core or column.choices or column.name == "run":
        return NARROW
    return WORDS if column.filled else WIDE


def _heading(sheet: Worksheet, line: int, place: int, text: str) -> None:
    cell = _text(sheet, line, place, text)
    _bold(cell)
    _wrapped(cell)


def _height(text: str, letters: int) -> float:
    """Return the height in points of a row with a text of so many letters a line."""
    return LINE * max(ceil(len(text) / letters), 1)


def _bold(cell: Cell | MergedCell) -> None:
    from openpyxl.styles import Font  # noqa: PLC0415

    cell.font = Font(name=cell.font.name, size=cell.font.size, bold=True)


def _wrapped(cell: Cell | MergedCell) -> None:
    from openpyxl.styles import Alignment  # noqa: PLC0415

    cell.alignment = Alignment(wrap_text=True, vertical="top")


def _text(sheet: Worksheet, line: int, place: int, text: str) -> Cell | MergedCell:
    """Write a text that stays a text, whatever it begins with."""
    cell = sheet.cell(line, place)
    cell.value = text
    cell.data_type = "s"
    cell.quotePrefix = plain_text(text) != text
    return cell


def _blank(sheet: Worksheet, line: int, place: int) -> None:
    from openpyxl.styles import Border, PatternFill, Protection, Side  # noqa: PLC0415

    cell, thin = sheet.cell(line, place), Side("thin", color="999999")
    cell.fill = PatternFill("solid", fgColor=BLANK)
    cell.border = Border(left=thin, right=thin, top=thin, bottom=thin)
    cell.protection = Protection(locked=False)


def _allow(sheet: Worksheet, column: SheetColumn, letter: str, rows: int) -> None:
    """Say what may be typed: one of the choices, or a number; below 0 only a temperature."""
    from openpyxl.worksheet.datavalidation import DataValidation  # noqa: PLC0415

    if not column.filled or not rows or not (column.choices or column.core):
        return
    if column.choices:
        given = DataValidation("list", formula1=f'"{",".join(column.choices)}"')
        told = ", ".join(column.choices)
    else:
        least = -20 if column.name == "temperature" else 0
        given = DataValidation("decimal", operator="greaterThanOrEqual", formula1=str(least))
        told = f"a number, {least} or more"
    given.showErrorMessage = True
    given.error = f"{column.name}: {told}"
    sheet.add_data_validation(given)
    given.add(f"{letter}2:{letter}{rows + 1}")


def _protect_and_set_up(sheet: Worksheet, width: float = PAGE) -> None:
    """Lock what is no blank, and print on A4 so that text stays large enough to read."""
    from openpyxl.worksheet.properties import PageSetupProperties  # noqa: PLC0415

    sheet.protection.sheet = True
    sheet.page_setup.paperSize = A4
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = ceil(width / PAGE), 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
