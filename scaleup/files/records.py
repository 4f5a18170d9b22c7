"""Logs of force against time, as a press with a data logger writes them."""

from __future__ import annotations

from math import nan
from typing import TYPE_CHECKING

from scaleup.errors import Fault, InputError
from scaleup.files.places import inside
from scaleup.files.sheets import Sheet, read_sheet
from scaleup.files.text import NUMBER, printable
from scaleup.files.units import UnitFault, factor, split_heading

if TYPE_CHECKING:
    from pathlib import Path

    from scaleup.arrays import Array
    from scaleup.files.press_profiles import RecordedProfile

LEAST_ROWS = 3
COLUMNS = {"time": "s", "force": "N"}


def read_record(profile: RecordedProfile, folder: Path) -> tuple[Array, Array]:
    """Return the times in s and forces in N, shape (n,), of the log beside a profile.

    Raises
    ------
    InputError
        If the log leaves the folder, cannot be read, has other columns, is not increasing in
        time, or has a negative force, no force at all, or fewer than three rows.
    """
    import numpy as np  # noqa: PLC0415  start-up stays quick

    path = inside(folder, profile.record, profile.name, "record")
    shown = profile.record
    sheet = read_sheet(path, shown)
    columns = _columns(sheet, shown)
    faults: list[Fault] = []
    rows = [
        [_number(sheet, row, column, shown, faults) for column in columns]
        for row in range(len(sheet.rows))
    ]
    if faults:
        raise InputError(faults[:20])
    time, force = np.array(rows, dtype=np.float64).T
    _check(sheet, time, force, shown)
    return time, force


def _columns(sheet: Sheet, shown: str) -> list[tuple[str, int, float]]:
    headings = [split_heading(heading) for heading in sheet.headings]
    where = f"line {sheet.line}"
    if sorted(name for name, _ in headings) != sorted(COLUMNS):
        found = f"the columns {printable(', '.join(sheet.headings))}"
        raise InputError(Fault(shown, where, found, "the columns time [ms] and force [kN]"))
    found_columns = []
    for name, core in COLUMNS.items():
        index = next(i for i, heading in enumerate(headings) if heading[0] == name)
        unit = headings[index][1]
        try:
            scale = factor(unit, core) if unit else 0.0
        except UnitFault as error:
            allowed = f"{name} in a unit such as time [ms] and force [kN]"
            raise InputError(Fault(shown, where, error.found, allowed)) from None
        if not unit:
            found = f"the column {name} without a unit"
            raise InputError(Fault(shown, where, found, "the columns time [ms] and force [kN]"))
        found_columns.append((name, index, scale))
    return found_columns


def _number(
    sheet: Sheet, row: int, column: tuple[str, int, float], shown: str, faults: list[Fault]
) -> float:
    name, index, scale = column
    cell = sheet.rows[row].cells[index]
    text = (
        str(cell).replace(",", ".") if sheet.comma_may_be_decimal else str(cell).replace(",", "?")
    )
    value = float(text) * scale if NUMBER.fullmatch(text) else nan
    if not abs(value) < 1e9 or (name == "force" and value < 0):
        found = "a blank cell" if cell is None else f'"{printable(str(cell))}"'
        allowed = "a force not below zero" if name == "force" else "a number"
        faults.append(Fault(shown, f"line {sheet.rows[row].line}, column {name}", found, allowed))
    return value


def _check(sheet: Sheet, time: Array, force: Array, shown: str) -> None:
    if len(time) < LEAST_ROWS:
        found, allowed = f"{len(time)} rows", f"at least {LEAST_ROWS} rows"
        raise InputError(Fault(shown, "", found, allowed))
    back = (time[1:] <= time[:-1]).nonzero()[0]
    if len(back):
        line = sheet.rows[int(back[0]) + 1].line
        found = "a time not after the one before it"
        raise InputError(Fault(shown, f"line {line}, column time", found, "times that increase"))
    if not force.max() > 0:
        raise InputError(Fault(shown, "column force", "no force above zero", "a logged pulse"))
