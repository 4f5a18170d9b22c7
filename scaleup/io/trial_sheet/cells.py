"""The cells of one table of a trial sheet, every typing mistake named by its cell."""

from __future__ import annotations

import math
import re
from typing import Any, NamedTuple

from scaleup.errors import Fault
from scaleup.io.csv_table import original_text
from scaleup.io.run_columns import MEASURED
from scaleup.io.sheets import Row, Sheet, UnreadFormula, number_of
from scaleup.io.trial_sheet.columns import SheetColumn, Value
from scaleup.io.trial_sheet.headings import DEGREES, Head, HeadingFault, head_of
from scaleup.io.units import factor
from scaleup.text import LARGE, has_control, printable

BOUNDS = {
    "tip separation": (0.1, 50.0),
    "feeder speed": (0.0, 1000.0),
    "friability": (0.0, 1.0),
    "hopper level": (0.0, 1.0),
    "temperature": (-20.0, 80.0),
    "humidity": (0.0, 1.0),
}
"""Least and most in the core unit of columns that no run table has (a judgement of this
program)."""
COUNTS = ("tablets", "tablet")


class Cells(NamedTuple):
    """What one row holds, in core units, and where each value stands."""

    values: dict[str, Value]
    places: dict[str, str]
    extra: dict[str, str]


class TableCells:
    """Reads the rows of one table; `faults` has every mistake found so far."""

    def __init__(
        self, sheet: Sheet, shown: str, columns: tuple[SheetColumn, ...], at: str = ""
    ) -> None:
        self.shown, self.at = shown, at
        self.faults: list[Fault] = []
        self.known = {column.name.lower(): column for column in columns}
        self.decimal = sheet.decimal_of(range(len(sheet.headings)))
        self.heads: list[Head | None] = []
        for place, heading in enumerate(sheet.headings):
            self.heads.append(self._head(sheet.line, place, heading))

    @property
    def names(self) -> set[str]:
        """Return the columns of the table that are there."""
        return {head.column.name for head in self.heads if head and head.column}

    def fault(self, where: str, found: str, allowed: str, mend: str = "") -> None:
        """Note a mistake."""
        self.faults.append(Fault(self.shown, where, found, allowed, mend))

    def _where(self, line: int, place: int) -> str:
        return f"{self.at}cell {_letter(place)}{line}"

    def _head(self, line: int, place: int, heading: str) -> Head | None:
        try:
            head = head_of(heading, self.known)
        except HeadingFault as wrong:
            self.fault(self._where(line, place), wrong.found, wrong.allowed, wrong.mend)
            return None
        if any(_same(head, other) for other in self.heads):
            found = f'a second column "{printable(heading)}"'
            self.fault(self._where(line, place), found, "one column of each name")
            return None
        return head

    def row(self, row: Row) -> Cells:
        """Return what a row holds; what is blank is left out."""
        cells = Cells({}, {}, {})
        for place, (head, cell) in enumerate(zip(self.heads, row.cells, strict=True)):
            if head is None or cell is None:
                continue
            where = self._where(row.line, place)
            if head.column is None:
                cells.extra[head.heading] = self._text(where, cell)
                continue
            name = head.column.name
            read = self._number if head.column.core else self._words
            cells.values[name] = read(where, head, cell)
            cells.places[name] = where
        return cells

    def _text(self, where: str, cell: Any) -> str:
        text = original_text(str(cell))
        if isinstance(cell, UnreadFormula) or str(cell).startswith("=") or has_control(text):
            allowed = "plain text on one line that does not begin with ="
            self.fault(where, f'"{printable(text)}"', allowed)
        return text

    def _words(self, where: str, head: Head, cell: Any) -> Value:
        choices = head.column.choices if head.column else ()
        if not choices:
            return self._text(where, cell)
        text = original_text(str(cell)).lower()
        if text not in choices:
            self.fault(where, f'"{printable(str(cell))}"', " or ".join(choices))
        return text

    def _number(self, where: str, head: Head, cell: Any) -> Value:
        spec = head.column
        if spec is None:
            raise ValueError("a number stands in a column of the table")
        if math.isnan(head.size):
            self.fault(where, "a column without its unit", f'"{spec.heading}"')
            return None
        number = number_of(cell, self.decimal)
        if number is None or abs(number) >= LARGE:
            allowed = f"a number in {spec.unit}" if spec.unit else "a whole number"
            sign = "comma" if self.decimal == "," else "point"
            more = f", without its unit and with a decimal {sign}" if spec.unit else ""
            self.fault(where, f'"{printable(str(cell))}"', allowed + more)
            return None
        self._sensible(where, spec, number * head.size)
        return number * head.size

    def _sensible(self, where: str, spec: SheetColumn, value: float) -> None:
        if spec.name in COUNTS:
            if value < 1.0 or value != int(value):
                self.fault(where, f"{value:g}", f"a whole number of {COUNTS[0]}, 1 or more")
            return
        least, most, zero = _bounds(spec.name)
        if spec.filled and not (zero and value == 0.0) and not least <= value <= most:
            size = 1.0 if spec.core == DEGREES else factor(spec.unit, spec.core)
            self.fault(
                where, f"{value / size:g} {spec.unit}",
                f"{least / size:.4g} to {most / size:.4g} {spec.unit}",
                "Check the number and the unit of the column.",
            )  # fmt: skip


def _same(head: Head, other: Head | None) -> bool:
    if other is None or head.column is None:
        return other is not None and other.column is None and head.heading == other.heading
    return head.column is other.column


def _bounds(name: str) -> tuple[float, float, bool]:
    """Return least and most of a column in its core unit, and whether 0 is a value below least."""
    known = MEASURED.get(re.sub(" SD$", " standard deviation", name))
    if known is not None:
        return known.least, known.most, known.zero
    return (*BOUNDS[name], False) if name in BOUNDS else (-math.inf, math.inf, False)


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
