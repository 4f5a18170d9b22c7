"""Reads a filled trial sheet, every typing mistake named by its cell."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from os import PathLike
from pathlib import Path

from scaleup.errors import Fault, InputError
from scaleup.io.sheets import Row, Sheet, read_further_sheet, read_sheet
from scaleup.io.trial_record import FILE, TrialRecord, read_trial_record
from scaleup.io.trial_sheet.cells import TableCells
from scaleup.io.trial_sheet.columns import RUNS, SAMPLES, TABLES, TABLETS, Value, by_name
from scaleup.text import printable

BESIDE = {SAMPLES: "trial-samples.csv", TABLETS: "trial-tablets.csv"}
"""Files beside a CSV sheet that hold the other tables."""
MOST_ROWS = 20_000
"""Of samples and tablets: a plan may ask for 1000 tablets of each of its runs."""
NEEDED = {RUNS: ("run", "force"), SAMPLES: ("run",), TABLETS: ("run",)}
"""Columns without which a table says nothing."""


@dataclass(frozen=True)
class SheetRow:
    """One row of a table as read, in core units; what was left blank is not there."""

    line: int
    values: dict[str, Value]
    cells: dict[str, str] = field(default_factory=dict)
    """Where each value stands, by the name of its column."""
    extra: dict[str, str] = field(default_factory=dict)
    """What stands in columns that the sheet did not have, by their headings."""

    def number(self, name: str) -> float | None:
        """Return a number of the row."""
        value = self.values.get(name)
        return value if isinstance(value, float) else None

    def text(self, name: str) -> str:
        """Return a text of the row, "" where blank."""
        value = self.values.get(name)
        return value if isinstance(value, str) else ""

    def where(self, name: str) -> str:
        """Return where a value stands."""
        return self.cells.get(name) or f"row {self.line}, {name}"


@dataclass(frozen=True)
class TrialSheet:
    """A filled sheet: its runs, timed samples and single tablets, and the plan it is of."""

    rows: tuple[SheetRow, ...]
    samples: tuple[SheetRow, ...] = ()
    tablets: tuple[SheetRow, ...] = ()
    plan: TrialRecord | None = None
    """None where the plan's own file is not at hand."""
    shown: str = "the trial sheet"
    """Its name in a fault."""


def read_trial_sheet(
    path: str | PathLike[str], shown: str = "", *, plan: str | PathLike[str] | None = None
) -> TrialSheet:
    """Return a filled sheet; what is blank stays blank.

    A workbook has the tables runs, samples and tablets; beside a CSV sheet the other two are looked
    for as ``trial-samples.csv`` and ``trial-tablets.csv``. Of those, rows with nothing filled in
    are left out. Columns that somebody added are kept as text.

    `shown` is its name in a fault, the file's if empty. `plan` is the file of the plan it is of,
    ``trial-plan.json`` beside the sheet if absent and there.

    Raises
    ------
    InputError
        With every typing mistake, named by its cell.

    Examples
    --------
    >>> sheet = read_trial_sheet("examples/marram/trial-sheet.csv")
    >>> sheet.rows[0].text("run")
    'T1'
    """
    path, shown = Path(path), shown or Path(path).name
    faults: list[Fault] = []
    runs = _Table(RUNS, read_sheet(path, shown), shown, _cell_prefix(path, RUNS))
    rows = runs.rows(faults)
    further = {name: _further(path, shown, name, rows, faults) for name in (SAMPLES, TABLETS)}
    if faults:
        raise InputError(faults)
    return TrialSheet(
        rows, further[SAMPLES], further[TABLETS], plan=_plan_of(path, plan), shown=shown
    )


def _plan_of(sheet: Path, plan: str | PathLike[str] | None) -> TrialRecord | None:
    if plan is not None:
        return read_trial_record(plan)
    beside = sheet.with_name(FILE)
    return read_trial_record(beside) if beside.is_file() else None


def _cell_prefix(path: Path, table: str) -> str:
    return "" if path.suffix.lower() == ".csv" else f"{table}, "


class _Table:
    """One table of a sheet, with what its cells are called in a fault and by those who learn."""

    def __init__(self, name: str, sheet: Sheet, shown: str, at: str, elsewhere: str = "") -> None:
        self.name, self.sheet, self.elsewhere = name, sheet, elsewhere
        self.cells = TableCells(sheet, shown, TABLES[name], at)

    def rows(self, faults: list[Fault]) -> tuple[SheetRow, ...]:
        """Return every row, adding its mistakes to those found so far."""
        read = tuple(self._row(row) for row in self.sheet.rows)
        found = self.cells.faults or list(self._lacks())
        faults += found
        return read

    def _row(self, row: Row) -> SheetRow:
        values, places, extra = self.cells.row(row)
        places = {name: f"{self.elsewhere}{where}" for name, where in places.items()}
        return SheetRow(row.line, values, places, extra)

    def _lacks(self) -> Iterator[Fault]:
        columns, there = by_name(TABLES[self.name]), self.cells.names
        for name in NEEDED[self.name]:
            if not {name, f"planned {name}"} & there:
                where = f"{self.cells.at}row {self.sheet.line}"
                allowed = f'a column headed "{columns[name].heading}"'
                yield Fault(self.cells.shown, where, f"no column {name}", allowed)


def _further(
    path: Path, shown: str, name: str, runs: tuple[SheetRow, ...], faults: list[Fault]
) -> tuple[SheetRow, ...]:
    """Return the rows of another table in which something was filled in; none if it is absent."""
    table = _beside(path, name) if path.suffix.lower() == ".csv" else _inside(path, shown, name)
    if table is None:
        return ()
    filled = {column.name for column in TABLES[name] if column.filled}
    rows = [row for row in table.rows(faults) if row.extra or filled & set(row.values)]
    known = [run.text("run") for run in runs]
    if "run" in table.cells.names:
        strange = (row for row in rows if row.text("run") not in known)
        faults += [_no_such_run(row, table, known) for row in strange]
    return tuple(rows)


def _inside(path: Path, shown: str, name: str) -> _Table | None:
    sheet = read_further_sheet(path, shown, name, MOST_ROWS)
    return None if sheet is None else _Table(name, sheet, shown, f"{name}, ")


def _beside(path: Path, name: str) -> _Table | None:
    file = path.with_name(BESIDE[name])
    if not file.is_file():
        return None
    return _Table(name, read_sheet(file, file.name, MOST_ROWS), file.name, "", f"{file.name}, ")


def _no_such_run(row: SheetRow, table: _Table, known: list[str]) -> Fault:
    name = row.text("run")
    where = row.where("run").removeprefix(table.elsewhere)
    found = f'the run "{printable(name)}"' if name else "no run"
    allowed = f"a run of the runs table: {', '.join(printable(each) for each in known)}"
    return Fault(table.cells.shown, where, found, allowed)
