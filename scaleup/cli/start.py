"""``scaleup start``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def start(
    folder: Annotated[Path, typer.Argument(help="A new or an empty folder.")],
) -> None:
    """Write a commented study with invented data that translates as it stands.

    Example: scaleup start mystudy
    """
    from scaleup.files.starter import write_starter  # noqa: PLC0415  quick --help

    for path in write_starter(folder):
        typer.echo(f"wrote {path}")
    typer.echo(f"next: scaleup translate {folder}")
