"""``scaleup window``."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Annotated

import typer

from scaleup.cli.options import (
    AsJson,
    Confidence,
    CsvFile,
    Draws,
    OtherPress,
    OtherTooling,
    Replace,
    Seed,
    StudyPath,
    asked,
    fitting_study,
    progress,
    turret_speed,
    whole_number,
)
from scaleup.errors import Fault, InputError


def window(  # noqa: PLR0913, PLR0917  a command has as many arguments as options
    study: StudyPath,
    speed: Annotated[
        str | None, typer.Option(help='Turret speed to look at as well, as in "45 rpm".')
    ] = None,
    cells: Annotated[str, typer.Option(help="Speeds by forces of the map.")] = "60x24",
    to: OtherPress = None,
    tooling: OtherTooling = None,
    confidence: Confidence = None,
    draws: Draws = 2000,
    seed: Seed = 1,
    json: AsJson = False,
    csv: CsvFile = None,
    force: Replace = False,
) -> None:
    """Map at which speeds and forces every limit holds, its centre and its edges.

    Example: scaleup window examples/marram --csv window.csv
    """
    from scaleup.transfer.window import operating_window  # noqa: PLC0415  quick --help

    common = asked(confidence, draws, seed)
    size = _cells(cells)
    read = fitting_study(study, to, tooling)
    turret = turret_speed(read.production, "--speed", speed)
    if turret is not None:
        read = replace(read, production=replace(read.production, speed=turret))
    with progress("fitting and solving", size[0]) as advance:
        found = operating_window(
            read,
            cells=size,
            confidence=common.confidence,
            draws=common.draws,
            seed=common.seed,
            advance=advance,
        )
    if csv is not None:
        from scaleup.files.writing import write_whole  # noqa: PLC0415
        from scaleup.show.window import window_csv  # noqa: PLC0415

        write_whole(csv, window_csv(found), force=force)
    if json:
        from scaleup.show.json_form import json_text  # noqa: PLC0415
        from scaleup.show.window import window_form  # noqa: PLC0415

        typer.echo(json_text(window_form(found)), nl=False)
        return
    from rich.console import Console  # noqa: PLC0415

    from scaleup.show.window import show_window  # noqa: PLC0415

    show_window(Console(highlight=False), found)


def _cells(text: str) -> tuple[int, int]:
    """Return how many speeds and forces a map has."""
    match = re.fullmatch(r"(\d{1,4})x(\d{1,4})", text.strip(), re.ASCII)
    if match is None:
        raise InputError(Fault("", "--cells", f'"{text}"', 'speeds by forces, such as "60x24"'))
    speeds, forces = int(match[1]), int(match[2])
    whole_number("--cells", speeds, 4, 500)
    whole_number("--cells", forces, 4, 500)
    return speeds, forces
