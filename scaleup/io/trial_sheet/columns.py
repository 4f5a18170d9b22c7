"""The columns of the three tables of a trial sheet: runs, samples and single tablets."""

from __future__ import annotations

from dataclasses import dataclass

from scaleup.io.units import factor
from scaleup.model.defects import ON_TABLETS

RUNS, SAMPLES, TABLETS = "runs", "samples", "tablets"
"""The tables, by the names of their sheets in a workbook."""
YES_NO = ("no", "yes")
MOMENTS = ("start", "middle", "end")
"""When a run is sampled."""

Value = float | int | str | None


@dataclass(frozen=True)
class SheetColumn:
    """One column of a table."""

    name: str
    unit: str
    """The unit as shown, "" if the column has none."""
    core: str
    """The core unit, "" for text."""
    filled: bool
    """Whether it is filled in during the trial."""
    choices: tuple[str, ...] = ()

    @property
    def heading(self) -> str:
        """Return name and unit."""
        return f"{self.name} [{self.unit}]" if self.unit else self.name


def _predicted(name: str, unit: str, core: str) -> tuple[SheetColumn, ...]:
    return tuple(
        SheetColumn(f"{end} {name}", unit, core, filled=False)
        for end in ("predicted", "lowest", "highest")
    )


def _filled(name: str, unit: str, core: str) -> SheetColumn:
    return SheetColumn(name, unit, core, filled=True)


def _spread(name: str, unit: str, core: str) -> tuple[SheetColumn, ...]:
    return _filled(name, unit, core), _filled(f"{name} SD", unit, core)


RUN_COLUMNS: tuple[SheetColumn, ...] = (
    SheetColumn("run", "", "", filled=False),
    SheetColumn("purpose", "", "", filled=False),
    SheetColumn("plan", "", "", filled=False),
    SheetColumn("study", "", "", filled=False),
    SheetColumn("press", "", "", filled=False),
    SheetColumn("planned start", "min", "s", filled=False),
    SheetColumn("planned speed", "rpm", "rpm", filled=False),
    SheetColumn("planned force", "kN", "N", filled=False),
    SheetColumn("planned precompression", "kN", "N", filled=False),
    SheetColumn("planned fill depth", "mm", "mm", filled=False),
    SheetColumn("planned tip separation", "mm", "mm", filled=False),
    SheetColumn("target weight", "mg", "mg", filled=False),
    SheetColumn("tablets to sample", "", "1", filled=False),
    *_predicted("thickness", "mm", "mm"),
    *_predicted("breaking force", "N", "N"),
    *_predicted("ejection force", "N", "N"),
    _filled("elapsed", "min", "s"),
    _filled("speed", "rpm", "rpm"),
    *_spread("force", "kN", "N"),
    _filled("precompression", "kN", "N"),
    _filled("fill depth", "mm", "mm"),
    _filled("tip separation", "mm", "mm"),
    _filled("feeder speed", "rpm", "rpm"),
    _filled("tablets", "", "1"),
    *_spread("weight", "mg", "mg"),
    *_spread("thickness", "mm", "mm"),
    *_spread("breaking force", "N", "N"),
    _filled("ejection force", "N", "N"),
    _filled("friability", "%", "1"),
    *(SheetColumn(name, "", "", filled=True, choices=YES_NO) for name in ON_TABLETS),
    SheetColumn("stops and deviations", "", "", filled=True),
    SheetColumn("note", "", "", filled=True),
)
"""Every column in order; what is predicted is of the mean of the tablets sampled, and its lowest
and highest are the action limits."""
SAMPLE_COLUMNS: tuple[SheetColumn, ...] = (
    SheetColumn("run", "", "", filled=False),
    SheetColumn("sample", "", "", filled=False, choices=MOMENTS),
    _filled("elapsed", "min", "s"),
    *_spread("force", "kN", "N"),
    _filled("precompression", "kN", "N"),
    _filled("ejection force", "N", "N"),
    _filled("hopper level", "%", "1"),
    _filled("temperature", "°C", "°C"),
    _filled("humidity", "%", "1"),
    SheetColumn("note", "", "", filled=True),
)
"""One row for each timed sample of a run."""
TABLET_COLUMNS: tuple[SheetColumn, ...] = (
    SheetColumn("run", "", "", filled=False),
    SheetColumn("sample", "", "", filled=False, choices=MOMENTS),
    SheetColumn("tablet", "", "1", filled=False),
    _filled("weight", "mg", "mg"),
    _filled("thickness", "mm", "mm"),
    _filled("breaking force", "N", "N"),
)
"""One row for each tablet."""
TABLES = {RUNS: RUN_COLUMNS, SAMPLES: SAMPLE_COLUMNS, TABLETS: TABLET_COLUMNS}
PLANNED = tuple(column.name for column in RUN_COLUMNS if not column.filled)
"""The columns of a run that the plan fills in, and nobody else."""


def by_name(columns: tuple[SheetColumn, ...]) -> dict[str, SheetColumn]:
    """Return columns by their names in small letters, as a heading is read."""
    return {column.name.lower(): column for column in columns}


def shown_value(column: SheetColumn, value: Value) -> Value:
    """Return a core value in the unit of its column, rounded to what a sheet needs."""
    if not isinstance(value, float):
        return value
    if column.core in ("", "1") and not column.unit:
        return int(value)
    if column.core == column.unit:
        return float(f"{value:.5g}")
    return float(f"{value / factor(column.unit, column.core):.5g}")
