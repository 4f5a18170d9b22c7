"""Times of a log that are written as a clock or as a date: turned into s from the first row."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from scaleup.arrays import Array, Flags

DAY = 86400.0
_CLOCK = (
    r"(?P<h>[0-9]{1,2}):(?P<m>[0-5][0-9]):(?P<s>[0-5][0-9])(?:[.,:](?P<f>[0-9]{1,9}))?"
    r"(?: ?(?P<half>[AaPp])[Mm])?(?:Z| ?(?P<zone>[+-][0-9]{2}):?(?P<quarter>[0-9]{2}))?"
)
_ISO = r"(?P<y>[0-9]{4})-(?P<mo>0[1-9]|1[0-2])-(?P<d>0[1-9]|[12][0-9]|3[01])"
_DOTTED = r"(?P<d>0?[1-9]|[12][0-9]|3[01])\.(?P<mo>0?[1-9]|1[0-2])\.(?P<y>[0-9]{4})"
FORMS = (_CLOCK, rf"{_ISO}(?:T|,? +){_CLOCK}", rf"{_DOTTED},? +{_CLOCK}")
_KNOWN = [re.compile(each, re.ASCII) for each in FORMS]
_LIKE = re.compile(r".*[0-9]:[0-9]{2}(?:[:.,]|$).*", re.ASCII)
WRITTEN = 'times such as 10:15:03.250, "2026-11-02 10:15:03.250" or "02.11.2026 10:15:03.250"'


def is_clock(cell: str) -> bool:
    """Return whether a cell is meant as a time of the day, readable or not.

    >>> is_clock("10:15:03,250"), is_clock("11/02/2026 10:15"), is_clock("12.5")
    (True, True, False)
    """
    return _LIKE.fullmatch(cell) is not None


def readable(cell: str) -> bool:
    """Return whether a cell is a time of the day that can be read without a guess."""
    return any(each.fullmatch(cell) for each in _KNOWN)


class Clock:
    """Reads the times of a log batch by batch, in s from its first row.

    A clock without a date that falls by more than half a day has passed midnight.
    """

    def __init__(self) -> None:
        self._day: float | None = None
        self._second = 0.0
        self._midnights = 0.0
        self._last = -np.inf

    def seconds(self, cells: Any) -> Array | None:
        """Return pyarrow strings as s from the first row, None if one is no time; blanks are nan.

        Shape (rows,).
        """
        from pyarrow import compute as pc  # noqa: PLC0415  start-up stays quick

        cells = pc.utf8_trim_whitespace(cells)
        for form in FORMS:
            fields = pc.extract_regex(cells, f"^(?:{form})$")
            if fields.null_count == cells.null_count:
                return self._from_first(*_days_and_seconds(fields), dated="<y>" in form)
        return None

    def _from_first(self, days: Array, seconds: Array, *, dated: bool) -> Array:
        known = np.flatnonzero(~np.isnan(seconds))
        if known.size == 0:
            return seconds
        if self._day is None:
            self._day, self._second = float(days[known[0]]), float(seconds[known[0]])
        if not dated:
            days = np.full(seconds.size, self._midnights)
            steps = np.diff(seconds[known], prepend=max(self._last, seconds[known[0]] - DAY / 4))
            if np.isfinite(self._last):
                steps[0] = seconds[known[0]] - self._last
            days[known] += np.cumsum(steps < -DAY / 2)
            self._midnights, self._last = float(days[known[-1]]), float(seconds[known[-1]])
        result: Array = (days - (self._day if dated else 0.0)) * DAY + (seconds - self._second)
        return result


def _days_and_seconds(fields: Any) -> tuple[Array, Array]:
    """Return days since 1970, 0 where no date is written, and s of the day."""
    names = [each.name for each in fields.type]

    def number(name: str) -> Array:
        return _number(fields, name)

    hours = number("h")
    half = _texts(fields, "half")
    if half is not None:
        hours = np.where(half == "", hours, hours % 12.0 + 12.0 * (np.char.lower(half) == "p"))
    fraction = _number(fields, "f", "0.")
    seconds = hours * 3600.0 + number("m") * 60.0 + number("s") + np.nan_to_num(fraction)
    zone, quarter = np.nan_to_num(number("zone")), np.nan_to_num(number("quarter"))
    seconds -= zone * 3600.0 + np.copysign(quarter, zone) * 60.0
    if "y" not in names:
        return np.zeros(seconds.size), seconds
    blank: Flags = np.isnan(seconds)
    year, month, day = (
        np.where(blank, 1.0, number(name)).astype(np.int64) for name in ("y", "mo", "d")
    )
    months = (year - 1970).astype("datetime64[Y]").astype("datetime64[M]") + (month - 1)
    return (months.astype("datetime64[D]") + (day - 1)).astype(np.float64), seconds


def _number(fields: Any, name: str, before: str = "") -> Array:
    """Return a field as floats, nan where nothing is written."""
    import pyarrow as pa  # noqa: PLC0415
    from pyarrow import compute as pc  # noqa: PLC0415

    texts = pc.struct_field(fields, name)
    texts = pc.if_else(pc.equal(texts, ""), None, texts)
    if before:
        texts = pc.binary_join_element_wise(before, texts, "")
    values: Array = pc.cast(texts, pa.float64()).to_numpy(zero_copy_only=False)
    return values


def _texts(fields: Any, name: str) -> Any:
    """Return a field as texts, None where it is written nowhere."""
    from pyarrow import compute as pc  # noqa: PLC0415

    texts = pc.fill_null(pc.struct_field(fields, name), "")
    if not pc.any(pc.not_equal(texts, ""), min_count=0).as_py():
        return None
    return np.asarray(texts.to_pylist(), dtype=np.str_)


def first_unreadable(cells: Sequence[str]) -> str | None:
    """Return the first cell that is no readable time, None if all are."""
    return next((each for each in cells if not readable(each)), None)
