"""``scaleup profiles``: list, show, check, make from a log, and the ranges that are checked."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from scaleup.cli.options import given_quantity, profile_ids, tooling_ids
from scaleup.cli.profiles_from_record import from_record
from scaleup.errors import InputError

profiles = typer.Typer(
    invoke_without_command=True,
    rich_markup_mode=None,
    help="List the press and tooling profiles; show one, or check a file.\n\n"
    "Example: scaleup profiles",
)


@profiles.callback()
def listed(context: typer.Context) -> None:
    """List the profiles unless a command of this group follows."""
    if context.invoked_subcommand is not None:
        return
    from rich.console import Console  # noqa: PLC0415

    from scaleup.io.profile_files import list_presses, list_tooling, own_checked  # noqa: PLC0415
    from scaleup.show.profile_tables import press_table, tooling_table  # noqa: PLC0415

    console = Console(highlight=False)
    console.print(press_table(own_checked(list_presses(), "presses"), console.width))
    console.print(tooling_table(own_checked(list_tooling(), "tooling"), console.width))


@profiles.command()
def show(
    name: Annotated[
        str,
        typer.Argument(
            help="A press or tooling: its id, or a profile's file.", autocompletion=profile_ids
        ),
    ],
    speed: Annotated[str | None, typer.Option(help='Speed, as in "45 rpm".')] = None,
    tooling: Annotated[
        str | None,
        typer.Option(help="Tooling; else the first that fits.", autocompletion=tooling_ids),
    ] = None,
    force: Annotated[str, typer.Option(help="Force of a hydraulic press.")] = "10 kN",
) -> None:
    """Derive dwell, times, punch velocity and output of one press; or a tip's measures.

    Example: scaleup profiles show rotary-mid-19 --speed "45 rpm"
    """
    from rich.console import Console  # noqa: PLC0415

    from scaleup.io.library import (  # noqa: PLC0415
        find_press,
        find_tooling,
        fitting_tooling,
        is_tooling,
        reference_of,
    )
    from scaleup.show.profile_tables import show_press, show_tooling  # noqa: PLC0415

    turret = given_quantity("--speed", speed, "rpm", 0.001, 1000.0)
    newtons = given_quantity("--force", force, "N", 1.0, 1e6) or 0.0
    console, (reference, near) = Console(highlight=False), reference_of(name)
    if is_tooling(reference, near):
        show_tooling(console, find_tooling(reference, near))
        return
    press = find_press(reference, near)
    show_press(console, press, fitting_tooling(press, tooling, near), turret, newtons)


@profiles.command()
def ranges() -> None:
    """Say from what to what every quantity of a profile can be, where it is usual, and why.

    Example: scaleup profiles ranges
    """
    from rich.console import Console  # noqa: PLC0415

    from scaleup.show.range_tables import proportion_table, range_table  # noqa: PLC0415

    console = Console(highlight=False)
    console.print(range_table())
    console.print(proportion_table())


@profiles.command()
def check(
    file: Annotated[Path, typer.Argument(help="A press or tooling profile.")],
) -> None:
    """Say all that is wrong, and all that is doubtful, with a profile at once.

    Example: scaleup profiles check profiles/presses/rotary-mid-19.toml
    """
    from scaleup.presses.profile_checks import check_profile  # noqa: PLC0415

    checked = check_profile(file)
    for warning in checked.warnings:
        typer.echo(f"doubtful: {warning}")
    if checked.faults:
        raise InputError(checked.faults)
    typer.echo(f"{file}: no fault" + ("" if checked.warnings else ", nothing doubtful"))


profiles.command("from-record")(from_record)
