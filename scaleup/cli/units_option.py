"""The option that shows figures in other units: a list, or those of the run table."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from scaleup.errors import Fault, InputError
from scaleup.text import printable

if TYPE_CHECKING:
    from scaleup.units_shown import UnitShown

AS_THE_TABLE = "table"
CHOSEN = ("N", "MPa", "mm", "s", "mg", "rpm", "mm/s")
"""Core units of which another may be shown."""
EXAMPLE = f'units such as "kgf, in, psi", or "{AS_THE_TABLE}" for those of the run table'


def units_asked(text: str | None, study: Path) -> dict[str, list[UnitShown]]:
    """Return the units that figures are to be shown in, by their core unit; none if none is asked.

    Raises
    ------
    InputError
        If a name is no unit of any figure shown.
    """
    asked: dict[str, list[UnitShown]] = {}
    if text is None:
        return asked
    of_table = text.strip() == AS_THE_TABLE
    names = _of_the_table(study) if of_table else text.split(",")
    for name in names:
        unit = _unit(name.strip()) if name.strip() else None
        if unit is None and not of_table:
            raise InputError(Fault("", "--units", f'"{printable(name.strip())}"', EXAMPLE))
        if unit is not None:
            asked.setdefault(unit[0], []).append(unit[1])
    return asked


def _unit(name: str) -> tuple[str, UnitShown] | None:
    """Return the core unit that a unit measures the same as, and the unit; None of another kind."""
    from scaleup.io.units import UnitFault, factor  # noqa: PLC0415
    from scaleup.units_shown import UnitShown  # noqa: PLC0415

    for core in CHOSEN:
        try:
            return core, UnitShown(name, 1.0 / factor(name, core))
        except UnitFault:
            continue
    return None


def _of_the_table(study: Path) -> list[str]:
    """Return the units in the headings of a study's run table."""
    from scaleup.io.run_table import heading_units  # noqa: PLC0415
    from scaleup.io.study import read_study  # noqa: PLC0415

    read = read_study(study)
    return list(heading_units(Path(read.folder) / read.lab.runs_file, read.lab.runs_file))


Units = Annotated[
    str | None,
    typer.Option(
        "--units",
        help=f'Show figures in other units, as in "kgf, in"; "{AS_THE_TABLE}": as the run table.',
    ),
]
