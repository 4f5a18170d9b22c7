"""``scaleup report`` and ``scaleup plot``: a page, and single pictures."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from scaleup.cli.options import (
    AsGiven,
    Asked,
    Confidence,
    Draws,
    Margin,
    OtherPress,
    OtherSpeed,
    OtherTooling,
    Replace,
    Seed,
    StudyPath,
    asked,
    progress,
    study_at_speed,
    study_with_margin,
)
from scaleup.cli.output import wrote
from scaleup.cli.units_option import Units, units_asked
from scaleup.errors import Fault, InputError

if TYPE_CHECKING:
    from scaleup.answers.trial.learning import Learned
    from scaleup.model.study import Study

STAGES = 3


def report(  # noqa: PLR0913, PLR0917  a command has as many arguments as options
    study: StudyPath,
    out: Annotated[Path, typer.Option(help="The page, an .html file.")],
    sheet: Annotated[
        Path | None, typer.Option(help="A filled trial sheet whose results are added.")
    ] = None,
    pdf: Annotated[bool, typer.Option("--pdf", help="Print it to PDF as well.")] = False,
    to: OtherPress = None,
    tooling: OtherTooling = None,
    speed: OtherSpeed = None,
    confidence: Confidence = None,
    margin: Margin = None,
    draws: Draws = 4000,
    seed: Seed = 1,
    as_given: AsGiven = False,
    units: Units = None,
    force: Replace = False,
) -> None:
    """Write one page with everything a study says, pictures included; it needs no network.

    Example: scaleup report examples/marram --out page.html
    """
    from scaleup.io.reading_gate import sha256  # noqa: PLC0415  quick --help
    from scaleup.io.writing import write_together  # noqa: PLC0415
    from scaleup.show.pictures import subject_of  # noqa: PLC0415
    from scaleup.show.report import ReportParts, report_page  # noqa: PLC0415
    from scaleup.units_shown import shown_in  # noqa: PLC0415

    if out.suffix.lower() not in (".html", ".htm"):
        raise InputError(Fault("", "--out", f'the ending "{out.suffix}"', "a name ending in .html"))
    common, shown = asked(confidence, draws, seed), units_asked(units, study)
    read = study_with_margin(study_at_speed(study, to, tooling, speed), margin).confirmed(as_given)
    with progress("fitting, mapping and drawing", STAGES) as advance:
        learned = None if sheet is None else _learned(read, sheet, common)
        taught = read if learned is None else learned.study
        advance()
        analysis = common.analysis(taught)
        answer = analysis.translate()
        advance()
        subject = subject_of(analysis)
        window = None if subject is None else subject.window
        known = None if sheet is None else (sheet.name, sha256(sheet))
        with shown_in(shown):
            text = report_page(ReportParts(answer, window, subject, learned, known))
        advance()
    files: dict[Path, bytes | str] = {out: text}
    if pdf:
        from scaleup.show.printing import printed  # noqa: PLC0415

        files[out.with_suffix(".pdf")] = printed(text)
    write_together(files, force=force)
    wrote(*files)


def picture_names(incomplete: str) -> list[str]:
    """Return the pictures whose name begins as typed, for completion in a shell."""
    from scaleup.show.pictures import PICTURES  # noqa: PLC0415

    return [name for name in PICTURES if name.startswith(incomplete)]


def plot(  # noqa: PLR0913, PLR0917  a command has as many arguments as options
    study: StudyPath,
    name: Annotated[
        str,
        typer.Argument(
            help="pulse, solid-fraction, strength, speed, window or budget.",
            autocompletion=picture_names,
        ),
    ],
    out: Annotated[Path, typer.Option(help="The picture, an .svg or .png file.")],
    to: OtherPress = None,
    tooling: OtherTooling = None,
    speed: OtherSpeed = None,
    confidence: Confidence = None,
    margin: Margin = None,
    draws: Draws = 4000,
    seed: Seed = 1,
    as_given: AsGiven = False,
    force: Replace = False,
) -> None:
    """Write one picture of a study.

    Example: scaleup plot examples/marram window --out window.svg
    """
    from scaleup.io.writing import write_whole  # noqa: PLC0415
    from scaleup.show.pictures import PICTURES, picture, picture_png, subject_of  # noqa: PLC0415
    from scaleup.text import nearest  # noqa: PLC0415

    if name not in PICTURES:
        allowed = ", ".join(PICTURES)
        raise InputError(Fault("", "NAME", f'"{name}"', allowed, nearest(name, PICTURES)))
    if out.suffix.lower() not in (".svg", ".png"):
        raise InputError(Fault("", "--out", f'the ending "{out.suffix}"', ".svg or .png"))
    common = asked(confidence, draws, seed)
    read = study_with_margin(study_at_speed(study, to, tooling, speed), margin).confirmed(as_given)
    with progress("fitting and drawing", 1) as advance:
        subject = subject_of(common.analysis(read))
        if subject is None:
            found = "runs that allow no fit, and so no picture"
            raise InputError(Fault(read.lab.runs_file, "", found, "runs that allow a fit"))
        subject.case.calibrated.refuse_doubts()
        drawn = (
            picture(name, subject).svg
            if out.suffix.lower() == ".svg"
            else picture_png(name, subject)
        )
        advance()
    write_whole(out, drawn, force=force)
    wrote(out)


def _learned(study: Study, sheet: Path, common: Asked) -> Learned:
    from scaleup.io.trial_sheet.reading import read_trial_sheet  # noqa: PLC0415

    return common.analysis(study).learn(read_trial_sheet(sheet, sheet.name))
