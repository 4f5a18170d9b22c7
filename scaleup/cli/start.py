"""``scaleup start``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from scaleup.cli.output import wrote
from scaleup.errors import on_one_line


def start(
    folder: Annotated[Path, typer.Argument(help="A new or an empty folder.")],
) -> None:
    """Write a commented study with invented data that translates as it stands.

    Example: scaleup start mystudy
    """
    from scaleup.io.starter import write_starter  # noqa: PLC0415  quick --help

    wrote(*write_starter(folder))
    typer.echo(f"next: scaleup translate {on_one_line(str(folder))}")
