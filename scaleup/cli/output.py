"""How an answer is given out: a CSV file if asked for, then JSON or a screen."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import typer

from scaleup.errors import on_one_line

if TYPE_CHECKING:
    from rich.console import Console

    from scaleup.show.frames import Frame
    from scaleup.units_shown import UnitShown

Answer = TypeVar("Answer")


@dataclass(frozen=True)
class Output:
    """What was asked of the output."""

    json: bool
    csv: Path | None
    force: bool
    units: Mapping[str, Sequence[UnitShown]] = field(default_factory=dict)
    """Units of figures on a screen, by their core unit; JSON and CSV keep the units they state."""


def wrote(*paths: Path, err: bool = False) -> None:
    """Say which files were written."""
    for path in paths:
        typer.echo(f"wrote {on_one_line(str(path))}", err=err)


def give_out(
    answer: Answer,
    output: Output,
    show: Callable[[Console, Answer], None],
    form: Callable[[Answer], dict[str, Any]],
    frame: Callable[[Answer], Frame] | None = None,
    pictures: Mapping[Path, bytes] | None = None,
) -> None:
    """Write the CSV table if one was asked for, and pictures, then print JSON or the screen.

    Raises
    ------
    InputError
        If a file exists and is not to be replaced, or cannot be written; none is written then.
    """
    files: dict[Path, bytes | str] = dict(pictures or {})
    if output.csv is not None and frame is not None:
        files[output.csv] = frame(answer).csv()
    if files:
        from scaleup.io.writing import write_together  # noqa: PLC0415  quick --help

        write_together(files, output.force, make_folders=False)
        wrote(*(pictures or ()), err=True)
    if output.json:
        from scaleup.show.json_form import json_text  # noqa: PLC0415

        typer.echo(json_text(form(answer)), nl=False)
        return
    from rich.console import Console  # noqa: PLC0415

    from scaleup.units_shown import shown_in  # noqa: PLC0415

    with shown_in(output.units):
        show(Console(highlight=False), answer)
