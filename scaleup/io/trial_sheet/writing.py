"""Writes a trial sheet as CSV and as a workbook."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from scaleup.io.csv_table import csv_table
from scaleup.io.trial_sheet.columns import (
    MOMENTS,
    RUN_COLUMNS,
    RUNS,
    SAMPLES,
    TABLES,
    TABLETS,
    SheetColumn,
    Value,
    shown_value,
)
from scaleup.io.trial_sheet.sheets import write_footer, write_lines, write_record, write_table
from scaleup.io.workbook_writing import workbook_bytes

Rows = Sequence[dict[str, Value]]
RECORD, PLAN = "record", "plan"
"""Sheets of a workbook beside its three tables."""


@dataclass(frozen=True)
class SheetText:
    """What stands in a workbook beside its tables."""

    blanks: Sequence[str]
    """Facts of the trial to fill in, by their names."""
    facts: Sequence[tuple[str, str]]
    """Facts of the plan, by their names."""
    plan: Sequence[str]
    """The plan in lines; one that does not begin with a space is a heading."""
    footer: str
    """What every printed page carries."""


def csv_sheet(rows: Rows, head: Sequence[str]) -> str:
    """Return the runs as CSV; `head` are lines of comment above them."""
    return _csv(RUN_COLUMNS, rows, head)


def csv_samples(rows: Rows, head: Sequence[str]) -> str:
    """Return a blank line for each timed sample of the runs."""
    return _csv(TABLES[SAMPLES], sample_rows(rows), head)


def csv_tablets(rows: Rows, head: Sequence[str]) -> str:
    """Return a blank line for each tablet to sample from the runs."""
    return _csv(TABLES[TABLETS], tablet_rows(rows), head)


def _csv(columns: tuple[SheetColumn, ...], rows: Rows, head: Sequence[str]) -> str:
    cells = [[shown_value(column, row.get(column.name)) for column in columns] for row in rows]
    return csv_table([column.heading for column in columns], cells, head)


def sample_rows(rows: Rows) -> list[dict[str, Value]]:
    """Return a row for each timed sample of the runs, in order."""
    return [{"run": row["run"], "sample": moment} for row in rows for moment in MOMENTS]


def tablet_rows(rows: Rows) -> list[dict[str, Value]]:
    """Return a row for each tablet to sample, spread evenly over the samples of its run."""
    return [
        {"run": row["run"], "sample": moment, "tablet": float(number)}
        for row in rows
        for moment, number in spread_over_samples(_count(row))
    ]


def _count(row: dict[str, Value]) -> int:
    count = row.get("tablets to sample")
    return int(count) if isinstance(count, int | float) else 0


def spread_over_samples(tablets: int) -> list[tuple[str, int]]:
    """Return in which sample each tablet of a run is taken, with its number in the run.

    >>> spread_over_samples(4)
    [('start', 1), ('start', 2), ('middle', 3), ('end', 4)]
    """
    each, more = divmod(tablets, len(MOMENTS))
    counts = [each + (place < more) for place in range(len(MOMENTS))]
    moments = [moment for moment, count in zip(MOMENTS, counts, strict=True) for _ in range(count)]
    return [(moment, number) for number, moment in enumerate(moments, start=1)]


def xlsx_sheet(rows: Rows, text: SheetText) -> bytes:
    """Return the sheet as a workbook, locked but for its blanks; the same rows give the same bytes.

    Its sheets are the record to fill in, the runs, their samples, their tablets and the plan.
    """
    from openpyxl import Workbook  # noqa: PLC0415  start-up stays quick

    book = Workbook()
    book.remove(book.worksheets[0])
    write_record(book.create_sheet(RECORD), text.blanks, text.facts)
    tables = {RUNS: rows, SAMPLES: sample_rows(rows), TABLETS: tablet_rows(rows)}
    for name, lines in tables.items():
        write_table(book.create_sheet(name), TABLES[name], lines)
    write_lines(book.create_sheet(PLAN), text.plan)
    for sheet in book.worksheets:
        write_footer(sheet, text.footer)
    return workbook_bytes(book)
