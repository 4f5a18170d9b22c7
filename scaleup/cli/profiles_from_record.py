"""``scaleup profiles from-record``: a rotary press whose pulse is that of a force log."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from scaleup.cli.options import AsJson, Replace, given_quantity, tooling_ids, whole_number
from scaleup.cli.output import Output, give_out, wrote
from scaleup.errors import Fault, InputError, on_one_line

if TYPE_CHECKING:
    from scaleup.answers.press_from_record import PressFromRecord

FEEDS = ("gravity", "forced")


def from_record(  # noqa: PLR0913, PLR0917  a command has as many arguments as options
    file: Annotated[Path, typer.Argument(help="A log, .csv or .parquet.")],
    stations: Annotated[int, typer.Option(help="Stations of the turret.")],
    speed: Annotated[str, typer.Option(help='Turret speed of the log, as in "45 rpm".')],
    tooling: Annotated[
        str, typer.Option(help="Tooling of the log: its id.", autocompletion=tooling_ids)
    ],
    force_limit: Annotated[
        str, typer.Option(help='Limit of the main roller by its data sheet, as in "60 kN".')
    ],
    slowest: Annotated[str, typer.Option(help='Slowest speed of the press, as in "10 rpm".')],
    fastest: Annotated[str, typer.Option(help='Fastest speed of the press, as in "75 rpm".')],
    pitch_circle: Annotated[
        str | None, typer.Option(help='Its diameter, if it is known, as in "410 mm".')
    ] = None,
    tablets_per_turn: Annotated[int, typer.Option(help="Of one station: 1 or 2.")] = 1,
    stiffness: Annotated[str | None, typer.Option(help='Of the press, as in "160 kN/mm".')] = None,
    ejection_limit: Annotated[str | None, typer.Option(help='As in "6 kN".')] = None,
    pre_roller: Annotated[
        str | None, typer.Option(help='Radius of the precompression roller, as in "88 mm".')
    ] = None,
    pre_force_limit: Annotated[str | None, typer.Option(help='Its limit, as in "18 kN".')] = None,
    feed: Annotated[str, typer.Option(help="gravity or forced.")] = "forced",
    weight: Annotated[
        str | None, typer.Option(help='Of the tablets logged, as in "400 mg"; else a usual one.')
    ] = None,
    true_density: Annotated[
        str | None, typer.Option(help='Of their powder, as in "1.54 g/cm^3"; else 1.5.')
    ] = None,
    compression: Annotated[
        int | None, typer.Option(help="Which one of the log; else the middle one.")
    ] = None,
    name: Annotated[str | None, typer.Option(help="Id of the press; else that of the log.")] = None,
    out: Annotated[
        Path | None, typer.Option(help="File of the profile; else its id beside the log.")
    ] = None,
    json: AsJson = False,
    force: Replace = False,
) -> None:
    """Write a rotary press profile whose pulse is that of a log, for a press without a drawing.

    Example: scaleup profiles from-record line4.csv --stations 19 --speed "45 rpm" --tooling
    b-flat-10 --force-limit "60 kN" --slowest "10 rpm" --fastest "75 rpm"
    """
    from scaleup.answers.effective_geometry import ANY_DENSITY, Tablet  # noqa: PLC0415
    from scaleup.answers.press_from_record import StatedOfPress, press_from_record  # noqa: PLC0415
    from scaleup.io.library import find_tooling, reference_of, require_id  # noqa: PLC0415
    from scaleup.show.press_from_record import (  # noqa: PLC0415
        press_from_record_form,
        show_press_from_record,
    )

    if feed not in FEEDS:
        raise InputError(Fault("", "--feed", f'"{feed}"', " or ".join(FEEDS)))
    if (pre_roller is None) != (pre_force_limit is None):
        allowed = "--pre-roller and --pre-force-limit together"
        raise InputError(Fault("", "--pre-roller", "one without the other", allowed))
    stem = file.stem if out is None else out.stem
    id_ = require_id(stem if name is None else name, "--name")
    target = out or file.parent / f"{id_}.toml"
    if target.suffix != ".toml":
        raise InputError(Fault("", "--out", f'the ending "{target.suffix}"', ".toml"))
    tablet = Tablet(
        given_quantity("--weight", weight, "mg", 1.0, 1e5),
        given_quantity("--true-density", true_density, "mg/mm^3", 0.3, 25.0) or ANY_DENSITY,
    )
    stated = StatedOfPress(
        stations=whole_number("--stations", stations, 1, 200),
        speed=given_quantity("--speed", speed, "rpm", 0.1, 1000.0) or 0.0,
        slowest=given_quantity("--slowest", slowest, "rpm", 0.1, 1000.0) or 0.0,
        fastest=given_quantity("--fastest", fastest, "rpm", 0.1, 1000.0) or 0.0,
        force_limit=given_quantity("--force-limit", force_limit, "N", 500.0, 2e6) or 0.0,
        tablets_per_turn=whole_number("--tablets-per-turn", tablets_per_turn, 1, 2),
        feed=feed,
        stiffness=given_quantity("--stiffness", stiffness, "N/mm", 5e3, 5e6),
        pitch_circle=given_quantity("--pitch-circle", pitch_circle, "mm", 40.0, 2000.0),
        ejection_limit=given_quantity("--ejection-limit", ejection_limit, "N", 1.0, 1e6),
        pre_radius=given_quantity("--pre-roller", pre_roller, "mm", 10.0, 500.0),
        pre_force_limit=given_quantity("--pre-force-limit", pre_force_limit, "N", 500.0, 2e6),
        tablet=tablet,
    )
    reference, near = reference_of(tooling)
    fitted = find_tooling(reference, near, where="--tooling")
    found = press_from_record(file, fitted, stated, name=id_, compression=compression)
    files = _written(found, file, target, force=force)
    give_out(found, Output(json, None, force), show_press_from_record, press_from_record_form)
    wrote(*files, err=json)
    told = on_one_line(str(target))
    typer.echo(f'next: scaleup profiles show {told} --speed "{speed}"', err=json)
    typer.echo(f'and in a study, from presses/ beside it: press = "{id_}"', err=json)


def _written(found: PressFromRecord, log: Path, target: Path, *, force: bool) -> tuple[Path, ...]:
    """Write the profile, and the log beside it if it lies elsewhere; return what was written."""
    from scaleup.answers.press_profile_text import profile_in  # noqa: PLC0415
    from scaleup.io.writing import write_together  # noqa: PLC0415

    beside = target.parent / log.name
    profile_in(found.text, target.name)
    files: dict[Path, str | Path] = {target: found.text}
    if beside.resolve() != log.resolve():
        files[beside] = log
    write_together(files, force)
    return tuple(files)
