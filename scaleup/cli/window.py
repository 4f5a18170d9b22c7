"""``scaleup window``."""

from __future__ import annotations

import re
from typing import Annotated

import typer

from scaleup.cli.options import (
    AsGiven,
    AsJson,
    Confidence,
    CsvFile,
    Draws,
    Margin,
    OtherPress,
    OtherSpeed,
    OtherTooling,
    Replace,
    Seed,
    StudyPath,
    asked,
    progress,
    study_at_speed,
    study_with_margin,
    whole_number,
)
from scaleup.cli.output import Output, give_out
from scaleup.cli.units_option import Units, units_asked
from scaleup.errors import Fault, InputError


def window(  # noqa: PLR0913, PLR0917  a command has as many arguments as options
    study: StudyPath,
    speed: OtherSpeed = None,
    cells: Annotated[str, typer.Option(help="Speeds by forces of the map.")] = "60x24",
    to: OtherPress = None,
    tooling: OtherTooling = None,
    confidence: Confidence = None,
    margin: Margin = None,
    draws: Draws = 4000,
    seed: Seed = 1,
    as_given: AsGiven = False,
    units: Units = None,
    json: AsJson = False,
    csv: CsvFile = None,
    force: Replace = False,
) -> None:
    """Map at which speeds and forces every limit holds, its edges, and where to run.

    Recommended is the largest output from which force and speed may both still be off by a margin.

    Example: scaleup window examples/marram --csv window.csv
    """
    from scaleup.show.window import show_window, window_form, window_frame  # noqa: PLC0415

    common = asked(confidence, draws, seed)
    wanted = Output(json, csv, force, units_asked(units, study))
    size = _cells(cells)
    read = study_with_margin(study_at_speed(study, to, tooling, speed), margin).confirmed(as_given)
    with progress("fitting and solving", size[0]) as advance:
        answer = common.analysis(read).window(size, advance=advance)
    give_out(answer, wanted, show=show_window, form=window_form, frame=window_frame)


def _cells(text: str) -> tuple[int, int]:
    """Return how many speeds and forces a map has."""
    match = re.fullmatch(r"(\d{1,4})x(\d{1,4})", text.strip(), re.ASCII)
    if match is None:
        raise InputError(Fault("", "--cells", f'"{text}"', 'speeds by forces, such as "60x24"'))
    speeds, forces = int(match[1]), int(match[2])
    whole_number("--cells", speeds, 4, 500)
    whole_number("--cells", forces, 4, 500)
    return speeds, forces
