"""A log's file opened as far as its headings: which columns, in which unit, written how."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from scaleup.errors import Fault, InputError
from scaleup.io.log_asked import LogAsked
from scaleup.io.log_columns import LogColumn, placed, with_unit
from scaleup.io.log_decimal_sign import UnclearNumbersError, numbers_of
from scaleup.io.log_form import Head, has_clock, head_of, with_later_rows
from scaleup.io.log_headings import MOST, Heading
from scaleup.io.log_left_out import LeftOut
from scaleup.io.log_numbers import Numbers
from scaleup.io.log_parquet import is_time, parquet_types, refuse_no_numbers
from scaleup.io.log_text import TextLog
from scaleup.text import printable


def text_log(
    path: Path, shown: str, asked: LogAsked, left_out: LeftOut
) -> tuple[TextLog, tuple[str, ...]]:
    """Return a CSV file whose headings were found, and the headings that nothing uses.

    Raises
    ------
    InputError
        If a needed column or its unit is missing, or it is not clear how numbers are written.
    """
    head = head_of(path, shown, asked)
    where = f"line {head.form.line}"
    found, unused = placed(head.headings, asked, shown, where)
    clocks = {
        name for name, each in found.items() if name == "time" and has_clock(head.rows, each.place)
    }
    columns = _columns(found, clocks - ({"time"} if asked.rate else set()), asked, shown, where)
    text = TextLog(path, shown, head.form, columns, left_out, Numbers())
    text.numbers = _numbers(head, text)
    return text, unused


def parquet_columns(
    path: Path, shown: str, asked: LogAsked
) -> tuple[tuple[LogColumn, ...], tuple[str, ...]]:
    """Return the columns of a Parquet file that are used, and the headings of the others.

    Raises
    ------
    InputError
        If the file is damaged, or a needed column, its unit or its numbers are missing.
    """
    types = parquet_types(path, shown)
    found, unused = placed(list(types), asked, shown, "the column names")
    for name, heading in found.items():
        refuse_no_numbers(types[heading.text], heading, name, asked, shown)
    times = {name for name, each in found.items() if is_time(types[each.text])}
    return _columns(found, times, asked, shown, "the column names"), unused


def _columns(
    found: Mapping[str, Heading], times: set[str], asked: LogAsked, shown: str, where: str
) -> tuple[LogColumn, ...]:
    """Return columns with their factors; those of `times` say their unit themselves."""
    return tuple(
        LogColumn(name, each.place, each.text, 1.0, clock=True)
        if name in times
        else with_unit(name, each, asked, shown, where)
        for name, each in found.items()
    )


def _numbers(head: Head, text: TextLog) -> Numbers:
    """Return how the numbers of a file are written, from its head and what shows it further on."""
    counted = [column for column in text.columns if not column.clock]
    cells = {each.name: _cells(head, each.place) for each in counted}
    if not any(mark in cell for column in cells.values() for cell in column for mark in ".,"):
        head = with_later_rows(head, text.path, text.shown)
        cells = {each.name: _cells(head, each.place) for each in counted}
    used = {each.place for each in text.columns}
    beside = [
        cell for row in head.rows for place, cell in enumerate(row) if cell and place not in used
    ]
    most = {each.name: MOST.get(each.name, float("inf")) / each.factor for each in counted}
    try:
        return numbers_of(cells, beside, most, "." if text.form.delimiter == "," else "")
    except UnclearNumbersError as error:
        place = next(each.place for each in counted if each.name == error.column)
        rows = (line for line, row in text.lines() if row[place : place + 1] == [error.cell])
        where = f"line {next(rows)}, column {error.column}"
        mend = "Write all numbers with one decimal sign, and thousands together."
        allowed = "numbers whose decimal sign shows"
        raise InputError(
            Fault(text.shown, where, printable(error.found, 200), allowed, mend)
        ) from None


def _cells(head: Head, place: int) -> list[str]:
    return [row[place] for row in head.rows if len(row) > place and row[place]]
