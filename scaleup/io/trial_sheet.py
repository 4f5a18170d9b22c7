"""The trial sheet: the planned runs with what they are predicted to give, and blanks to fill in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from scaleup.errors import Fault, InputError
from scaleup.io.csv_table import csv_table, original_text, plain_text
from scaleup.io.run_columns import MEASURED
from scaleup.io.sheets import Row, Sheet, UnreadFormula, number_of, read_sheet
from scaleup.io.units import UnitFault, factor, split_heading
from scaleup.io.workbook_writing import workbook_bytes
from scaleup.text import LARGE, has_control, meant, printable

if TYPE_CHECKING:
    from pathlib import Path

    from openpyxl.worksheet.worksheet import Worksheet

SHEET = "runs"
YES_NO = ("no", "yes")


@dataclass(frozen=True)
class SheetColumn:
    """One column of the sheet."""

    name: str
    unit: str
    """The unit as shown, "" if the column has none."""
    core: str
    """The core unit, "" for text."""
    filled: bool
    """Whether it is filled in during the trial."""
    choices: tuple[str, ...] = ()

    @property
    def heading(self) -> str:
        """Return name and unit."""
        return f"{self.name} [{self.unit}]" if self.unit else self.name


def _predicted(name: str, unit: str, core: str) -> tuple[SheetColumn, ...]:
    return tuple(
        SheetColumn(f"{end} {name}", unit, core, filled=False)
        for end in ("predicted", "lowest", "highest")
    )


COLUMNS: tuple[SheetColumn, ...] = (
    SheetColumn("run", "", "", filled=False),
    SheetColumn("purpose", "", "", filled=False),
    SheetColumn("study", "", "", filled=False),
    SheetColumn("press", "", "", filled=False),
    SheetColumn("planned speed", "rpm", "rpm", filled=False),
    SheetColumn("planned force", "kN", "N", filled=False),
    SheetColumn("planned precompression", "kN", "N", filled=False),
    SheetColumn("tablets to sample", "", "1", filled=False),
    *_predicted("thickness", "mm", "mm"),
    *_predicted("breaking force", "N", "N"),
    *_predicted("ejection force", "N", "N"),
    SheetColumn("speed", "rpm", "rpm", filled=True),
    SheetColumn("force", "kN", "N", filled=True),
    SheetColumn("precompression", "kN", "N", filled=True),
    SheetColumn("tablets", "", "1", filled=True),
    SheetColumn("weight", "mg", "mg", filled=True),
    SheetColumn("thickness", "mm", "mm", filled=True),
    SheetColumn("breaking force", "N", "N", filled=True),
    SheetColumn("ejection force", "N", "N", filled=True),
    SheetColumn("friability", "%", "1", filled=True),
    SheetColumn("capping seen", "", "", filled=True, choices=YES_NO),
    SheetColumn("note", "", "", filled=True),
)
"""Every column in order; what is predicted is of the mean of the tablets sampled, and its lowest
and highest are the action limits."""
BY_NAME = {column.name: column for column in COLUMNS}

Value = float | int | str | None


@dataclass(frozen=True)
class SheetRow:
    """One run of a sheet as read, in core units; what was left blank is None."""

    line: int
    values: dict[str, Value]

    def number(self, name: str) -> float | None:
        """Return a number of the row."""
        value = self.values.get(name)
        return value if isinstance(value, float) else None

    def text(self, name: str) -> str:
        """Return a text of the row, "" where blank."""
        value = self.values.get(name)
        return value if isinstance(value, str) else ""


def shown_value(column: SheetColumn, value: Value) -> Value:
    """Return a core value in the unit of its column, rounded to what a sheet needs."""
    if not isinstance(value, float):
        return value
    if column.core in ("", "1") and not column.unit:
        return int(value)
    return float(f"{value / factor(column.unit, column.core):.5g}")


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


def read_trial_sheet(path: Path, shown: str) -> tuple[SheetRow, ...]:
    """Return the rows of a filled sheet; what is blank stays blank.

    Raises
    ------
    InputError
        With every typing mistake, named by its cell.

    Examples
    --------
    >>> from pathlib import Path
    >>> rows = read_trial_sheet(Path("examples/marram/trial-sheet.csv"), "the sheet")
    >>> rows[0].text("run")
    'T1'
    """
    sheet = read_sheet(path, shown)
    reader = _Reader(sheet, shown)
    rows = [reader.row(row) for row in sheet.rows]
    if reader.faults:
        raise InputError(reader.faults)
    return tuple(rows)


class _Reader:
    def __init__(self, sheet: Sheet, shown: str) -> None:
        self.shown = shown
        self.faults: list[Fault] = []
        self.columns: list[tuple[SheetColumn, float] | None] = []
        self.decimal = sheet.decimal_of(range(len(sheet.headings)))
        for place, heading in enumerate(sheet.headings):
            self.columns.append(self._head(sheet.line, place, heading))
        known = {column[0].name for column in self.columns if column is not None}
        for name in ("run", "force"):
            if name not in known and f"planned {name}" not in known and not self.faults:
                allowed = f'a column headed "{BY_NAME[name].heading}"'
                self.faults.append(Fault(shown, f"row {sheet.line}", f"no column {name}", allowed))

    def fault(self, line: int, place: int, found: str, allowed: str, mend: str = "") -> None:
        self.faults.append(Fault(self.shown, f"cell {_letter(place)}{line}", found, allowed, mend))

    def _head(self, line: int, place: int, heading: str) -> tuple[SheetColumn, float] | None:
        name, unit = split_heading(heading)
        column = BY_NAME.get(name)
        if column is None:
            found = f'the unknown heading "{printable(heading)}"'
            mend = meant(name, BY_NAME) or "Remove the column; remarks go into note."
            self.fault(line, place, found, "a heading of the sheet", mend)
            return None
        if not column.core or not column.unit:
            return column, 1.0
        try:
            return column, factor(unit, column.core) if unit else math.nan
        except UnitFault as error:
            self.fault(line, place, error.found, f'a unit such as "{column.heading}"')
            return None

    def row(self, row: Row) -> SheetRow:
        """Return the values of one row."""
        values: dict[str, Value] = {}
        for place, (column, cell) in enumerate(zip(self.columns, row.cells, strict=True)):
            if column is None or cell is None:
                continue
            read = self._number if column[0].core else self._words
            values[column[0].name] = read(row.line, place, column, cell)
        return SheetRow(row.line, values)

    def _words(self, line: int, place: int, column: tuple[SheetColumn, float], cell: Any) -> Value:
        text = original_text(str(cell))
        choices = column[0].choices
        if isinstance(cell, UnreadFormula) or str(cell).startswith("=") or has_control(text):
            allowed = "plain text on one line that does not begin with ="
            self.fault(line, place, f'"{printable(text)}"', allowed)
        elif choices and text.lower() not in choices:
            self.fault(line, place, f'"{printable(text)}"', " or ".join(choices))
        return text.lower() if choices else text

    def _number(self, line: int, place: int, column: tuple[SheetColumn, float], cell: Any) -> Value:
        spec, size = column
        allowed = f"a number in {spec.unit}" if spec.unit else "a whole number"
        if math.isnan(size):
            self.fault(line, place, "a column without its unit", f'"{spec.heading}"')
            return None
        number = number_of(cell, self.decimal)
        if number is None or abs(number) >= LARGE:
            sign = "comma" if self.decimal == "," else "point"
            more = f", without its unit and with a decimal {sign}" if spec.unit else ""
            self.fault(line, place, f'"{printable(str(cell))}"', allowed + more)
            return None
        return self._sensible(line, place, spec, number * size)

    def _sensible(self, line: int, place: int, spec: SheetColumn, value: float) -> Value:
        known = MEASURED.get(spec.name)
        if spec.name == "tablets" and not (value >= 1.0 and value == int(value)):
            self.fault(line, place, f"{value:g}", "a whole number of tablets, 1 or more")
        elif known is not None and spec.filled:
            zero = known.zero and value == 0.0
            if not zero and not known.least <= value <= known.most:
                size = factor(spec.unit, spec.core)
                self.fault(
                    line, place, f"{value / size:g} {spec.unit}",
                    f"{known.least / size:.4g} to {known.most / size:.4g} {spec.unit}",
                    "Check the number and the unit of the column.",
                )  # fmt: skip
        return value


def _letter(place: int) -> str:
    """Return the letters of a spreadsheet's column, counted from 0.

    >>> _letter(0), _letter(25), _letter(26)
    ('A', 'Z', 'AA')
    """
    letters, rest = "", place + 1
    while rest:
        rest, digit = divmod(rest - 1, 26)
        letters = chr(ord("A") + digit) + letters
    return letters
