"""Force logs as text: where the headings are, how cells are parted, which line is at fault."""

from __future__ import annotations

import codecs
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from scaleup.errors import Fault, InputError
from scaleup.io.reading_gate import opened, text_lines
from scaleup.io.units import split_heading
from scaleup.text import NUMBER, printable

if TYPE_CHECKING:
    from pyarrow import RecordBatch
    from pyarrow.csv import CSVStreamingReader

NEEDED = ("time", "force")
HEAD_BYTES, HEAD_LINES = 65536, 200
"""How far into a file its headings are looked for."""
PIECE_BYTES = 1 << 24
"""Bytes read at a time."""
LONGEST_LINE = 1 << 20
"""Characters from which a line is taken in pieces: a file need not have a single line end."""
BLANKS = ["", "nan", "NaN", "NAN", "-", "n/a", "NA", "null"]


@dataclass(frozen=True)
class LogColumn:
    """A column of a log that is used."""

    name: str
    place: int
    heading: str
    factor: float


@dataclass
class LeftOut:
    """Rows of a log that were not used, and why."""

    blank: int = 0
    repeated: int = 0
    cut: int = 0
    first: dict[str, int] = field(default_factory=dict)
    """Kind: the row, counted from 1 under the headings, of its first."""

    def texts(self) -> list[str]:
        """Return what was left out, in words; empty if nothing was."""
        kinds = {
            "blank": "without a number in time or force",
            "repeated": "with the time stamp of the row before",
            "cut": "at the end, whose line is not finished",
        }
        counts = {name: getattr(self, name) for name in kinds}
        return [
            f"{count} row{'' if count == 1 else 's'} {kinds[name]} left out, first row "
            f"{self.first[name]} under the headings"
            for name, count in counts.items()
            if count
        ]

    def add(self, kind: str, count: int, row: int) -> None:
        """Count rows of one kind, the first of them at a row."""
        setattr(self, kind, getattr(self, kind) + count)
        self.first.setdefault(kind, row)


@dataclass(frozen=True)
class TextForm:
    """How the rows of a CSV file are written."""

    line: int
    """Line of the headings, counted from 1."""
    width: int
    delimiter: str
    decimal: str
    encoding: str


def text_form(path: Path, shown: str) -> tuple[TextForm, list[str]]:
    with opened(path, shown) as file:
        head = file.read(HEAD_BYTES)
    encoding = _encoding(head)
    lines = re.split("\r\n|\r|\n", head.decode(encoding, errors="replace"))
    for number, line in enumerate(lines[:HEAD_LINES], start=1):
        for delimiter in (";", "\t", ","):
            cells = [cell.strip().strip('"') for cell in line.split(delimiter)]
            names = [split_heading(cell)[0] for cell in cells]
            if all(name in names for name in NEEDED):
                rest = lines[number : number + 50]
                decimal = _decimal(rest, delimiter)
                return TextForm(number, len(cells), delimiter, decimal, encoding), cells
    found = f'no such line; the file begins "{printable(lines[0])}"' if head else "an empty file"
    allowed = "a line of headings such as time [ms],force [kN]"
    raise InputError(Fault(shown, "", found, allowed, "Both columns are needed, with units."))


def _encoding(head: bytes) -> str:
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head)
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8-sig" if head.startswith(codecs.BOM_UTF8) else "utf-8"


def _decimal(lines: list[str], delimiter: str) -> str:
    if delimiter == ",":
        return "."
    cells = (cell.strip() for line in lines for cell in line.split(delimiter))
    return "," if any(NUMBER.fullmatch(cell) and "," in cell for cell in cells) else "."


def damaged(shown: str, error: Exception) -> Fault:
    told = printable(str(error).splitlines()[0] if str(error) else type(error).__name__, 120)
    return Fault(shown, "", f"a file that cannot be read ({told})", "a whole log", "Copy it again.")


@dataclass(frozen=True)
class TextLog:
    """A CSV file whose headings are known."""

    path: Path
    shown: str
    form: TextForm
    columns: tuple[LogColumn, ...]
    left_out: LeftOut

    def batches(self) -> Iterator[tuple[RecordBatch, float]]:
        """Yield batches of rows with the share of the file read; rows of another width left out."""
        uneven: list[int] = []
        done = 0
        waiting = None
        rows = 0
        with opened(self.path, self.shown) as file:
            size = max(os.fstat(file.fileno()).st_size, 1)
            for batch in self._reader(file, uneven):
                if waiting is not None:
                    yield waiting, min(done / size, 1.0)
                waiting, rows = batch, rows + batch.num_rows
                done += batch.nbytes * 2
        if uneven:
            self._judge_uneven(len(uneven))
        elif waiting is not None and not _ends_a_line(self.path):
            self.left_out.add("cut", 1, rows)
            waiting = waiting.slice(0, waiting.num_rows - 1)
        if waiting is not None:
            yield waiting, 1.0

    def _reader(self, file: BinaryIO, uneven: list[int]) -> CSVStreamingReader:
        """Return pyarrow's reader; it notes the cells of every row of another width in `uneven`."""
        import pyarrow as pa  # noqa: PLC0415  start-up stays quick
        from pyarrow import csv  # noqa: PLC0415

        def handle(row: Any) -> str:
            uneven.append(int(row.actual_columns))
            return "skip"

        names = [f"c{index}" for index in range(self.form.width)]
        wanted = [names[column.place] for column in self.columns]
        try:
            return csv.open_csv(
                file,
                csv.ReadOptions(
                    column_names=names, skip_rows=self.form.line, block_size=PIECE_BYTES,
                    encoding="utf-8" if self.form.encoding == "utf-8-sig" else self.form.encoding,
                ),
                csv.ParseOptions(delimiter=self.form.delimiter, invalid_row_handler=handle),
                csv.ConvertOptions(
                    column_types=dict.fromkeys(wanted, pa.float64()), include_columns=wanted,
                    decimal_point=self.form.decimal, null_values=BLANKS,
                ),
            )  # fmt: skip
        except pa.ArrowInvalid as error:
            if "Empty CSV file" in str(error):
                allowed = "rows of numbers"
                raise InputError(Fault(self.shown, "", "headings without a row", allowed)) from None
            raise

    def _judge_uneven(self, count: int) -> None:
        """Leave out a last row that was cut short; refuse rows of another width elsewhere."""
        for rows, (line, cells) in enumerate(self.lines(), start=1):
            if len(cells) != self.form.width:
                last = next((n for n, _ in self.lines(after=line)), None) is None
                if last and count == 1:
                    self.left_out.add("cut", 1, rows)
                    return
                found, allowed = (
                    f"{len(cells)} cells",
                    f"{self.form.width} cells, one for each heading",
                )
                raise InputError(Fault(self.shown, f"line {line}", found, allowed))

    def lines(self, after: int = 0) -> Iterator[tuple[int, list[str]]]:
        """Yield the lines under the headings that are not blank, with their numbers."""
        lines = text_lines(self.path, self.form.encoding, LONGEST_LINE, self.shown)
        for number, line in enumerate(lines, start=1):
            if number > max(self.form.line, after) and line.strip():
                yield number, line.rstrip("\r\n").split(self.form.delimiter)

    def first_fault(self, error: Exception) -> Fault:
        """Return the first cell that is no number, by its line; else what the reader said."""
        for line, cells in self.lines():
            for column in self.columns:
                cell = cells[column.place].strip() if column.place < len(cells) else ""
                plain = cell.strip('"')
                known = plain in BLANKS or (
                    NUMBER.fullmatch(plain) and ("," not in plain or self.form.decimal == ",")
                )
                if not known:
                    where = f"line {line}, column {column.name}"
                    return Fault(self.shown, where, f'"{printable(cell)}"', "a number")
        return damaged(self.shown, error)


def _ends_a_line(path: Path) -> bool:
    """Return whether a file ends with a line end; if not, its last number may be cut short."""
    with opened(path) as file:
        file.seek(-min(2, os.fstat(file.fileno()).st_size), 2)
        return file.read().rstrip(b"\0").endswith((b"\n", b"\r"))
