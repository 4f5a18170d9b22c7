"""``scaleup speed``."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Annotated

import typer

from scaleup.cli.options import (
    AsGiven,
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
    check_turret_speed,
    fitting_study,
    given_quantity,
    progress,
    turret_speed,
    whole_number,
)
from scaleup.cli.output import Output, give_out
from scaleup.cli.units_option import Units, units_asked
from scaleup.errors import Fault, InputError

if TYPE_CHECKING:
    from scaleup.model.study import ProductionSide

CURVE_POINTS = 15


def speed(  # noqa: PLR0913, PLR0917  a command has as many arguments as options
    study: StudyPath,
    at: Annotated[str | None, typer.Option(help='Turret speed, as in "55 rpm".')] = None,
    output: Annotated[
        str | None, typer.Option(help='Output the speed follows from, as in "150000/h".')
    ] = None,
    over: Annotated[
        str | None, typer.Option("--range", help='Speeds of a curve, as in "10..80 rpm".')
    ] = None,
    points: Annotated[
        int | None, typer.Option(help="Speeds of the curve, 15 if not given.")
    ] = None,
    to: OtherPress = None,
    tooling: OtherTooling = None,
    confidence: Confidence = None,
    draws: Draws = 4000,
    seed: Seed = 1,
    as_given: AsGiven = False,
    units: Units = None,
    json: AsJson = False,
    csv: CsvFile = None,
    force: Replace = False,
) -> None:
    """Say whether a turret speed is all right, with the margin to every limit.

    Example: scaleup speed examples/marram --at "55 rpm" --range "10..75 rpm"
    """
    from scaleup.show.speed import show_speed, speed_form, speed_frame  # noqa: PLC0415

    common = asked(confidence, draws, seed)
    wanted = Output(json, csv, force, units_asked(units, study))
    read = fitting_study(study, to, tooling).confirmed(as_given)
    if points is not None and over is None:
        raise InputError(Fault("", "--points", "no --range", "both, or --range alone"))
    number = CURVE_POINTS if points is None else whole_number("--points", points, 2, 200)
    turret = _one_speed(read.production, at, output)
    speeds = _range(read.production, over, number)
    with progress("fitting and solving", len(speeds) + 1) as advance:
        check = common.analysis(read).speed(at=turret, speeds=speeds, advance=advance)
    give_out(check, wanted, show=show_speed, form=speed_form, frame=speed_frame)


def _one_speed(production: ProductionSide, at: str | None, output: str | None) -> float | None:
    """Return the speed asked about in rpm, given as such or by an output."""
    if output is None:
        return turret_speed(production, "--at", at)
    if at is not None:
        raise InputError(Fault("", "--output", "both --at and --output", "one of the two"))
    if re.search(r"rpm|rev|turn|stroke", output):
        allowed = 'an output with its unit, such as "150000 tablets/h"'
        raise InputError(Fault("", "--output", f'"{output}", a speed', allowed, "Use --at for it."))
    wanted = given_quantity("--output", output, "1/h", 1.0, 1e8) or 0.0
    needed = wanted / production.output(1.0)
    found = f"{wanted:.0f} tablets/h, which takes {needed:.3g} rpm"
    check_turret_speed(production, "--output", needed, found)
    return needed


def _range(production: ProductionSide, text: str | None, points: int) -> list[float]:
    """Return the speeds of the curve in rpm, none if no range was asked for."""
    if text is None:
        return []
    allowed = 'two speeds, the slower first, such as "10..80 rpm"'
    ends_of = [part.strip() for part in text.split("..")]
    if len(ends_of) != 2 or not all(ends_of):
        raise InputError(Fault("", "--range", f'"{text}"', allowed))
    low, high = ends_of
    if re.fullmatch(r"[\d.eE+-]+", low):
        unit = re.sub(r"^[\d.eE+\s-]+", "", high)
        low = f"{low} {unit}"
    ends = [turret_speed(production, "--range", each) or 0.0 for each in (low, high)]
    if ends[0] >= ends[1]:
        raise InputError(Fault("", "--range", f'"{text}"', allowed))
    step = (ends[1] - ends[0]) / (points - 1)
    return [*(ends[0] + step * number for number in range(points - 1)), ends[1]]
