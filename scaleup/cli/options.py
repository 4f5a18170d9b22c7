"""What several commands share: options with units, completion, a sign of life."""

from __future__ import annotations

import datetime
import shlex
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from scaleup.errors import Fault, InputError

if TYPE_CHECKING:
    from scaleup.answers.analysis import Analysis
    from scaleup.model.study import ProductionSide, Study


def given_quantity(
    option: str, text: str | None, unit: str, least: float, most: float
) -> float | None:
    """Return an option's quantity in a core unit, None if the option was not given.

    Raises
    ------
    InputError
        If it has no unit, another dimension, or is out of range.
    """
    if text is None:
        return None
    from scaleup.io.units import UnitFault, to_core  # noqa: PLC0415  pint is slow to start

    try:
        value = to_core(text, unit)
    except UnitFault as fault:
        raise InputError(Fault("", option, fault.found, fault.allowed)) from None
    if not least <= value <= most:
        allowed = f"{_written(least, unit)} to {_written(most, unit)}"
        if unit == "1" and "%" not in text and value > 1.0:
            bare = text.strip()
            raise InputError(Fault("", option, bare, allowed, f'Per cent are written "{bare} %".'))
        raise InputError(Fault("", option, _written(value, unit), allowed))
    return value


def _written(value: float, unit: str) -> str:
    """Return a value as an option takes it: a share in per cent, all else in its unit."""
    if unit == "1/h":
        return f"{value:g} tablets/h"
    return f"{value * 100.0:g} %" if unit == "1" else f"{value:g} {unit}"


def whole_number(option: str, value: int, least: int, most: int) -> int:
    """Return an option's whole number if it is in range.

    Raises
    ------
    InputError
        If it is not.
    """
    if not least <= value <= most:
        raise InputError(Fault("", option, str(value), f"{least} to {most}"))
    return value


def press_ids(incomplete: str) -> list[str]:
    """Return the presses whose id begins as typed, for completion in a shell."""
    from scaleup.io.profile_files import list_presses  # noqa: PLC0415

    return [row.id for row in list_presses() if row.id.startswith(incomplete)]


def profile_ids(incomplete: str) -> list[str]:
    """Return the presses and tooling whose id begins as typed, for completion in a shell."""
    return [*press_ids(incomplete), *tooling_ids(incomplete)]


def tooling_ids(incomplete: str) -> list[str]:
    """Return the tooling whose id begins as typed, for completion in a shell."""
    from scaleup.io.profile_files import list_tooling  # noqa: PLC0415

    return [row.id for row in list_tooling() if row.id.startswith(incomplete)]


LEAST_MARGIN = 0.001
"""The least margin that can be asked for on the command line."""
StudyPath = Annotated[
    Path, typer.Argument(help="A study's folder, or its study.toml.", is_eager=True)
]
OtherPress = Annotated[
    str | None, typer.Option("--to", help="Another production press.", autocompletion=press_ids)
]
OtherTooling = Annotated[
    str | None,
    typer.Option("--tooling", help="Other production tooling.", autocompletion=tooling_ids),
]
Confidence = Annotated[
    str | None, typer.Option(help='Confidence asked of every limit, as in "95 %".')
]
Margin = Annotated[
    str | None,
    typer.Option(
        help='By how much force and speed may both be off where it is recommended, as in "10 %".'
    ),
]
Draws = Annotated[int, typer.Option(help="How many parameter sets are drawn.")]
Seed = Annotated[int, typer.Option(help="Same seed, same numbers.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON instead of the screen.")]
CsvFile = Annotated[Path | None, typer.Option("--csv", help="Also write a CSV table to this file.")]
OtherSpeed = Annotated[str | None, typer.Option("--speed", help='Turret speed, as in "45 rpm".')]
AsGiven = Annotated[
    bool,
    typer.Option("--as-given", help="Confirm figures that no published material has."),
]
Replace = Annotated[bool, typer.Option("--force", help="Replace an existing file.")]


@dataclass(frozen=True)
class Asked:
    """What every answer about a study takes, checked."""

    confidence: float | None
    draws: int
    seed: int

    def analysis(self, study: Study) -> Analysis:
        """Return the analysis of a study that is asked with these."""
        from scaleup.answers.analysis import Analysis  # noqa: PLC0415  quick --help

        return Analysis(study, confidence=self.confidence, draws=self.draws, seed=self.seed)


def asked(confidence: str | None, draws: int, seed: int) -> Asked:
    """Return confidence, number of draws and seed if they are in range.

    Raises
    ------
    InputError
        If one is not.
    """
    from scaleup.calibration.arguments import CONFIDENCES, drawing_faults  # noqa: PLC0415
    from scaleup.transfer.draws import require_draws  # noqa: PLC0415  quick --help

    share = given_quantity("--confidence", confidence, "1", *CONFIDENCES)
    faults = drawing_faults(share, draws, seed)
    if faults:
        raise InputError(faults)
    if share is not None:
        require_draws(share, draws, "--confidence")
    return Asked(share, draws, seed)


def fitting_study(path: Path, press: str | None, tooling: str | None) -> Study:
    """Return a study; a press or tooling asked for must fit the other.

    Raises
    ------
    InputError
        If the study is at fault, or what is asked for does not fit, naming what does.
    """
    from scaleup.io.library import require_fit  # noqa: PLC0415  quick --help
    from scaleup.io.study import read_study  # noqa: PLC0415

    study = read_study(path, press, tooling)
    if press is not None or tooling is not None:
        made = study.production
        option = "--to" if press is not None else "--tooling"
        require_fit(made.press, made.tooling, study.folder, option)
    return study


def study_at_speed(path: Path, press: str | None, tooling: str | None, speed: str | None) -> Study:
    """Return a study with what was asked in the place of its own press, tooling and speed.

    Raises
    ------
    InputError
        If the study is at fault, or what is asked for does not fit.
    """
    study = fitting_study(path, press, tooling)
    turret = turret_speed(study.production, "--speed", speed)
    if turret is None:
        return study
    return replace(study, production=replace(study.production, speed=turret))


def study_with_margin(study: Study, margin: str | None) -> Study:
    """Return a study with the margin asked for in the place of its own.

    Raises
    ------
    InputError
        If it is no share, or out of range.
    """
    from scaleup.model.target import LARGEST_MARGIN  # noqa: PLC0415  quick --help

    share = given_quantity("--margin", margin, "1", LEAST_MARGIN, LARGEST_MARGIN)
    if share is None:
        return study
    return replace(study, target=replace(study.target, margin=share))


def turret_speed(production: ProductionSide, option: str, text: str | None) -> float | None:
    """Return an option's turret speed in rpm, which the press must run at.

    Raises
    ------
    InputError
        If it is no speed, or outside the range of the press, naming the nearest it runs at.
    """
    speed = given_quantity(option, text, "rpm", -1e6, 1e6)
    if speed is not None:
        check_turret_speed(production, option, speed, f"{speed:g} rpm")
    return speed


def check_turret_speed(production: ProductionSide, option: str, speed: float, found: str) -> None:
    """Refuse a speed in rpm that the press does not run at, naming the nearest it does."""
    from scaleup.calibration.arguments import speed_faults  # noqa: PLC0415  quick --help

    faults = list(speed_faults(production, speed, option, found))
    if faults:
        raise InputError(faults)


@contextmanager
def progress(what: str, steps: int, done: int = 0) -> Iterator[Callable[[], None]]:
    """Show a progress bar on a terminal, nothing in a pipe; yields what is called at each step."""
    if not sys.stderr.isatty():
        yield lambda: None
        return
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import Progress  # noqa: PLC0415

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=steps, completed=done)
        yield lambda: bar.advance(task)


@contextmanager
def status(what: str) -> Iterator[None]:
    """Show on a terminal that work is going on; nothing in a pipe."""
    if not sys.stderr.isatty():
        yield
        return
    from rich.console import Console  # noqa: PLC0415

    with Console(stderr=True).status(what):
        yield


def day(option: str, text: str | None) -> str:
    """Return a day as 2026-03-14, today's if none was given.

    Raises
    ------
    InputError
        If it is no such day.
    """
    if text is None:
        return datetime.datetime.now(tz=datetime.UTC).date().isoformat()
    try:
        return datetime.date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise InputError(Fault("", option, f'"{text}"', "a day such as 2026-03-14")) from None


def as_typed(context: typer.Context, left_out: tuple[str, ...] = ()) -> str:
    """Return the command as it was typed, its arguments first, without some of its options."""
    arguments, options = [], []
    for each in context.command.params:
        name = each.name or ""
        source = context.get_parameter_source(name)
        if source is None or source.name != "COMMANDLINE":
            continue
        value = str(context.params[name])
        if each.param_type_name == "argument":
            arguments.append(shlex.quote(value))
        elif name not in left_out:
            options += [each.opts[0]] if value == "True" else [each.opts[0], shlex.quote(value)]
    return " ".join([context.command_path, *arguments, *options])
