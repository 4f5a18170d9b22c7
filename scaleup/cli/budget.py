"""``scaleup budget``."""

from __future__ import annotations

from scaleup.cli.options import (
    AsGiven,
    AsJson,
    Confidence,
    CsvFile,
    Draws,
    OtherPress,
    OtherSpeed,
    OtherTooling,
    Replace,
    Seed,
    StudyPath,
    asked,
    progress,
    study_at_speed,
)
from scaleup.cli.output import Output, give_out
from scaleup.cli.units_option import Units, units_asked


def budget(  # noqa: PLR0913, PLR0917  a command has as many arguments as options
    study: StudyPath,
    to: OtherPress = None,
    tooling: OtherTooling = None,
    speed: OtherSpeed = None,
    confidence: Confidence = None,
    draws: Draws = 4000,
    seed: Seed = 1,
    as_given: AsGiven = False,
    units: Units = None,
    json: AsJson = False,
    csv: CsvFile = None,
    force: Replace = False,
) -> None:
    """Say what the bands are made of, and the cheapest thing that would shrink each part.

    What a site measured of gauges, wall friction, shear and batches is stated in the table
    [transfer] of a study, what experiments take in [experiments]: see examples/README.md.

    Example: scaleup budget examples/marram
    """
    from scaleup.show.budget import budget_form, budget_frame, show_budget  # noqa: PLC0415

    common = asked(confidence, draws, seed)
    wanted = Output(json, csv, force, units_asked(units, study))
    read = study_at_speed(study, to, tooling, speed).confirmed(as_given)
    with progress("fitting and weighing what could be measured", 1) as advance:
        answer = common.analysis(read).budget()
        advance()
    give_out(answer, wanted, show_budget, budget_form, budget_frame)
