"""The rows of a force log as text, read in pieces; which line is at fault."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from scaleup.errors import Fault, InputError
from scaleup.io.log_clock import WRITTEN, Clock, readable
from scaleup.io.log_columns import LogColumn
from scaleup.io.log_form import TextForm, cells_of
from scaleup.io.log_left_out import LeftOut
from scaleup.io.log_numbers import PARTED, Numbers
from scaleup.io.reading_gate import opened, text_lines
from scaleup.short_repr import short_repr
from scaleup.text import printable

if TYPE_CHECKING:
    from pyarrow import RecordBatch
    from pyarrow.csv import CSVStreamingReader

    from scaleup.arrays import Array

PIECE_BYTES = 1 << 24
"""Bytes read at a time."""
LONGEST_LINE = 1 << 20
"""Characters from which a line is taken in pieces: a file need not have a single line end."""
BLANKS = ["", "nan", "NaN", "NAN", "-", "n/a", "NA", "null"]


def damaged(shown: str, error: Exception) -> Fault:
    told = printable(str(error).splitlines()[0] if str(error) else type(error).__name__, 120)
    return Fault(shown, "", f"a file that cannot be read ({told})", "a whole log", "Copy it again.")


class _OtherNumbersError(Exception):
    """A cell is no number as the cells before it were read."""


@short_repr
@dataclass
class TextLog:
    """A CSV file whose headings are known."""

    path: Path
    shown: str
    form: TextForm
    columns: tuple[LogColumn, ...]
    left_out: LeftOut
    numbers: Numbers
    told: list[str] = field(default_factory=list)
    """How cells were read, where another way was possible."""

    def batches(self) -> Iterator[tuple[list[Array], float]]:
        """Yield columns of rows with the share of the file read; rows of another width left out.

        Numbers are read as floats; where thousands are parted, which may show late, as texts.

        Raises
        ------
        InputError
            If a cell is no number or no time, or a row has other cells than headings.
        """
        import pyarrow as pa  # noqa: PLC0415  start-up stays quick

        rows = 0
        try:
            for columns, read in self._batches(0):
                rows += columns[0].size
                yield columns, read
        except (pa.ArrowInvalid, _OtherNumbersError) as error:
            self.numbers = self._otherwise(error)
            yield from self._parted_batches(rows)
        self.told = [f"numbers read with {self.numbers.way}"] if self.numbers.told else []

    def _parted_batches(self, skipped: int) -> Iterator[tuple[list[Array], float]]:
        import pyarrow as pa  # noqa: PLC0415

        try:
            yield from self._batches(skipped)
        except (pa.ArrowInvalid, _OtherNumbersError) as error:
            raise InputError(self.first_fault(error)) from None

    def _otherwise(self, error: Exception) -> Numbers:
        """Return the way of writing numbers with parted thousands that a cell at fault shows.

        Raises
        ------
        InputError
            If it shows none: the cell is at fault.
        """
        found = None if self.numbers.thousands else self._first_odd()
        if found is not None:
            for each in PARTED:
                same = each.decimal == self.numbers.decimal
                if same and not found[1].clock and each.known.fullmatch(found[2]):
                    return each
        raise InputError(self.first_fault(error))

    def _batches(self, skipped: int) -> Iterator[tuple[list[Array], float]]:
        """Yield the rows after so many."""
        uneven: list[int] = []
        done, rows = 0, 0
        waiting: RecordBatch | None = None
        clock = Clock()
        self.left_out.cut = 0
        with opened(self.path, self.shown) as file:
            size = max(os.fstat(file.fileno()).st_size, 1)
            for batch in self._reader(file, uneven):
                if waiting is not None:
                    yield from self._after(skipped, rows, self._floats(waiting, clock), done / size)
                    rows += waiting.num_rows
                waiting = batch
                done += batch.nbytes * 2
        if uneven:
            self._judge_uneven(len(uneven))
        if waiting is None:
            return
        if not uneven and not _ends_a_line(self.path):
            self.left_out.add("cut", 1, rows + waiting.num_rows)
            waiting = waiting.slice(0, waiting.num_rows - 1)
        yield from self._after(skipped, rows, self._floats(waiting, clock), 1.0)

    def _after(
        self, skipped: int, rows: int, columns: list[Array], read: float
    ) -> Iterator[tuple[list[Array], float]]:
        """Yield columns whose first row comes after so many, without those to be skipped."""
        known = skipped - rows
        if known < columns[0].size or (known <= 0 and columns[0].size == 0):
            yield [each[max(known, 0) :] for each in columns], min(read, 1.0)

    def _floats(self, batch: RecordBatch, clock: Clock) -> list[Array]:
        import pyarrow as pa  # noqa: PLC0415

        floats: list[Array] = []
        for index, column in enumerate(self.columns):
            cells = batch.column(index)
            if not pa.types.is_string(cells.type):
                floats.append(cells.to_numpy(zero_copy_only=False))
                continue
            values = clock.seconds(cells) if column.clock else self.numbers.values(cells)
            if values is None:
                raise _OtherNumbersError(column.name)
            floats.append(values)
        return floats

    def _reader(self, file: BinaryIO, uneven: list[int]) -> CSVStreamingReader:
        """Return pyarrow's reader; it notes the cells of every row of another width in `uneven`."""
        import pyarrow as pa  # noqa: PLC0415  start-up stays quick
        from pyarrow import csv  # noqa: PLC0415

        def handle(row: Any) -> str:
            uneven.append(int(row.actual_columns))
            return "skip"

        names = [f"c{index}" for index in range(self.form.width)]
        texts = {column.place for column in self.columns if column.clock or self.numbers.thousands}
        types = {
            names[column.place]: pa.string() if column.place in texts else pa.float64()
            for column in self.columns
        }
        try:
            return csv.open_csv(
                file,
                csv.ReadOptions(
                    column_names=names, skip_rows=self.form.line, block_size=PIECE_BYTES,
                    encoding="utf-8" if self.form.encoding == "utf-8-sig" else self.form.encoding,
                ),
                csv.ParseOptions(delimiter=self.form.delimiter, invalid_row_handler=handle),
                csv.ConvertOptions(
                    column_types=types, include_columns=list(types), null_values=BLANKS,
                    decimal_point=self.numbers.decimal, strings_can_be_null=True,
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
                mend = ""
                if self.form.delimiter == "," and len(cells) == 2 * self.form.width:
                    mend = "With a decimal comma, part the cells by semicolons or tabs."
                raise InputError(Fault(self.shown, f"line {line}", found, allowed, mend))

    def lines(self, after: int = 0) -> Iterator[tuple[int, list[str]]]:
        """Yield the lines under the headings that are not blank, with their numbers."""
        lines = text_lines(self.path, self.form.encoding, LONGEST_LINE, self.shown)
        for number, line in enumerate(lines, start=1):
            if number > max(self.form.line, after) and line.strip():
                yield number, cells_of(line.rstrip("\r\n"), self.form.delimiter)

    def first_fault(self, error: Exception) -> Fault:
        """Return the first cell that is no number or time, by its line; else what was said."""
        odd = self._first_odd()
        if odd is None:
            return damaged(self.shown, error)
        line, column, cell = odd
        where = f"line {line}, column {column.name}"
        allowed = WRITTEN if column.clock else "a number"
        mend = ""
        if not column.clock and (self.numbers.thousands or set(cell) & set(",.'")):
            mend = f"The numbers above it are read with {self.numbers.way}."
        return Fault(self.shown, where, f'"{printable(cell)}"', allowed, mend)

    def _first_odd(self) -> tuple[int, LogColumn, str] | None:
        """Return line, column and text of the first cell that is no number or time, if any."""
        for line, cells in self.lines():
            for column in self.columns:
                cell = cells[column.place] if column.place < len(cells) else ""
                known = readable(cell) if column.clock else self.numbers.known.fullmatch(cell)
                if cell not in BLANKS and not known:
                    return line, column, cell
        return None


def _ends_a_line(path: Path) -> bool:
    """Return whether a file ends with a line end; if not, its last number may be cut short."""
    with opened(path) as file:
        file.seek(-min(2, os.fstat(file.fileno()).st_size), 2)
        return file.read().rstrip(b"\0").endswith((b"\n", b"\r"))
