"""``scaleup judge``."""

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


def judge(  # noqa: PLR0913, PLR0917  a command has as many arguments as options
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
    """Say whether a lab result may be transferred, what is missing, and what to press next.

    Example: scaleup judge examples/dunlin
    """
    from scaleup.show.judgement import judgement_form, judgement_frame, show_judgement  # noqa: PLC0415

    common = asked(confidence, draws, seed)
    wanted = Output(json, csv, force, units_asked(units, study))
    read = study_at_speed(study, to, tooling, speed).confirmed(as_given)
    with progress("fitting and weighing lab runs", 3) as advance:
        judgement = common.analysis(read).judge(advance=advance)
    give_out(judgement, wanted, show_judgement, judgement_form, judgement_frame)
