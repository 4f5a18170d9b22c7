"""Force logs, read in pieces so that an hour at 100 kHz need not fit in memory.

pyarrow reads CSV and Parquet alike in batches of bounded size, several times as fast as pandas
reads CSV in chunks, and pandas reads no Parquet without it.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from scaleup.errors import Fault, InputError
from scaleup.files.text import NUMBER, printable
from scaleup.files.toml import nearest
from scaleup.files.units import EXPECTED, UnitFault, factor, split_heading

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
NEEDED = ("time", "force")
HEAD_BYTES, HEAD_LINES = 65536, 200
"""How far into a file its headings are looked for."""
PIECE_ROWS, PIECE_BYTES = 1 << 20, 1 << 24
"""Rows of Parquet and bytes of CSV read at a time."""
REPEATS_ALLOWED = 0.01
"""Share of repeated time stamps from which the stamps are too coarse to be used."""
BLANKS = ["", "nan", "NaN", "NAN", "-", "n/a", "NA", "null"]
LONGEST = 1e12
"""A time in s or force in N beyond this is no measurement."""


@dataclass(frozen=True)
class LogColumn:
    """A column of a log that is used."""

    name: str
    place: int
    heading: str
    factor: float


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


@dataclass
class Log:
    """A log that has been opened: its headings are known, its rows are not read yet."""

    path: Path
    shown: str
    columns: tuple[LogColumn, ...]
    unused: tuple[str, ...]
    """Headings of columns that nothing here uses."""
    text: _TextForm | None
    """None for Parquet."""
    left_out: LeftOut = field(default_factory=LeftOut)

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
            values = {
                column.name: _floats(batch, index) * column.factor
                for index, column in enumerate(self.columns)
            }
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
        line = next(islice(_lines(self, self.text), row - 1, None))[0]
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
    if not path.is_file():
        raise InputError(Fault(shown, "", "no such file", "a log ending in .csv or .parquet"))
    ending = path.suffix.lower()
    if ending == ".parquet":
        headings = _parquet_headings(path, shown)
        columns, unused = _columns(headings, shown, "the column names")
        return Log(path, shown, columns, unused, None)
    if ending not in (".csv", ".txt", ".tsv"):
        found = f'the ending "{printable(path.suffix)}"'
        raise InputError(Fault(shown, "", found, "a log ending in .csv or .parquet"))
    text, headings = _text_form(path, shown)
    columns, unused = _columns(headings, shown, f"line {text.line}")
    return Log(path, shown, columns, unused, text)


@dataclass(frozen=True)
class _TextForm:
    """How the rows of a CSV file are written."""

    line: int
    """Line of the headings, counted from 1."""
    width: int
    delimiter: str
    decimal: str
    encoding: str


def _text_form(path: Path, shown: str) -> tuple[_TextForm, list[str]]:
    with path.open("rb") as file:
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
                return _TextForm(number, len(cells), delimiter, decimal, encoding), cells
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


def _columns(
    headings: list[str], shown: str, where: str
) -> tuple[tuple[LogColumn, ...], tuple[str, ...]]:
    found: dict[str, LogColumn] = {}
    unused = []
    for place, heading in enumerate(headings):
        name, unit = split_heading(heading)
        if name not in COLUMNS:
            unused.append(printable(heading))
            continue
        core, example = COLUMNS[name]
        if name in found:
            raise InputError(Fault(shown, where, f"two columns {name}", "each column once"))
        if not unit:
            mend = f'Write "{name} [{example}]".'
            raise InputError(Fault(shown, where, f"{name} without a unit", "its unit", mend))
        try:
            found[name] = LogColumn(name, place, heading, factor(unit, core))
        except UnitFault as error:
            allowed = f"a unit of {EXPECTED[core][0].split(' ', 1)[1]}"
            mend = f'Write "{name} [{example}]".'
            raise InputError(Fault(shown, where, error.found, allowed, mend)) from None
    missing = [name for name in NEEDED if name not in found]
    if missing:
        told = f"no column {missing[0]} among {printable(', '.join(headings))}"
        hint = nearest(missing[0], tuple(headings))
        raise InputError(Fault(shown, where, told, "the columns time and force", hint))
    return tuple(found.values()), tuple(unused)


def _parquet_headings(path: Path, shown: str) -> list[str]:
    import pyarrow as pa  # noqa: PLC0415  start-up stays quick
    import pyarrow.parquet as pq  # noqa: PLC0415

    try:
        schema = pq.ParquetFile(path).schema_arrow
    except (pa.ArrowException, OSError) as error:
        raise InputError(_damaged(shown, error)) from None
    for each in schema:
        numeric = pa.types.is_floating(each.type) or pa.types.is_integer(each.type)
        if split_heading(each.name)[0] in COLUMNS and not numeric:
            found = f"a column {printable(each.name)} of type {each.type}"
            raise InputError(Fault(shown, "", found, "a column of numbers"))
    return list(schema.names)


def _damaged(shown: str, error: Exception) -> Fault:
    told = printable(str(error).splitlines()[0] if str(error) else type(error).__name__, 120)
    return Fault(shown, "", f"a file that cannot be read ({told})", "a whole log", "Copy it again.")


def _floats(batch: RecordBatch, index: int) -> Array:
    """Return a column as floats, blank cells as not-a-number."""
    values = batch.column(index).to_numpy(zero_copy_only=False)
    return np.asarray(values, dtype=np.float64)


def _batches(log: Log) -> Iterator[tuple[RecordBatch, float]]:
    import pyarrow as pa  # noqa: PLC0415  start-up stays quick

    try:
        yield from (_parquet(log) if log.text is None else _csv(log, log.text))
    except pa.ArrowException as error:
        raise InputError(_first_fault(log, error)) from None
    except OSError as error:
        raise InputError(_damaged(log.shown, error)) from None


def _parquet(log: Log) -> Iterator[tuple[RecordBatch, float]]:
    import pyarrow.parquet as pq  # noqa: PLC0415

    file = pq.ParquetFile(log.path)
    names = [column.heading for column in log.columns]
    whole, done = max(file.metadata.num_rows, 1), 0
    for batch in file.iter_batches(batch_size=PIECE_ROWS, columns=names):
        done += batch.num_rows
        yield batch.select(names), done / whole


def _csv(log: Log, text: _TextForm) -> Iterator[tuple[RecordBatch, float]]:
    import pyarrow as pa  # noqa: PLC0415
    from pyarrow import csv  # noqa: PLC0415

    uneven: list[int] = []

    def handle(row: Any) -> str:
        uneven.append(int(row.actual_columns))
        return "skip"

    names = [f"c{index}" for index in range(text.width)]
    wanted = [names[column.place] for column in log.columns]
    size = max(log.path.stat().st_size, 1)
    done = 0
    try:
        reader = csv.open_csv(
            log.path,
            csv.ReadOptions(
                column_names=names, skip_rows=text.line, block_size=PIECE_BYTES,
                encoding="utf-8" if text.encoding == "utf-8-sig" else text.encoding,
            ),
            csv.ParseOptions(delimiter=text.delimiter, invalid_row_handler=handle),
            csv.ConvertOptions(
                column_types=dict.fromkeys(wanted, pa.float64()), include_columns=wanted,
                decimal_point=text.decimal, null_values=BLANKS,
            ),
        )  # fmt: skip
    except pa.ArrowInvalid as error:
        if "Empty CSV file" in str(error):
            allowed = "rows of numbers"
            raise InputError(Fault(log.shown, "", "headings without a row", allowed)) from None
        raise
    waiting = None
    rows = 0
    for batch in reader:
        if waiting is not None:
            yield waiting, min(done / size, 1.0)
        waiting, rows = batch, rows + batch.num_rows
        done += batch.nbytes * 2
    if uneven:
        _judge_uneven(log, text, len(uneven))
    elif waiting is not None and not _ends_a_line(log.path):
        log.left_out.add("cut", 1, rows)
        waiting = waiting.slice(0, waiting.num_rows - 1)
    if waiting is not None:
        yield waiting, 1.0


def _ends_a_line(path: Path) -> bool:
    """Return whether a file ends with a line end; if not, its last number may be cut short."""
    with path.open("rb") as file:
        file.seek(-min(2, path.stat().st_size), 2)
        return file.read().rstrip(b"\0").endswith((b"\n", b"\r"))


def _judge_uneven(log: Log, text: _TextForm, count: int) -> None:
    """Leave out a last row that was cut short; refuse rows of another width elsewhere."""
    for rows, (line, cells) in enumerate(_lines(log, text), start=1):
        if len(cells) != text.width:
            last = next((n for n, _ in _lines(log, text, after=line)), None) is None
            if last and count == 1:
                log.left_out.add("cut", 1, rows)
                return
            found, allowed = f"{len(cells)} cells", f"{text.width} cells, one for each heading"
            raise InputError(Fault(log.shown, f"line {line}", found, allowed))


def _lines(log: Log, text: _TextForm, after: int = 0) -> Iterator[tuple[int, list[str]]]:
    """Yield the lines under the headings that are not blank, with their numbers."""
    with log.path.open(encoding=text.encoding, errors="replace") as file:
        for number, line in enumerate(file, start=1):
            if number > max(text.line, after) and line.strip():
                yield number, line.rstrip("\r\n").split(text.delimiter)


def _first_fault(log: Log, error: Exception) -> Fault:
    """Return the first cell that is no number, by its line; else what the reader said."""
    if log.text is None:
        return _damaged(log.shown, error)
    for line, cells in _lines(log, log.text):
        for column in log.columns:
            cell = cells[column.place].strip() if column.place < len(cells) else ""
            plain = cell.strip('"')
            known = plain in BLANKS or (
                NUMBER.fullmatch(plain) and ("," not in plain or log.text.decimal == ",")
            )
            if not known:
                where = f"line {line}, column {column.name}"
                return Fault(log.shown, where, f'"{printable(cell)}"', "a number")
    return _damaged(log.shown, error)
