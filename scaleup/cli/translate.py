"""``scaleup translate``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from scaleup.cli.options import (
    AsGiven,
    AsJson,
    Asked,
    Confidence,
    CsvFile,
    Draws,
    OtherPress,
    OtherTooling,
    Replace,
    Seed,
    StudyPath,
    asked,
    given_quantity,
    status,
)
from scaleup.cli.output import Output, give_out
from scaleup.cli.units_option import Units, units_asked
from scaleup.errors import Fault, InputError

SEVERE_RISK = 3


def translate(  # noqa: PLR0913, PLR0917  a command has as many arguments as options
    study: StudyPath,
    to: OtherPress = None,
    tooling: OtherTooling = None,
    speed: Annotated[str | None, typer.Option(help='Turret speed, as in "45 rpm".')] = None,
    confidence: Confidence = None,
    draws: Draws = 4000,
    seed: Seed = 1,
    as_given: AsGiven = False,
    units: Units = None,
    json: AsJson = False,
    csv: CsvFile = None,
    force: Replace = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="End with status 3 if a risk is severe.")
    ] = False,
    from_production: Annotated[
        bool,
        typer.Option("--from-production", help="Make a production result again on the lab press."),
    ] = False,
    run: Annotated[
        str | None, typer.Option(help="With --from-production: which production run.")
    ] = None,
) -> None:
    """Say which production settings make the same tablet, how sure that is, and what is at risk.

    Example: scaleup translate examples/marram --speed "60 rpm"

    Back to the bench: scaleup translate examples/fescue --from-production --run P2
    """
    wanted = Output(json, csv, force, units_asked(units, study))
    if from_production:
        others = {"--to": to, "--tooling": tooling, "--speed": speed, "--confidence": confidence}
        _refuse(
            [*(name for name, given in others.items() if given is not None), *["--strict"] * strict]
        )
        common = asked(None, draws, seed)
        _back_to_the_lab(study, run, common, wanted, as_given=as_given)
        return
    if run is not None:
        raise InputError(Fault("", "--run", "no --from-production", "both, or neither"))
    from scaleup.io.study import read_study  # noqa: PLC0415  quick --help
    from scaleup.show.json_form import translation_form  # noqa: PLC0415
    from scaleup.show.terminal import show_translation, translation_frame  # noqa: PLC0415

    turret = given_quantity("--speed", speed, "rpm", 0.001, 1000.0)
    common = asked(confidence, draws, seed)
    with status("reading and fitting"):
        read = read_study(study, to, tooling).confirmed(as_given)
        result = common.analysis(read).translate(speed=turret)
    give_out(result, wanted, show_translation, translation_form, translation_frame)
    if strict and result.severe:
        raise typer.Exit(SEVERE_RISK)


def _refuse(options: list[str]) -> None:
    if options:
        allowed = (
            "only --run, --draws, --seed, --as-given, --json, --csv and --force with "
            "--from-production"
        )
        raise InputError(
            Fault("", option, "it beside --from-production", allowed) for option in options
        )


def _back_to_the_lab(
    path: Path, run: str | None, common: Asked, output: Output, *, as_given: bool
) -> None:
    from scaleup.io.study import read_study  # noqa: PLC0415  quick --help
    from scaleup.show.imitation import (  # noqa: PLC0415
        imitation_form,
        imitation_frame,
        show_imitation,
    )

    with status("reading and fitting"):
        imitation = common.analysis(read_study(path).confirmed(as_given)).imitate(run)
    give_out(imitation, output, show_imitation, imitation_form, imitation_frame)
