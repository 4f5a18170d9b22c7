"""``scaleup compare``."""

from __future__ import annotations

from typing import Annotated

import typer

from scaleup.cli.options import (
    AsGiven,
    AsJson,
    Confidence,
    CsvFile,
    Draws,
    OtherTooling,
    Replace,
    Seed,
    StudyPath,
    asked,
    press_ids,
    progress,
)
from scaleup.cli.output import Output, give_out
from scaleup.cli.units_option import Units, units_asked


def compare(  # noqa: PLR0913, PLR0917  a command has as many arguments as options
    study: StudyPath,
    to: Annotated[
        list[str] | None,
        typer.Option(
            "--to",
            help="A production press; again for each. All that take the tooling if absent.",
            autocompletion=press_ids,
        ),
    ] = None,
    tooling: OtherTooling = None,
    confidence: Confidence = None,
    draws: Draws = 2000,
    seed: Seed = 1,
    as_given: AsGiven = False,
    units: Units = None,
    json: AsJson = False,
    csv: CsvFile = None,
    force: Replace = False,
) -> None:
    """Rank production presses by the output at which they keep every limit.

    Example: scaleup compare examples/marram --to rotary-mid-19
    """
    from scaleup.answers.comparison import candidate_presses  # noqa: PLC0415
    from scaleup.io.study import read_study  # noqa: PLC0415  quick --help
    from scaleup.show.comparison import comparison_csv, comparison_form, show_comparison  # noqa: PLC0415

    common = asked(confidence, draws, seed)
    wanted = Output(json, csv, force, units_asked(units, study))
    read = read_study(study, None, tooling).confirmed(as_given)
    presses = candidate_presses(read, to or [])
    with progress("fitting and solving", len(presses)) as advance:
        found = common.analysis(read).compare(presses, advance=advance)
    give_out(found, wanted, show_comparison, comparison_form, comparison_csv)
