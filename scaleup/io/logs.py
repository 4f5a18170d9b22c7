"""Force logs, read in pieces so that an hour at 100 kHz need not fit in memory.

pyarrow reads CSV and Parquet alike in batches of bounded size, several times as fast as pandas
reads CSV in chunks, and pandas reads no Parquet without it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from scaleup.errors import Fault, InputError
from scaleup.io.log_text import NEEDED, LeftOut, LogColumn, TextLog, damaged, text_form
from scaleup.io.reading_gate import opened
from scaleup.io.units import EXPECTED, UnitFault, factor, split_heading
from scaleup.short_repr import short_repr
from scaleup.text import nearest, printable

if TYPE_CHECKING:
    from pyarrow import RecordBatch

    from scaleup.arrays import Array

COLUMNS = {
    "time": ("s", "ms"),
    "force": ("N", "kN"),
    "position": ("mm", "mm"),
    "ejection force": ("N", "kN"),
}
"""Column: its core unit and the unit of an example heading."""
PIECE_ROWS = 1 << 20
"""Rows of Parquet read at a time."""
REPEATS_ALLOWED = 0.01
"""Share of repeated time stamps from which the stamps are too coarse to be used."""
LONGEST = 1e12
"""A time in s, a force in N or a position in mm beyond this is no measurement."""


@dataclass(frozen=True)
class Piece:
    """A stretch of a log in s, N and mm, each array of shape (rows,); None where not logged."""

    time: Array
    force: Array
    position: Array | None
    ejection: Array | None
    longest_step: float
    """Longest time in s between two samples, from the sample before the piece on."""
    read: float
    """Share of the file read so far."""


@short_repr
@dataclass
class Log:
    """A log that has been opened: its headings are known, its rows are not read yet."""

    path: Path
    shown: str
    columns: tuple[LogColumn, ...]
    unused: tuple[str, ...]
    """Headings of columns that nothing here uses."""
    text: TextLog | None
    """None for Parquet."""
    left_out: LeftOut

    def has(self, name: str) -> bool:
        """Return whether a column was logged."""
        return any(column.name == name for column in self.columns)

    def pieces(self) -> Iterator[Piece]:
        """Yield the log piece by piece, rows that cannot be used left out and counted.

        Raises
        ------
        InputError
            If a cell is no number, time goes backward, its stamps repeat in more than one row of
            a hundred, a row has other cells than headings, or the file is damaged.
        """
        last, row = -np.inf, 0
        for batch, read in _batches(self):
            with np.errstate(over="ignore"):  # no measurement, and left out as such below
                values = {
                    column.name: _floats(batch, index) * column.factor
                    for index, column in enumerate(self.columns)
                }
                for name in values.keys() - NEEDED:
                    values[name] = _sensible(values[name])
            rows = values["time"].size
            piece, longest = self._cleaned(values, row, last)
            row += rows
            if piece["time"].size:
                last = float(piece["time"][-1])
                yield Piece(
                    piece["time"], piece["force"], piece.get("position"),
                    piece.get("ejection force"), longest, read,
                )  # fmt: skip

    def _cleaned(
        self, values: dict[str, Array], row: int, last: float
    ) -> tuple[dict[str, Array], float]:
        """Return the rows with a time and a force, later than the row before, and their step."""
        time, force = values["time"], values["force"]
        if time.size == 0:
            return values, 0.0
        ends = (time.min(), time.max(), force.min(), force.max())
        if not np.all(np.abs(ends) < LONGEST):
            bad = ~((np.abs(time) < LONGEST) & (np.abs(force) < LONGEST))
            self.left_out.add("blank", int(bad.sum()), row + int(bad.argmax()) + 1)
            values = {name: each[~bad] for name, each in values.items()}
            time = values["time"]
            if time.size == 0:
                return values, 0.0
        step = np.diff(time, prepend=last if np.isfinite(last) else time[0] - 1e-9)
        if step.min() <= 0.0:
            self._refuse_backward(step, row)
            repeated = step == 0.0
            self.left_out.add("repeated", int(repeated.sum()), row + int(repeated.argmax()) + 1)
            if repeated.mean() > REPEATS_ALLOWED:
                found = f"the same time stamp in {repeated.mean() * 100:.0f} % of the rows"
                mend = "Write the time with more digits, or thin the log."
                raise InputError(
                    Fault(self.shown, "column time", found, "a time for each row", mend)
                )
            values = {name: each[~repeated] for name, each in values.items()}
        return values, float(step.max())

    def _refuse_backward(self, step: Array, row: int) -> None:
        backward = np.flatnonzero(step < 0.0)
        if backward.size:
            where = f"{self._place(row + int(backward[0]) + 1)}, column time"
            found = f"a time {-float(step[backward[0]]):.4g} s before the one above it"
            mend = "Part the file where the clock was set back."
            raise InputError(Fault(self.shown, where, found, "times that increase", mend))

    def _place(self, row: int) -> str:
        """Return where a row, counted from 1 under the headings, is in the file."""
        if self.text is None:
            return f"row {row}"
        line = next(islice(self.text.lines(), row - 1, None))[0]
        return f"line {line}"


def open_log(path: Path, shown: str = "") -> Log:
    """Return a log whose headings were found; a CSV file may have notes above them.

    Columns are `time`, `force`, `position` (distance of the tips as the gauge reads it) and
    `ejection force`, each with its unit as in ``time [ms]``; other columns are left alone. CSV
    cells are parted by commas, semicolons or tabs; with the last two a comma may be the decimal
    sign.

    Raises
    ------
    InputError
        If there is no such file, no line of headings, no unit, or a unit of something else.
    """
    shown = shown or path.name
    opened(path, shown, allowed="a log ending in .csv or .parquet").close()
    ending = path.suffix.lower()
    if ending == ".parquet":
        headings = _parquet_headings(path, shown)
        columns, unused = _columns(headings, shown, "the column names")
        return Log(path, shown, columns, unused, None, LeftOut())
    if ending not in (".csv", ".txt", ".tsv"):
        found = f'the ending "{printable(path.suffix)}"'
        raise InputError(Fault(shown, "", found, "a log ending in .csv or .parquet"))
    form, headings = text_form(path, shown)
    columns, unused = _columns(headings, shown, f"line {form.line}")
    left_out = LeftOut()
    text = TextLog(path, shown, form, columns, left_out)
    return Log(path, shown, columns, unused, text, left_out)


def _columns(
    headings: list[str], shown: str, where: str
) -> tuple[tuple[LogColumn, ...], tuple[str, ...]]:
    columns: dict[str, LogColumn] = {}
    unused = []
    for place, heading in enumerate(headings):
        name, unit = split_heading(heading)
        if name not in COLUMNS:
            unused.append(printable(heading))
            continue
        core, example = COLUMNS[name]
        if name in columns:
            raise InputError(Fault(shown, where, f"two columns {name}", "each column once"))
        if not unit:
            mend = f'Write "{name} [{example}]".'
            raise InputError(Fault(shown, where, f"{name} without a unit", "its unit", mend))
        try:
            columns[name] = LogColumn(name, place, heading, factor(unit, core))
        except UnitFault as error:
            allowed = f"a unit of {EXPECTED[core][0].split(' ', 1)[1]}"
            mend = f'Write "{name} [{example}]".'
            raise InputError(Fault(shown, where, error.found, allowed, mend)) from None
    missing = [name for name in NEEDED if name not in columns]
    if missing:
        told = f"no column {missing[0]} among {printable(', '.join(headings))}"
        hint = nearest(missing[0], tuple(headings))
        raise InputError(Fault(shown, where, told, "the columns time and force", hint))
    return tuple(columns.values()), tuple(unused)


def _parquet_headings(path: Path, shown: str) -> list[str]:
    import pyarrow as pa  # noqa: PLC0415  start-up stays quick
    import pyarrow.parquet as pq  # noqa: PLC0415

    try:
        with opened(path, shown) as file:
            schema = pq.ParquetFile(file).schema_arrow
    except (pa.ArrowException, OSError, UnicodeDecodeError) as error:
        raise InputError(damaged(shown, error)) from None
    for each in schema:
        numeric = pa.types.is_floating(each.type) or pa.types.is_integer(each.type)
        if split_heading(each.name)[0] in COLUMNS and not numeric:
            found = f"a column {printable(each.name)} of type {each.type}"
            raise InputError(Fault(shown, "", found, "a column of numbers"))
    return list(schema.names)


def _floats(batch: RecordBatch, index: int) -> Array:
    """Return a column as floats, blank cells as not-a-number."""
    values = batch.column(index).to_numpy(zero_copy_only=False)
    return np.asarray(values, dtype=np.float64)


def _sensible(values: Array) -> Array:
    """Return values with those that no instrument gives as not-a-number."""
    if values.size == 0 or max(abs(values.min()), abs(values.max())) < LONGEST:
        return values
    sensible: Array = np.where(np.abs(values) < LONGEST, values, np.nan)
    return sensible


def _batches(log: Log) -> Iterator[tuple[RecordBatch, float]]:
    import pyarrow as pa  # noqa: PLC0415  start-up stays quick

    try:
        yield from (_parquet(log) if log.text is None else log.text.batches())
    except pa.ArrowException as error:
        told = damaged(log.shown, error) if log.text is None else log.text.first_fault(error)
        raise InputError(told) from None
    except OSError as error:
        raise InputError(damaged(log.shown, error)) from None


def _parquet(log: Log) -> Iterator[tuple[RecordBatch, float]]:
    import pyarrow.parquet as pq  # noqa: PLC0415

    names = [column.heading for column in log.columns]
    with opened(log.path, log.shown) as source:
        file = pq.ParquetFile(source)
        whole, done = max(file.metadata.num_rows, 1), 0
        for batch in file.iter_batches(batch_size=PIECE_ROWS, columns=names):
            done += batch.num_rows
            yield batch.select(names), done / whole
