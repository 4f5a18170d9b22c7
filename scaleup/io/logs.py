"""Force logs, read in pieces so that an hour at 100 kHz need not fit in memory.

pyarrow reads CSV and Parquet alike in batches of bounded size, several times as fast as pandas
reads CSV in chunks, and pandas reads no Parquet without it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from scaleup.errors import Fault, InputError
from scaleup.io.log_asked import AS_WRITTEN, LogAsked
from scaleup.io.log_columns import LogColumn
from scaleup.io.log_headings import MOST, Heading
from scaleup.io.log_left_out import LeftOut
from scaleup.io.log_opening import parquet_columns, text_log
from scaleup.io.log_parquet import parquet_batches
from scaleup.io.log_sign import Sign
from scaleup.io.log_text import TextLog
from scaleup.io.reading_gate import opened
from scaleup.short_repr import short_repr
from scaleup.text import printable

if TYPE_CHECKING:
    from scaleup.arrays import Array, Places

NEEDED = ("time", "force")
PIECE_ROWS = 1 << 18
"""Rows of Parquet read at a time."""
REPEATS_ALLOWED = 0.01
"""Share of repeated time stamps from which the stamps are too coarse to be used."""
LONGEST = 1e12
"""A time in s, a force in N or a position in mm beyond this is no measurement."""
LATE = 1e8
"""s; a first time beyond it counts from a date, and is taken off to keep its digits."""


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
    rate: float | None = None
    """Rows in a second, where the time is the number of the row."""
    told: list[str] = field(default_factory=list)
    """How the file was read where another way was possible; complete once it is read."""

    def has(self, name: str) -> bool:
        """Return whether a column was logged."""
        return any(column.name == name for column in self.columns)

    @property
    def heading(self) -> str:
        """Return the heading of the force as it stands in the file."""
        return next(each.heading for each in self.columns if each.name == "force")

    def pieces(self) -> Iterator[Piece]:
        """Yield the log piece by piece, rows that cannot be used left out and counted.

        Raises
        ------
        InputError
            If a cell is no number, time goes backward, its stamps repeat in more than one row of
            a hundred, a row has other cells than headings, a force is beyond sense or of either
            sign, or the file is damaged.
        """
        last, row, first = -np.inf, 0, 0.0
        sign = Sign(self.shown)
        self.told.clear()
        for columns, read in self._batches():
            if row == 0:
                first = self._first_if_late(columns)
            values = self._values(columns, row, first)
            count = values["time"].size
            piece, longest = self._cleaned(values, row, last)
            row += count
            if piece["time"].size:
                last = float(piece["time"][-1])
                force = sign.turned(piece["force"], last=read >= 1.0)
                yield Piece(
                    piece["time"], force, piece.get("position"), piece.get("ejection force"),
                    longest, read,
                )  # fmt: skip
        self.told += [*self._read_as(), *sign.told]

    def _read_as(self) -> list[str]:
        """Return which column the force is, how numbers were read, and what the time is."""
        told = [] if self.text is None else list(self.text.told)
        if Heading.of(0, self.heading).name != "force":
            told.append(f'the force is the column "{printable(self.heading)}"')
        if self.rate is not None:
            counted = "a count of samples" if self.has("time") else "the number of the row"
            told.append(f"the time is {counted} at {self.rate:g} samples/s, as asked")
        return told

    def _batches(self) -> Iterator[tuple[list[Array], float]]:
        if self.text is None:
            return parquet_batches(self.path, self.shown, self.columns, PIECE_ROWS)
        return self.text.batches()

    def _first_if_late(self, columns: list[Array]) -> float:
        """Return the first time, in the unit of its heading, if it counts from a date, else 0."""
        for column, values in zip(self.columns, columns, strict=True):
            known = values[np.isfinite(values)]
            if column.name == "time" and known.size:
                late = LATE < known[0] * column.factor < LONGEST
                return float(known[0]) if late else 0.0
        return 0.0

    def _values(self, columns: list[Array], row: int, first: float) -> dict[str, Array]:
        """Return columns in core units by their names, and the time of rows without one."""
        with np.errstate(over="ignore"):  # no measurement, and left out as such below
            values = {
                column.name: (each - first if first and column.name == "time" else each)
                * column.factor
                for column, each in zip(self.columns, columns, strict=True)
            }
            for name in values.keys() - NEEDED:
                values[name] = _sensible(values[name])
        if "time" not in values and self.rate is not None:
            values["time"] = (row + np.arange(values["force"].size)) / self.rate
        return values

    def _cleaned(
        self, values: dict[str, Array], row: int, last: float
    ) -> tuple[dict[str, Array], float]:
        """Return the rows with a time and a force, later than the row before, and their step."""
        time, force = values["time"], values["force"]
        if time.size == 0:
            return values, 0.0
        ends = (time.min(), time.max(), force.min(), force.max())
        kept = None
        if not np.all(np.abs(ends) < LONGEST):
            bad = ~((np.abs(time) < LONGEST) & (np.abs(force) < LONGEST))
            self.left_out.add("blank", int(bad.sum()), row + int(bad.argmax()) + 1)
            values = {name: each[~bad] for name, each in values.items()}
            time, kept = values["time"], np.flatnonzero(~bad)
            if time.size == 0:
                return values, 0.0
        self._refuse_large(values["force"], row, kept)
        step = np.diff(time, prepend=last if np.isfinite(last) else time[0] - 1e-9)
        if step.min() <= 0.0:
            self._refuse_backward(step, row, kept)
            repeated = step == 0.0
            self.left_out.add("repeated", int(repeated.sum()), row + int(repeated.argmax()) + 1)
            if repeated.mean() > REPEATS_ALLOWED:
                found = f"the same time stamp in {repeated.mean() * 100:.0f} % of the rows"
                mend = (
                    "Write the time with more digits, or thin the log; scaleup record takes "
                    '--rate "1 kHz" in its place.'
                )
                raise InputError(
                    Fault(self.shown, "column time", found, "a time for each row", mend)
                )
            values = {name: each[~repeated] for name, each in values.items()}
        return values, float(step.max())

    def _refuse_large(self, force: Array, row: int, kept: Places | None) -> None:
        if max(-force.min(), force.max()) > MOST["force"]:
            first = int((np.abs(force) > MOST["force"]).argmax())
            where = f"{self._place(first, row, kept)}, column force"
            found = f'{force[first]:.3g} N, read by the heading "{printable(self.heading)}"'
            allowed = f"forces of a press, up to {MOST['force'] / 1e6:g} MN"
            mend = "Check the unit and the decimal sign."
            raise InputError(Fault(self.shown, where, found, allowed, mend))

    def _refuse_backward(self, step: Array, row: int, kept: Places | None) -> None:
        backward = np.flatnonzero(step < 0.0)
        if backward.size:
            where = f"{self._place(int(backward[0]), row, kept)}, column time"
            found = f"a time {-float(step[backward[0]]):.4g} s before the one above it"
            mend = "Part the file where the clock was set back."
            raise InputError(Fault(self.shown, where, found, "times that increase", mend))

    def _place(self, index: int, row: int, kept: Places | None) -> str:
        """Return where in the file a row is: one of those kept of a batch that begins at a row."""
        number = row + 1 + (index if kept is None else int(kept[index]))
        if self.text is None:
            return f"row {number}"
        line = next(islice(self.text.lines(), number - 1, None))[0]
        return f"line {line}"


def open_log(path: Path, shown: str = "", asked: LogAsked = AS_WRITTEN) -> Log:
    """Return a log whose headings were found; a CSV file may have notes above them.

    Columns are `time`, `force`, `position` (distance of the tips as the gauge reads it) and
    `ejection force`, each with its unit as in ``time [ms]``, ``time (ms)`` or in the line below;
    names of the trade for time and force are known (`log_headings`). Other columns are left alone.
    CSV cells are parted by commas, semicolons or tabs; the decimal sign, and what parts thousands,
    are found. A time may be a clock or a date (`log_clock`).

    Parameters
    ----------
    path
        Where the file is.
    shown
        Its name in a fault; the file's own if empty.
    asked
        What is told of it beside the file: which column is meant, its rate, what a volt stands for.

    Raises
    ------
    InputError
        If there is no such file, no line of headings, no unit, a unit of something else, two
        columns that could be one, or numbers that could be read in two ways.
    """
    shown = shown or path.name
    opened(path, shown, allowed="a log ending in .csv or .parquet").close()
    ending, left_out = path.suffix.lower(), LeftOut()
    if ending == ".parquet":
        columns, unused = parquet_columns(path, shown, asked)
        return Log(path, shown, columns, unused, None, left_out, asked.rate)
    if ending not in (".csv", ".txt", ".tsv"):
        found = f'the ending "{printable(path.suffix)}"'
        raise InputError(Fault(shown, "", found, "a log ending in .csv or .parquet"))
    text, unused = text_log(path, shown, asked, left_out)
    return Log(path, shown, text.columns, unused, text, left_out, asked.rate)


def _sensible(values: Array) -> Array:
    """Return values with those that no instrument gives as not-a-number."""
    if values.size == 0 or max(abs(values.min()), abs(values.max())) < LONGEST:
        return values
    sensible: Array = np.where(np.abs(values) < LONGEST, values, np.nan)
    return sensible
