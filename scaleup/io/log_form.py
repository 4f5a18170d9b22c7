"""The head of a force log as text: where the headings are, how cells are parted."""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from scaleup.errors import Fault, InputError
from scaleup.io.log_asked import VOLTS, LogAsked
from scaleup.io.log_clock import is_clock
from scaleup.io.log_columns import has_columns
from scaleup.io.log_headings import COLUMNS, Heading, headings_of
from scaleup.io.reading_gate import opened, pieces_of
from scaleup.io.units import UnitFault, factor
from scaleup.text import printable

HEAD_BYTES, HEAD_LINES = 65536, 200
"""How far into a file its headings are looked for."""
DELIMITERS = (";", "\t", ",")
LONGEST_CELL = 100_000
"""Characters from which a line is parted without a look at its quotes."""
_LINE_ENDS = re.compile("\r\n|\r|\n")
_DIGIT = re.compile(r"""["'\s+\-.,]*[0-9]""")


@dataclass(frozen=True)
class TextForm:
    """How the rows of a CSV file are written."""

    line: int
    """Line of the headings, or of the units below them, counted from 1."""
    width: int
    delimiter: str
    encoding: str


@dataclass(frozen=True)
class Head:
    """The beginning of a CSV file."""

    form: TextForm
    headings: list[str]
    """With the units that may stand in a line below them."""
    rows: list[list[str]]
    """Whole rows under the headings."""


def cells_of(line: str, delimiter: str) -> list[str]:
    """Return the cells of a line, without their quotes.

    >>> cells_of('1.5,"12,345"', ",")
    ['1.5', '12,345']
    """
    if '"' in line and len(line) < LONGEST_CELL:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]
    return [cell.strip() for cell in line.split(delimiter)]


def head_of(path: Path, shown: str, asked: LogAsked) -> Head:
    """Return the headings of a CSV file and the rows that follow.

    Raises
    ------
    InputError
        If no line heads the columns that are needed.
    """
    with opened(path, shown) as file:
        data = file.read(HEAD_BYTES)
    encoding = _encoding(data)
    lines = _LINE_ENDS.split(data.decode(encoding, errors="replace"))
    needed = ("force",) if asked.rate is not None else ("time", "force")
    bare = replace(asked, columns={})  # a chosen heading may be misspelt
    ways = [(needed, asked, True), (needed, asked, False), (needed, bare, True)]
    for names, told, filled in [*ways, (("force",), asked, True)]:
        for number, delimiter, cells in _lines_of_cells(lines):
            if not has_columns(cells, told, names):
                continue
            rows = _rows(lines[number:-1] or lines[number:], delimiter)
            if filled and not _filled(rows, cells, told):
                continue
            units, headings = _with_units(cells, rows)
            skipped = _line_of(lines, number) if units else number
            form = TextForm(skipped, len(cells), delimiter, encoding)
            return Head(form, headings, _rows(lines[skipped:-1] or lines[skipped:], delimiter))
    found = (
        f'no line with a time and a force; the file begins "{printable(lines[0])}"'
        if data
        else "an empty file"
    )
    allowed = "a line of headings such as time [ms],force [kN]"
    mend = (
        "Both columns are needed, with units; scaleup record takes the heading of another one, as "
        'in --column "force=Main force".'
    )
    raise InputError(Fault(shown, "", found, allowed, mend))


def _lines_of_cells(lines: Sequence[str]) -> Iterator[tuple[int, str, list[str]]]:
    for number, line in enumerate(lines[:HEAD_LINES], start=1):
        for delimiter in DELIMITERS:
            yield number, delimiter, cells_of(line, delimiter)


def _rows(lines: Sequence[str], delimiter: str) -> list[list[str]]:
    return [cells_of(line, delimiter) for line in lines if line.strip()]


def _filled(rows: Sequence[Sequence[str]], cells: Sequence[str], asked: LogAsked) -> bool:
    """Return whether a number stands under a force in the next line, or the one after it."""
    places = [
        each.place for each in headings_of(cells) if has_columns([each.text], asked, ("force",))
    ]
    return any(
        len(row) > place and _DIGIT.match(row[place]) for row in rows[:2] for place in places
    )


def _line_of(lines: Sequence[str], number: int) -> int:
    """Return the number of the first line after so many that is not blank."""
    return next(n for n, line in enumerate(lines[number:], number + 1) if line.strip())


def _with_units(cells: list[str], rows: Sequence[Sequence[str]]) -> tuple[bool, list[str]]:
    """Return whether a line of units follows, and the headings with them."""
    below = rows[0] if rows else []
    headings = headings_of(cells)
    bare = [each for each in headings if each.column and not each.unit]
    if len(below) != len(cells) or not bare or any(map(_DIGIT.match, below)):
        return False, cells
    if not any(_measures(below[each.place], each) for each in bare):
        return False, cells
    return True, [_headed(each, below[each.place]) for each in headings]


def _headed(heading: Heading, unit: str) -> str:
    bare = unit.strip("[]() ")
    return heading.text if heading.unit or not bare else f"{heading.text} [{bare}]"


def _measures(unit: str, heading: Heading) -> bool:
    bare = unit.strip("[]() ")
    try:
        return bool(bare) and (bare in VOLTS or factor(bare, COLUMNS[heading.column][0]) > 0.0)
    except UnitFault:
        return False


def _encoding(head: bytes) -> str:
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head)
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8-sig" if head.startswith(codecs.BOM_UTF8) else "utf-8"


def with_later_rows(head: Head, path: Path, shown: str) -> Head:
    """Return a head with rows of further down, from the first that shows a point or a comma.

    A log may begin with whole numbers for longer than its head; what a point means shows later.
    """
    mark = re.compile(rb'[."]' if head.form.delimiter == "," else rb"[.,]")
    if head.form.encoding == "utf-16":
        return head
    read = 0
    for piece in pieces_of(path, shown):
        match = mark.search(piece, min(max(HEAD_BYTES - read, 0), len(piece)))
        read += len(piece)
        if match:
            found = piece[match.start() : match.start() + HEAD_BYTES]
            lines = _LINE_ENDS.split(found.decode(head.form.encoding, "replace"))
            if rows := _rows(lines[1:-1], head.form.delimiter):
                return replace(head, rows=head.rows + rows)
    return head


def has_clock(rows: Sequence[Sequence[str]], place: int) -> bool:
    """Return whether the first cell that is filled in a column is a time of the day."""
    filled = (row[place] for row in rows if len(row) > place and row[place])
    return is_clock(next(filled, ""))
