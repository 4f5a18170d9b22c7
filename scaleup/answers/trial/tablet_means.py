"""Means and spreads of runs whose tablets and timed samples were written down one by one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from scaleup.errors import Fault, InputError
from scaleup.io.trial_sheet.columns import RUN_COLUMNS, Value, by_name, shown_value
from scaleup.io.trial_sheet.reading import SheetRow, TrialSheet

OF_TABLETS = ("weight", "thickness", "breaking force")
OF_SAMPLES = ("force", "precompression", "ejection force")
SAME = 0.005
"""Share by which a mean that was filled in may differ from that of its tablets."""
SLIPS = {"weight": 1.3, "thickness": 1.3, "breaking force": 3.0}
"""How many times the middle of its run, or less than its part, a tablet is a slip of typing (a
judgement of this program)."""
LEAST = 3
"""Tablets from which a standard deviation is taken."""


def with_means(sheet: TrialSheet) -> tuple[SheetRow, ...]:
    """Return the runs of a sheet, what their tablets and samples say filled in where it is blank.

    Raises
    ------
    InputError
        If a tablet is so far from the others of its run that it is a slip, or a mean that was
        filled in is another than that of the tablets.
    """
    faults = [
        fault for row in sheet.rows for fault in (*_slips(row, sheet), *_other_means(row, sheet))
    ]
    if faults:
        raise InputError(faults)
    return tuple(_filled(row, sheet) for row in sheet.rows)


def _filled(row: SheetRow, sheet: TrialSheet) -> SheetRow:
    tablets, samples = _of_run(sheet.tablets, row), _of_run(sheet.samples, row)
    found: dict[str, Value] = {}
    for name in OF_TABLETS:
        found.update(_mean_and_spread(name, _numbers(tablets, name)))
    for name in OF_SAMPLES:
        read = _numbers(samples, name)
        if read.size:
            found[name] = float(read.mean())
    spreads = _numbers(samples, "force SD")
    if spreads.size:
        found["force SD"] = float(np.sqrt(np.mean(spreads**2)))
    times = _numbers(samples, "elapsed")
    if times.size:
        found["elapsed"] = float(times.mean())
    counts = [_numbers(tablets, name).size for name in OF_TABLETS]
    if any(counts):
        found["tablets"] = float(max(counts))
    given = {name: value for name, value in row.values.items() if value is not None}
    return replace(row, values={**found, **given})


def _mean_and_spread(name: str, values: np.ndarray) -> dict[str, Value]:
    if not values.size:
        return {}
    found: dict[str, Value] = {name: float(values.mean())}
    if values.size >= LEAST:
        found[f"{name} SD"] = float(values.std(ddof=1))
    return found


def _of_run(rows: Iterable[SheetRow], run: SheetRow) -> list[SheetRow]:
    return [row for row in rows if row.text("run") == run.text("run")]


def _numbers(rows: Iterable[SheetRow], name: str) -> np.ndarray:
    read = (row.number(name) for row in rows)
    return np.array([value for value in read if value is not None])


def _slips(row: SheetRow, sheet: TrialSheet) -> Iterator[Fault]:
    """Yield the tablets that are no tablets of their run: a digit, a unit or a column slipped."""
    columns = by_name(RUN_COLUMNS)
    for name, far in SLIPS.items():
        tablets = _of_run(sheet.tablets, row)
        middle = float(np.median(_numbers(tablets, name))) if _numbers(tablets, name).size else 0.0
        for tablet in tablets:
            value = tablet.number(name)
            if value is None or middle / far <= value <= middle * far:
                continue
            column = columns[name]
            yield Fault(
                sheet.shown,
                tablet.where(name),
                f"{shown_value(column, value)} {column.unit}",
                f"within {far:g} times {shown_value(column, middle)} {column.unit}, the middle of "
                f"{row.text('run')}",
                "Check the number; leave the cell blank if in doubt, and say so in the note.",
            )


def _other_means(row: SheetRow, sheet: TrialSheet) -> Iterator[Fault]:
    columns = by_name(RUN_COLUMNS)
    for name in OF_TABLETS:
        given, read = row.number(name), _numbers(_of_run(sheet.tablets, row), name)
        if given is None or not read.size or abs(given / float(read.mean()) - 1.0) <= SAME:
            continue
        column, mean = columns[name], float(read.mean())
        yield Fault(
            sheet.shown,
            row.where(name),
            f"{shown_value(column, given)} {column.unit}",
            f"{shown_value(column, mean)} {column.unit}, the mean of its {read.size} tablets",
            "Correct the one that is wrong, or leave the mean blank.",
        )
