"""Force logs as Parquet: columns of numbers, and times as the format itself has them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from scaleup.errors import Fault, InputError
from scaleup.io.log_asked import LogAsked
from scaleup.io.log_columns import LogColumn
from scaleup.io.log_headings import Heading
from scaleup.io.log_text import damaged
from scaleup.io.reading_gate import opened
from scaleup.text import printable

if TYPE_CHECKING:
    from scaleup.arrays import Array

TICKS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9}
"""s of a tick of the format's times."""
DAY = 86400


def parquet_types(path: Path, shown: str) -> dict[str, Any]:
    """Return the type of every column by its heading, in order.

    Raises
    ------
    InputError
        If the file is damaged.
    """
    import pyarrow as pa  # noqa: PLC0415  start-up stays quick
    import pyarrow.parquet as pq  # noqa: PLC0415

    try:
        with opened(path, shown) as file:
            schema = pq.ParquetFile(file).schema_arrow
            return dict(zip(schema.names, schema.types, strict=True))
    except (pa.ArrowException, OSError, UnicodeDecodeError) as error:
        raise InputError(damaged(shown, error)) from None


def is_time(kind: Any) -> bool:
    """Return whether a type is a moment, a time of the day or a length of time."""
    import pyarrow as pa  # noqa: PLC0415

    return bool(pa.types.is_timestamp(kind) or pa.types.is_time(kind) or pa.types.is_duration(kind))


def refuse_no_numbers(kind: Any, heading: Heading, name: str, asked: LogAsked, shown: str) -> None:
    """Refuse a column that is used and has neither numbers nor, for the time, times."""
    import pyarrow as pa  # noqa: PLC0415

    numeric = pa.types.is_floating(kind) or pa.types.is_integer(kind)
    if not numeric and not (name == "time" and asked.rate is None and is_time(kind)):
        found = f"a column {printable(heading.text)} of type {kind}"
        raise InputError(Fault(shown, "", found, "a column of numbers"))


def parquet_batches(
    path: Path, shown: str, columns: tuple[LogColumn, ...], rows: int
) -> Iterator[tuple[list[Array], float]]:
    """Yield columns of so many rows as floats, with the share of the file read.

    Times of the format become s: moments and times of the day from the first row on.

    Raises
    ------
    InputError
        If the file is damaged.
    """
    import pyarrow as pa  # noqa: PLC0415
    import pyarrow.parquet as pq  # noqa: PLC0415

    names = [column.heading for column in columns]
    ticks = _Ticks()
    try:
        with opened(path, shown) as source:
            file = pq.ParquetFile(source)
            whole, done = max(file.metadata.num_rows, 1), 0
            # A reader of several row groups keeps them all; one of its own for each lets go.
            for group in range(file.metadata.num_row_groups):
                for batch in file.iter_batches(rows, row_groups=[group], columns=names):
                    done += batch.num_rows
                    cells = [batch.column(name) for name in names]
                    yield [ticks.floats(each) for each in cells], done / whole
    except (pa.ArrowException, OSError, KeyError) as error:  # a name that is there twice
        raise InputError(damaged(shown, error)) from None


class _Ticks:
    """Turns the columns of a log into floats; its times count from the first row."""

    def __init__(self) -> None:
        self._first: int | None = None
        self._last = 0
        self._midnights = 0

    def floats(self, cells: Any) -> Array:
        """Return a column as floats, nan where nothing is written; times in s."""
        import pyarrow as pa  # noqa: PLC0415

        if not is_time(cells.type):
            return np.asarray(cells.to_numpy(zero_copy_only=False), dtype=np.float64)
        short = cells.type.bit_width == 32
        whole = cells.cast(pa.int32()) if short else cells.cast(pa.int64())
        known = np.asarray(whole.is_valid().to_numpy(zero_copy_only=False), dtype=bool)
        ticks = whole.fill_null(0).to_numpy(zero_copy_only=False).astype(np.int64)
        if not known.any():
            return np.full(ticks.size, np.nan)
        second = TICKS[cells.type.unit]
        if pa.types.is_time(cells.type):
            self._past_midnight(ticks, known, round(DAY / second))
        if self._first is None:
            self._first = 0 if pa.types.is_duration(cells.type) else int(ticks[known][0])
        values: Array = np.where(known, (ticks - self._first) * second, np.nan)
        return values

    def _past_midnight(self, ticks: Any, known: Any, day: int) -> None:
        """Add the days that times of the day have passed, in place."""
        some = ticks[known]
        before = some[0] if self._first is None else self._last
        self._last = int(some[-1])
        passed = self._midnights + np.cumsum(np.diff(some, prepend=before) < -day // 2)
        self._midnights = int(passed[-1])
        ticks[known] = some + passed * day
