"""``scaleup translate``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from scaleup.cli.options import given_quantity, press_ids, status, tooling_ids, whole_number

SEVERE_RISK = 3


def translate(  # noqa: PLR0913, PLR0917  a command has as many arguments as options
    study: Annotated[Path, typer.Argument(help="A study's folder, or its study.toml.")],
    to: Annotated[
        str | None,
        typer.Option(help="Another production press.", autocompletion=press_ids),
    ] = None,
    tooling: Annotated[
        str | None,
        typer.Option(help="Other production tooling.", autocompletion=tooling_ids),
    ] = None,
    speed: Annotated[str | None, typer.Option(help='Turret speed, as in "45 rpm".')] = None,
    confidence: Annotated[
        str | None, typer.Option(help='Confidence asked of every limit, as in "95 %".')
    ] = None,
    draws: Annotated[int, typer.Option(help="How many parameter sets are drawn.")] = 4000,
    seed: Annotated[int, typer.Option(help="Same seed, same numbers.")] = 1,
    json: Annotated[bool, typer.Option("--json", help="Print JSON instead of the table.")] = False,
    csv: Annotated[Path | None, typer.Option(help="Also write a CSV table to this file.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace an existing file.")] = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="End with status 3 if a risk is severe.")
    ] = False,
) -> None:
    """Say which production settings make the same tablet, how sure that is, and what is at risk.

    Example: scaleup translate examples/marram --speed "60 rpm"
    """
    from scaleup.files.study import read_study  # noqa: PLC0415  quick --help
    from scaleup.transfer.translation import translate as translated  # noqa: PLC0415

    turret = given_quantity("--speed", speed, "rpm", 0.001, 1000.0)
    asked = given_quantity("--confidence", confidence, "1", 0.5, 0.9999)
    number = whole_number("--draws", draws, 200, 200_000)
    whole_number("--seed", seed, 0, 2**32 - 1)
    with status("reading and fitting"):
        result = translated(
            read_study(study, to, tooling),
            speed=turret,
            confidence=asked,
            draws=number,
            seed=seed,
        )
    if csv is not None:
        from scaleup.files.writing import write_whole  # noqa: PLC0415
        from scaleup.show.csv_form import csv_text  # noqa: PLC0415

        write_whole(csv, csv_text(result), force=force)
    if json:
        from scaleup.show.json_form import json_text, translation_form  # noqa: PLC0415

        typer.echo(json_text(translation_form(result)), nl=False)
    else:
        from rich.console import Console  # noqa: PLC0415

        from scaleup.show.terminal import show_translation  # noqa: PLC0415

        show_translation(Console(highlight=False), result)
    if strict and result.severe:
        raise typer.Exit(SEVERE_RISK)
