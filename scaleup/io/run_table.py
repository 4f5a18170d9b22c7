"""The run table: one row for each compressed tablet, or for the mean of a few.

Every fault is found, by line and column.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

from scaleup.errors import Fault, InputError, told_once
from scaleup.io.csv_table import original_text
from scaleup.io.run_columns import MEASURED, WORDS, Column, heading_meant
from scaleup.io.sheets import Row, Sheet, UnreadFormula, number_of, read_sheet
from scaleup.io.units import EXPECTED, UnitFault, factor, split_heading
from scaleup.model.defects import DEFECTS, defects_named
from scaleup.model.run import PressName, Run
from scaleup.text import NUMBER, has_control, printable, shown_number

FAULTS_SHOWN = 20


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
    shown = shown or path.name
    return runs_from(read_sheet(path, shown), shown)


def heading_units(path: Path, shown: str = "") -> tuple[str, ...]:
    """Return the units in the headings of a run table, each once, in their order.

    >>> heading_units(Path("examples/marram/runs.csv"))
    ('kN', 's', 'mg', 'mm', 'N')

    Raises
    ------
    InputError
        If the table cannot be read.
    """
    units = [split_heading(each)[1] for each in read_sheet(path, shown or path.name).headings]
    return tuple(unit for unit in dict.fromkeys(units) if unit)


class Measured(NamedTuple):
    """A measured column as this table heads it."""

    name: str
    place: int
    column: Column
    unit: str
    factor: float


class Reader:
    """Reads the cells of one sheet and keeps the faults."""

    def __init__(self, sheet: Sheet, shown: str) -> None:
        self.sheet = sheet
        self.shown = shown
        self.faults: list[Fault] = []
        self.words: dict[str, int] = {}
        self.measured: list[Measured] = []
        for index, heading in enumerate(sheet.headings):
            self._head(index, heading)
        self._demand("run", "run")
        self._demand("force", "force [kN]")
        self.decimal = sheet.decimal_of(column.place for column in self.measured)

    def fault(self, line: int, column: str, found: str, allowed: str, mend: str = "") -> None:
        """Keep a fault of one cell."""
        self.faults.append(Fault(self.shown, self._where(line, column), found, allowed, mend))

    def _where(self, line: int, column: str) -> str:
        row = f"{self.sheet.counted} {line}" if line else ""
        return ", ".join(filter(None, (row, f"column {printable(column)}" if column else "")))

    def _head(self, index: int, heading: str) -> None:
        name, unit = split_heading(heading)
        line, shown = self.sheet.line, printable(heading.strip()) or f"number {index + 1}"
        if name in self.words or any(name == known.name for known in self.measured):
            self.fault(line, shown, "a second column of this name", "each column once")
        elif name in WORDS and unit:
            self.fault(line, shown, f'the unit "{printable(unit)}"', f"{name}, without a unit")
        elif name in WORDS:
            self.words[name] = index
        elif name in MEASURED:
            self._head_measured(index, name, unit)
        else:
            allowed = f"the columns {', '.join((*WORDS, *MEASURED))}"
            found = f'the unknown column "{shown}"' if name else "cells without a heading"
            mend = heading_meant(heading) or "Rename it, or remove the column."
            self.fault(line, shown, found, allowed, mend)

    def _head_measured(self, index: int, name: str, unit: str) -> None:
        column = MEASURED[name]
        example = f'"{name} [{column.example}]"'
        if not unit:
            allowed = f"{EXPECTED[column.unit][0]} with its unit in square brackets"
            self.fault(self.sheet.line, name, "no unit", allowed, f"Write {example}.")
            number = math.nan
        else:
            number = self._factor(name, unit, column, example)
        self.measured.append(Measured(name, index, column, unit, number))

    def _factor(self, name: str, unit: str, column: Column, example: str) -> float:
        try:
            return factor(unit, column.unit)
        except UnitFault as error:
            allowed = f"a unit of {EXPECTED[column.unit][0].split(' ', 1)[1]}"
            self.fault(self.sheet.line, name, error.found, allowed, f"Write {example}.")
            return math.nan

    def _demand(self, name: str, heading: str) -> None:
        known = (*self.words, *(column.name for column in self.measured))
        named = any(fault.mend.startswith(f'Write "{name} [') for fault in self.faults)
        if name not in known and not named:
            self.fault(self.sheet.line, "", f"no column {name}", f'a column headed "{heading}"')

    def run(self, row: Row) -> Run | None:
        """Return the run of a row, None if the row is at fault."""
        before = len(self.faults)
        values = {column.column.field: self._measure(row, column) for column in self.measured}
        name = self._text(row, "run", self._name) or ""
        press: PressName = self._text(row, "press", self._press) or "lab"
        counts = {
            name: self._text(row, name, partial(self._count, name))
            for name in ("tablets", "compression", "revolutions")
        }
        note = self._text(row, "note", self._words) or ""
        record = self._text(row, "record", partial(self._words, column="record", limit=200)) or ""
        batch = self._text(row, "batch", self._batch) or ""
        seen = self._text(row, "seen", self._seen) or ()
        trial = self._text(row, "trial", partial(self._name, column="trial")) or ""
        made_on = (
            self._text(row, "made on", partial(self._words, column="made on", limit=200)) or ""
        )
        self._check_whole(row, press, values)
        force = values.pop("force", None)
        if len(self.faults) > before or force is None or math.isnan(force):
            return None
        return Run(
            name=name,
            force=force,
            press=press,
            tablets=counts["tablets"] or 1,
            revolutions=counts["revolutions"],
            made_on=" ".join(made_on.split()),
            trial=trial,
            batch=batch,
            seen=seen,
            note=note,
            record=record,
            compression=counts["compression"],
            line=row.line,
            **values,
        )

    def _check_whole(self, row: Row, press: str, values: dict[str, float | None]) -> None:
        if "run" in self.words and row.cells[self.words["run"]] is None:
            self.fault(row.line, "run", "a blank cell", "a name for the run")
        force = next((known for known in self.measured if known.name == "force"), None)
        if force is not None and row.cells[force.place] is None:
            self.fault(row.line, "force", "a blank cell", "the peak force of the run")
        if press == "production" and values.get("speed") is None and not self._blamed(row, "speed"):
            self.fault(row.line, "speed", "no speed", "the turret speed of a production run")

    def _blamed(self, row: Row, column: str) -> bool:
        return any(fault.where == self._where(row.line, column) for fault in self.faults)

    def _text(self, row: Row, name: str, read: Callable[[Row, Any], Any]) -> Any:
        index = self.words.get(name)
        cell = None if index is None else row.cells[index]
        return None if cell is None else read(row, cell)

    def _words(self, row: Row, cell: Any, column: str = "note", limit: int = 500) -> str:
        text = original_text(str(cell))
        if isinstance(cell, UnreadFormula) or str(cell).startswith("="):
            self.fault(row.line, column, "a formula", "plain text")
        elif has_control(text) or len(text) > limit:
            allowed = f"up to {limit} printable characters"
            self.fault(row.line, column, f'"{printable(text)}"', allowed)
        return text

    def _name(self, row: Row, cell: Any, column: str = "run") -> str:
        if isinstance(cell, float) and cell.is_integer():
            cell = int(cell)
        return self._words(row, cell, column, 120)

    def _batch(self, row: Row, cell: Any) -> str:
        return self._name(row, cell, "batch")

    def _seen(self, row: Row, cell: Any) -> tuple[str, ...]:
        text = self._words(row, cell, "seen")
        found = defects_named(text)
        if found is None:
            self.fault(row.line, "seen", f'"{printable(text)}"', f"{', '.join(DEFECTS)}, or none")
        return found or ()

    def _press(self, row: Row, cell: Any) -> PressName:
        if str(cell).lower() == "production":
            return "production"
        if str(cell).lower() != "lab":
            self.fault(row.line, "press", f'"{printable(str(cell))}"', "lab or production")
        return "lab"

    def _count(self, column: str, row: Row, cell: Any) -> int:
        text = str(cell).removesuffix(".0")
        if isinstance(cell, bool) or not re.fullmatch(r"[1-9]\d{0,3}", text, re.ASCII):
            allowed = "a whole number, 1 to 9999"
            self.fault(row.line, column, f'"{printable(str(cell))}"', allowed)
            return 1
        return int(text)

    def _measure(self, row: Row, known: Measured) -> float | None:
        cell = row.cells[known.place]
        if cell is None:
            return None
        number = self._number(row, known, cell)
        if number is None or math.isnan(known.factor):
            return None
        return self._within(row, known, number)

    def _number(self, row: Row, known: Measured, cell: Any) -> float | None:
        allowed = f"a number in {known.unit}"
        if isinstance(cell, UnreadFormula):
            mend = "Open the workbook, let it calculate, and save it; or paste the values."
            found = f"the formula {printable(cell.formula)} without a stored value"
            self.fault(row.line, known.name, found, allowed, mend)
            return None
        number = number_of(cell, self.decimal)
        if number is not None:
            return number
        text = shown_number(cell) if isinstance(cell, int | float) else str(cell)
        if isinstance(cell, str) and NUMBER.fullmatch(text):
            allowed = f'a number in {known.unit} with "{self.decimal}" as decimal sign'
        self.fault(row.line, known.name, f'"{printable(text)}"', allowed, self._comma_mend(text))
        return None

    def _comma_mend(self, text: str) -> str:
        if "," in text and self.decimal == ".":
            return "Part the cells by semicolons if you write a decimal comma."
        return ""

    def _within(self, row: Row, known: Measured, number: float) -> float | None:
        column = known.column
        value = number * known.factor
        if (value == 0 and column.zero) or column.least <= value <= column.most:
            return value
        least, most = column.least / known.factor, column.most / known.factor
        zero = "0, or " if column.zero else ""
        self.fault(
            row.line,
            known.name,
            f"{number:g} {known.unit}",
            f"{zero}{least:.4g} to {most:.4g} {known.unit}",
            "Check the number and the unit of the column." if number > 0 else "",
        )
        return None


def runs_from(sheet: Sheet, shown: str) -> tuple[Run, ...]:
    """Return the runs of a sheet; ``shown`` is the file's name in a fault.

    Raises
    ------
    InputError
        With every fault found, one that is repeated told once; the first 20 are written out.
    """
    reader = Reader(sheet, shown)
    runs = [reader.run(row) for row in sheet.rows]
    if reader.faults:
        raise InputError(_capped(told_once(reader.faults), shown))
    return tuple(run for run in runs if run is not None)


def _capped(faults: tuple[Fault, ...], shown: str) -> tuple[Fault, ...]:
    more = len(faults) - FAULTS_SHOWN
    if more <= 0:
        return faults
    rest = Fault(shown, "", f"{more} more faults", "none", "Mend these first.")
    return (*faults[:FAULTS_SHOWN], rest)
