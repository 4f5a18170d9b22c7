"""Reads a filled trial sheet, every typing mistake named by its cell."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from os import PathLike
from pathlib import Path
from typing import Any

from scaleup.errors import Fault, InputError
from scaleup.io.csv_table import original_text
from scaleup.io.run_columns import MEASURED
from scaleup.io.sheets import Row, Sheet, UnreadFormula, number_of, read_sheet
from scaleup.io.trial_record import FILE, TrialRecord, read_trial_record
from scaleup.io.trial_sheet.columns import RUN_COLUMNS, SheetColumn, Value, by_name
from scaleup.io.units import UnitFault, factor, split_heading
from scaleup.text import LARGE, has_control, meant, printable

BY_NAME = by_name(RUN_COLUMNS)


@dataclass(frozen=True)
class SheetRow:
    """One row of a table as read, in core units; what was left blank is not there."""

    line: int
    values: dict[str, Value]
    cells: dict[str, str] = field(default_factory=dict)
    """Where each value stands, by the name of its column."""
    extra: dict[str, str] = field(default_factory=dict)
    """What stands in columns that the sheet did not have, by their headings."""

    def number(self, name: str) -> float | None:
        """Return a number of the row."""
        value = self.values.get(name)
        return value if isinstance(value, float) else None

    def text(self, name: str) -> str:
        """Return a text of the row, "" where blank."""
        value = self.values.get(name)
        return value if isinstance(value, str) else ""

    def where(self, name: str) -> str:
        """Return where a value stands."""
        return self.cells.get(name) or f"row {self.line}, {name}"


@dataclass(frozen=True)
class TrialSheet:
    """A filled sheet: its runs, timed samples and single tablets, and the plan it is of."""

    rows: tuple[SheetRow, ...]
    samples: tuple[SheetRow, ...] = ()
    tablets: tuple[SheetRow, ...] = ()
    plan: TrialRecord | None = None
    """None where the plan's own file is not at hand."""
    shown: str = "the trial sheet"
    """Its name in a fault."""


def read_trial_sheet(
    path: str | PathLike[str], shown: str = "", *, plan: str | PathLike[str] | None = None
) -> TrialSheet:
    """Return a filled sheet; what is blank stays blank.

    `shown` is its name in a fault, the file's if empty. `plan` is the file of the plan it is of,
    ``trial-plan.json`` beside the sheet if absent and there.

    Raises
    ------
    InputError
        With every typing mistake, named by its cell.

    Examples
    --------
    >>> sheet = read_trial_sheet("examples/marram/trial-sheet.csv")
    >>> sheet.rows[0].text("run")
    'T1'
    """
    shown = shown or Path(path).name
    sheet = read_sheet(Path(path), shown)
    reader = _Reader(sheet, shown)
    rows = [reader.row(row) for row in sheet.rows]
    if reader.faults:
        raise InputError(reader.faults)
    return TrialSheet(tuple(rows), plan=_plan_of(Path(path), plan), shown=shown)


def _plan_of(sheet: Path, plan: str | PathLike[str] | None) -> TrialRecord | None:
    if plan is not None:
        return read_trial_record(plan)
    beside = sheet.with_name(FILE)
    return read_trial_record(beside) if beside.is_file() else None


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
        cells: dict[str, str] = {}
        for place, (column, cell) in enumerate(zip(self.columns, row.cells, strict=True)):
            if column is None or cell is None:
                continue
            read = self._number if column[0].core else self._words
            values[column[0].name] = read(row.line, place, column, cell)
            cells[column[0].name] = f"cell {_letter(place)}{row.line}"
        return SheetRow(row.line, values, cells)

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
