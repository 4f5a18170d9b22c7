"""``scaleup judge``."""

from __future__ import annotations

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
)


def judge(  # noqa: PLR0913, PLR0917  a command has as many arguments as options
    study: StudyPath,
    to: OtherPress = None,
    tooling: OtherTooling = None,
    speed: Annotated[str | None, typer.Option(help='Turret speed, as in "45 rpm".')] = None,
    confidence: Confidence = None,
    draws: Draws = 4000,
    seed: Seed = 1,
    json: AsJson = False,
    csv: CsvFile = None,
    force: Replace = False,
) -> None:
    """Say whether a lab result may be transferred, what is missing, and what to press next.

    Example: scaleup judge examples/dunlin
    """
    from scaleup.transfer.judgement import judge as judged  # noqa: PLC0415  quick --help

    common = asked(confidence, draws, seed)
    read = fitting_study(study, to, tooling)
    turret = turret_speed(read.production, "--speed", speed)
    if turret is not None:
        read = replace(read, production=replace(read.production, speed=turret))
    with progress("fitting and weighing lab runs", 3) as advance:
        found = judged(
            read,
            confidence=common.confidence,
            draws=common.draws,
            seed=common.seed,
            advance=advance,
        )
    if csv is not None:
        from scaleup.files.writing import write_whole  # noqa: PLC0415
        from scaleup.show.judgement import judgement_csv  # noqa: PLC0415

        write_whole(csv, judgement_csv(found), force=force)
    if json:
        from scaleup.show.json_form import json_text  # noqa: PLC0415
        from scaleup.show.judgement import judgement_form  # noqa: PLC0415

        typer.echo(json_text(judgement_form(found)), nl=False)
        return
    from rich.console import Console  # noqa: PLC0415

    from scaleup.show.judgement import show_judgement  # noqa: PLC0415

    show_judgement(Console(highlight=False), found)
