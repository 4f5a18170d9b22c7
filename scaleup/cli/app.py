"""The commands put together."""

from __future__ import annotations

from typing import Annotated

import typer

from scaleup import __version__
from scaleup.cli.budget import budget
from scaleup.cli.compare import compare
from scaleup.cli.judge import judge
from scaleup.cli.profiles import profiles
from scaleup.cli.record import record
from scaleup.cli.report import plot, report
from scaleup.cli.speed import speed
from scaleup.cli.start import start
from scaleup.cli.translate import translate
from scaleup.cli.trial import trial
from scaleup.cli.window import window

app = typer.Typer(
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"scaleup {__version__}")
        raise typer.Exit


@app.callback()
def scaleup(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """Translate a tablet made on a single-station lab press to a rotary production press.

    Example: scaleup start mystudy && scaleup translate mystudy

    A screening calculation, not a validation: a trial, and qualified people, decide.
    """


app.command()(translate)
app.command()(judge)
app.command()(budget)
app.command()(speed)
app.command()(compare)
app.command()(window)
app.command()(record)
app.command()(report)
app.command()(plot)
app.command()(start)
app.add_typer(profiles, name="profiles")
app.add_typer(trial, name="trial")
