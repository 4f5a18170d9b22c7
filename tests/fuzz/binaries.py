"""Workbooks and Parquet logs, made from the example tables and then made odd or broken."""

from __future__ import annotations

import csv
import datetime
import io
import random
from collections.abc import Callable
from math import isnan
from pathlib import Path
from typing import Any

import openpyxl
import pyarrow as pa
import pyarrow.parquet as pq

from tests.fuzz.odd import odd_csv
from tests.fuzz.ways import broken_zip, mutated

CELLS: tuple[Any, ...] = (
    None, True, 0, -1, 1e308, 10**30, "nan", "inf", "", " ", "1,5", "=1/0", "=A1+1", "#DIV/0!",
    "<b onload=x>", "12 kN", datetime.datetime(2024, 2, 3, 4, 5), datetime.time(1, 2),
    datetime.timedelta(days=1), "x" * 32_000,
)  # fmt: skip
"""What a cell of a workbook may hold that a run table does not expect."""


def odd_workbook(table: Path, rng: random.Random) -> bytes:
    """Return a table as a workbook: odd values, odd cells, or a broken file."""
    text = table.read_text(encoding="utf-8")
    way = rng.choice(("values", "cells", "zip", "zip"))
    rows = list(csv.reader(odd_csv(text, rng).splitlines()))
    data = workbook(rows, rng if way == "cells" else None)
    return broken_zip(data, rng) if way == "zip" else data


def workbook(rows: list[list[str]], rng: random.Random | None = None) -> bytes:
    """Return rows as a workbook, numbers as numbers; a few cells are odd if there is chance."""
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    for row in rows:
        sheet.append([_number(cell) for cell in row])
    if rng is not None:
        for _ in range(rng.choice((1, 2, 5))):
            place = rng.randint(1, len(rows) + 1), rng.randint(1, len(rows[0]) + 1)
            sheet.cell(*place).value = rng.choice(CELLS)
        if rng.random() < 0.2:
            book.create_sheet(rng.choice(("runs", "Sheet2")))
        if rng.random() < 0.2:
            sheet.merge_cells(start_row=1, end_row=2, start_column=1, end_column=2)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _number(cell: str) -> str | float:
    try:
        return float(cell)
    except ValueError:
        return cell


def odd_parquet(log: Path, rng: random.Random) -> bytes:
    """Return a log as Parquet: odd values, odd columns, or a broken file."""
    columns = _columns(log, rng)
    way = rng.choice(("values", "columns", "broken"))
    if way == "columns":
        for _ in range(rng.choice((1, 2))):
            _odd_column(columns, rng)
    names = [name for name, _ in columns]
    out = io.BytesIO()
    with pq.ParquetWriter(out, pa.schema([(n, each.type) for n, each in columns])) as writer:
        table = pa.Table.from_arrays([each for _, each in columns], names=names)
        writer.write_table(table, row_group_size=rng.choice((100, 10_000)))
    return mutated(out.getvalue(), rng) if way == "broken" else out.getvalue()


def _columns(log: Path, rng: random.Random) -> list[tuple[str, Any]]:
    rows = list(csv.reader(odd_log(log.read_text(encoding="utf-8"), rng).splitlines()))
    heads, body = rows[0], rows[1:]
    return [
        (name, pa.array([_value(row[place]) for row in body], pa.float64()))
        for place, name in enumerate(heads)
    ]


def _value(cell: str) -> float | None:
    try:
        return float(cell)
    except ValueError:
        return None


def odd_log(text: str, rng: random.Random) -> str:
    """Return a force log with odd values, its times mostly left alone."""
    if rng.random() < 0.3:
        return "\n".join(line for line in text.splitlines() if not line.startswith("#"))
    return odd_csv(text, rng)


HEADINGS = (
    "time [s]", "force [kN]", "position [mm]", "ejection force [N]", "time", "force [mm]", "",
    "force [N]", "TIME [ms]", "time [min]", "a\x1b[31m", "<b onload=x>", "force [kN] ", "x" * 5000,
    "position [um]", "Kraft [kN]", "a.b", "force [k\x07N]", "time [s",
)  # fmt: skip
FLOATS = (float("nan"), float("inf"), -float("inf"), 1e308, -1e308, 5e-324, -0.0, 1e30)


def _odd_column(columns: list[tuple[str, Any]], rng: random.Random) -> None:
    """Rename a column, give it another type, or put what is no number into it."""
    place = rng.randrange(len(columns))
    name, values = columns[place]
    way = rng.randrange(5 if pa.types.is_floating(values.type) else 1)
    if way == 0:
        name = rng.choice(HEADINGS)
    elif way == 1:
        values = _of_type(values, rng)
    elif way == 2:
        columns.append((rng.choice(HEADINGS), values))
    elif way == 3:
        values = _with_odd_floats(values, rng)
    else:
        columns.reverse()
        return
    columns[place] = name, values


def _with_odd_floats(values: Any, rng: random.Random) -> Any:
    listed = values.to_pylist()
    share = rng.choice((0.0, 0.01, 0.5, 1.0))
    odd: tuple[float | None, ...] = (None, *FLOATS)
    one = rng.choice(odd)
    found = [one if rng.random() < share else value for value in listed]
    if found:
        found[rng.randrange(len(found))] = rng.choice(odd)
    return pa.array(found, pa.float64())


def _of_type(values: Any, rng: random.Random) -> Any:
    numbers = [0.0 if value is None else value for value in values.to_pylist()]
    whole = [0 if isnan(value) else int(max(min(value * 1e3, 1e9), -1e9)) for value in numbers]
    kinds: tuple[Callable[[], Any], ...] = (
        lambda: pa.array(numbers, pa.float64()).cast(pa.float32()),
        lambda: pa.array(whole, pa.int64()),
        lambda: pa.array([abs(value) for value in whole], pa.uint64()),
        lambda: pa.array([str(value) for value in numbers]),
        lambda: pa.array([str(value % 7) for value in whole]).dictionary_encode(),
        lambda: pa.array([value > 0.0 for value in numbers]),
        lambda: pa.array(whole, pa.timestamp("us")),
        lambda: pa.array([[value] for value in numbers]),
        lambda: pa.nulls(len(numbers)),
    )
    return rng.choice(kinds)()
