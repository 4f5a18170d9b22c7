"""``scaleup record``: a force log measured."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from scaleup.cli.options import AsJson, CsvFile, Replace, given_quantity, press_ids
from scaleup.cli.output import Output, give_out
from scaleup.errors import Fault, InputError

if TYPE_CHECKING:
    from scaleup.answers.force_log import ForceLogAnswer
    from scaleup.io.log_asked import LogAsked


LEAST_RATE, MOST_RATE = 1.0, 1e8
"""Samples in a second, Hz."""


def column_names(incomplete: str) -> list[str]:
    """Return the columns that can be told, for completion in a shell."""
    from scaleup.io.log_asked import CHOOSABLE  # noqa: PLC0415

    return [f"{each}=" for each in CHOOSABLE if each.startswith(incomplete)]


def record(  # noqa: PLR0913, PLR0917  a command has as many arguments as options
    file: Annotated[Path, typer.Argument(help="A log, .csv or .parquet.")],
    exponent: Annotated[
        float, typer.Option(help="Rate exponent that the effective dwell is of.")
    ] = 0.032,
    range_: Annotated[
        str | None, typer.Option("--range", help='Where the gauge ends, as in "40 kN".')
    ] = None,
    press_stiffness: Annotated[
        str | None,
        typer.Option(help='For the thickness in the die, as in "150 kN/mm"; needs a position.'),
    ] = None,
    stiffness: Annotated[
        bool, typer.Option("--stiffness", help="The log has no powder: find the press's stiffness.")
    ] = False,
    slug: Annotated[
        str | None, typer.Option(help='Thickness of a steel slug, as in "8 mm"; with --stiffness.')
    ] = None,
    slug_diameter: Annotated[str | None, typer.Option(help='Its diameter, as in "10 mm".')] = None,
    stations: Annotated[
        int | None, typer.Option(min=1, max=200, help="Of the turret: peaks by station, too.")
    ] = None,
    press: Annotated[
        str | None,
        typer.Option(
            help="The press logged, an id or a profile's file: its stations.",
            autocompletion=press_ids,
        ),
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option(
            help='The heading of a column, as in "force=Main force"; may be given again.',
            autocompletion=column_names,
        ),
    ] = None,
    rate: Annotated[
        str | None,
        typer.Option(help='Rows in a second where no time is logged, as in "10 kHz".'),
    ] = None,
    scale: Annotated[
        str | None, typer.Option(help='Force for each volt of a log in V, as in "4 kN/V".')
    ] = None,
    plot: Annotated[
        Path | None, typer.Option(help="Also draw the compressions to this .svg or .png file.")
    ] = None,
    json: AsJson = False,
    csv: CsvFile = None,
    force: Replace = False,
) -> None:
    """Find and measure every compression in a log of force against time.

    Example: scaleup record examples/bracken/records/B3.csv

    A log of two gauges in volts: scaleup record log.csv --column "force=Main" --scale "4 kN/V"
    """
    if not 0.0 <= exponent <= 0.2:
        raise InputError(Fault("", "--exponent", f"{exponent:g}", "0 to 0.2"))
    asked = _asked(column, rate, scale)
    end = given_quantity("--range", range_, "N", 1.0, 1e7)
    firm = given_quantity("--press-stiffness", press_stiffness, "N/mm", 1e2, 1e8)
    thick = given_quantity("--slug", slug, "mm", 0.1, 100.0)
    wide = given_quantity("--slug-diameter", slug_diameter, "mm", 1.0, 100.0)
    if plot is not None and plot.suffix.lower() not in (".svg", ".png"):
        raise InputError(Fault("", "--plot", f'the ending "{plot.suffix}"', ".svg or .png"))
    if csv is not None and stiffness:
        raise InputError(Fault("", "--csv", "--csv with --stiffness", "--json with --stiffness"))
    if csv is not None and csv == plot:
        raise InputError(Fault("", "--csv", "the file of --plot", "a file of its own"))
    if (thick is None) != (wide is None) or (thick is not None and not stiffness):
        allowed = "--slug and --slug-diameter together, with --stiffness"
        raise InputError(Fault("", "--slug", "one without the others", allowed))

    from scaleup.answers.force_log import force_log_answer  # noqa: PLC0415  quick --help
    from scaleup.io.logs import open_log  # noqa: PLC0415
    from scaleup.show.force_log import record_form, record_frame, show_record  # noqa: PLC0415

    log = open_log(file, file.name, asked)
    if (stiffness or firm is not None) and not log.has("position"):
        allowed = "a column position [mm]"
        raise InputError(Fault(log.shown, "", "no column position", allowed))
    with _reading() as advance:
        answer = force_log_answer(
            log, exponent=exponent, compliance=None if firm is None else 1.0 / firm,
            range_=end, advance=advance,
            stations=stations if press is None else _stations_of(press, stations),
        )  # fmt: skip
    output, pictures = Output(json, csv, force), _picture(answer, plot)
    if stiffness:
        _stiffness(answer, thick, wide, output, pictures)
        return
    give_out(answer, output, show_record, record_form, record_frame, pictures)


def _asked(column: list[str] | None, rate: str | None, scale: str | None) -> LogAsked:
    """Return what the options tell of the log."""
    from scaleup.io.log_asked import LogAsked, chosen_headings, scale_of  # noqa: PLC0415

    return LogAsked(
        chosen_headings(column or ()),
        given_quantity("--rate", rate, "Hz", LEAST_RATE, MOST_RATE),
        None if scale is None else scale_of(scale),
    )


def _stations_of(press: str, stations: int | None) -> int:
    """Return the stations of a profile, which `--stations` must not contradict."""
    from scaleup.io.library import find_press, reference_of  # noqa: PLC0415
    from scaleup.model.press import RotaryProfile  # noqa: PLC0415

    profile = find_press(*reference_of(press)).profile
    if not isinstance(profile, RotaryProfile):
        found = f"{profile.name}, which has no turret"
        raise InputError(Fault("", "--press", found, "a rotary press"))
    if stations not in (None, profile.stations):
        found, allowed = f"{stations}", f"{profile.stations}, as the profile of --press has"
        raise InputError(Fault("", "--stations", found, allowed))
    return profile.stations


def _stiffness(
    answer: ForceLogAnswer,
    slug: float | None,
    diameter: float | None,
    output: Output,
    pictures: dict[Path, bytes],
) -> None:
    from math import pi  # noqa: PLC0415

    from scaleup.pulses.stiffness import stiffness_of  # noqa: PLC0415
    from scaleup.show.force_log import show_stiffness, stiffness_form  # noqa: PLC0415

    area = 0.0 if diameter is None else pi * diameter**2 / 4.0
    try:
        stiffness = stiffness_of(list(answer.shapes), slug or 0.0, area)
    except ValueError as error:
        allowed = "loadings of the press without powder, with their position"
        raise InputError(Fault(answer.log.shown, "", str(error), allowed)) from None
    if stiffness.compliance <= 0.0:
        allowed = "a slug shorter than the give of the press"
        raise InputError(Fault("", "--slug", "a slug that gives more than was logged", allowed))
    give_out(
        stiffness,
        output,
        lambda console, item: show_stiffness(console, answer, item),
        partial(stiffness_form, answer),
        pictures=pictures,
    )


def _picture(answer: ForceLogAnswer, path: Path | None) -> dict[Path, bytes]:
    """Return the picture of a log by the file it goes into; none if none was asked for."""
    if path is None:
        return {}
    from scaleup.show.force_log_picture import record_picture  # noqa: PLC0415

    return {path: record_picture(answer, path.suffix.lower()[1:])}


@contextmanager
def _reading() -> Iterator[Callable[[float], None]]:
    """Show on a terminal how much of the file is read; nothing in a pipe."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import Progress  # noqa: PLC0415

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("reading", total=1.0)
        yield lambda share: bar.update(task, completed=share)
