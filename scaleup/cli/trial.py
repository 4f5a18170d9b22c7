"""``scaleup trial``: plan, learn."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from scaleup.cli.options import (
    AsGiven,
    AsJson,
    Confidence,
    Draws,
    Margin,
    OtherPress,
    OtherSpeed,
    OtherTooling,
    Replace,
    Seed,
    StudyPath,
    as_typed,
    asked,
    day,
    fitting_study,
    given_quantity,
    status,
    study_at_speed,
    study_with_margin,
    whole_number,
)
from scaleup.cli.output import Output, give_out, wrote

trial = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    help="Plan a production trial, and learn from its filled sheet.\n\n"
    "Example: scaleup trial plan examples/marram --out trial",
)

PLAN_FILES = (
    "trial-sheet.xlsx", "trial-sheet.csv", "trial-samples.csv", "trial-tablets.csv",
    "trial-plan.html", "trial-plan.json",
)  # fmt: skip
NOT_PLANNED = 3
"""Exit status where no trial is planned, as where a risk is severe and that was to be told."""


@trial.command()
def plan(  # noqa: PLR0913, PLR0917  a command has as many arguments as options
    context: typer.Context,
    study: StudyPath,
    out: Annotated[Path, typer.Option(help="Folder the trial is written to.")],
    to: OtherPress = None,
    tooling: OtherTooling = None,
    speed: OtherSpeed = None,
    tablets: Annotated[
        int | None, typer.Option(help="Tablets to sample from each run.", show_default="by scatter")
    ] = None,
    minutes: Annotated[str, typer.Option(help="How long each run is held.")] = "3 min",
    setting: Annotated[str, typer.Option(help="How long setting each run takes.")] = "5 min",
    hold_up: Annotated[
        str | None, typer.Option(help='Powder that hopper and feeder hold, as in "2 kg".')
    ] = None,
    weight_tolerance: Annotated[
        str, typer.Option(help="By how much a single tablet may be off the target weight.")
    ] = "5 %",
    date: Annotated[
        str | None, typer.Option(help="Day of the plan, as 2026-03-14.", show_default="today")
    ] = None,
    confidence: Confidence = None,
    margin: Margin = None,
    draws: Draws = 4000,
    seed: Seed = 1,
    as_given: AsGiven = False,
    json: AsJson = False,
    force: Replace = False,
) -> None:
    """Write a trial: a sheet to fill in as XLSX and CSV, and the plan as pages that print.

    The plan itself is trial-plan.json, which scaleup trial learn holds the sheet against. Nothing
    is written where no trial would be safe: the exit status is then 3.

    Example: scaleup trial plan examples/marram --out trial --tablets 20
    """
    from scaleup.answers.trial.options import TOLERANCES, TrialOptions  # noqa: PLC0415

    common = asked(confidence, draws, seed)
    options = TrialOptions(
        None if tablets is None else whole_number("--tablets", tablets, 1, 1000),
        (given_quantity("--minutes", minutes, "s", 1.0, 1e5) or 0.0) / 60.0,
        (given_quantity("--setting", setting, "s", 1.0, 1e5) or 0.0) / 60.0,
        given_quantity("--hold-up", hold_up, "mg", 1.0, 1e9) or 0.0,
        given_quantity("--weight-tolerance", weight_tolerance, "1", *TOLERANCES) or 0.0,
        day("--date", date),
        as_typed(context, left_out=("out", "json", "force", "date")),
    )
    read = study_with_margin(study_at_speed(study, to, tooling, speed), margin).confirmed(as_given)
    with status("planning"):
        planned = common.analysis(read).plan_trial(options)
    from scaleup.io.writing import write_together  # noqa: PLC0415
    from scaleup.show.trial_plan import (  # noqa: PLC0415
        plan_csv,
        plan_form,
        plan_page,
        plan_record,
        plan_samples_csv,
        plan_tablets_csv,
        plan_xlsx,
        show_plan,
    )

    if not planned.runs:
        give_out(planned, Output(json, None, force), show_plan, plan_form)
        raise typer.Exit(NOT_PLANNED)
    contents: tuple[bytes | str, ...] = (
        plan_xlsx(planned),
        plan_csv(planned),
        plan_samples_csv(planned),
        plan_tablets_csv(planned),
        plan_page(planned),
        plan_record(planned),
    )
    files = {out / name: each for name, each in zip(PLAN_FILES, contents, strict=True)}
    write_together(files, force=force)
    give_out(planned, Output(json, None, force), show_plan, plan_form)
    if json:
        return
    wrote(*files)


@trial.command()
def learn(  # noqa: PLR0913, PLR0917  a command line option each
    study: StudyPath,
    sheet: Annotated[Path, typer.Argument(help="The filled trial sheet, CSV or XLSX.")],
    to: OtherPress = None,
    tooling: OtherTooling = None,
    out: Annotated[
        Path | None, typer.Option(help="New folder for the study with the trial's runs.")
    ] = None,
    plan: Annotated[
        Path | None,
        typer.Option(help="The plan's trial-plan.json.", show_default="that beside the sheet"),
    ] = None,
    confidence: Confidence = None,
    margin: Margin = None,
    draws: Draws = 4000,
    seed: Seed = 1,
    as_given: AsGiven = False,
    json: AsJson = False,
) -> None:
    """Hold a filled trial sheet against its predictions, and learn from it.

    The plan is looked for beside the sheet, as trial-plan.json. A trial planned with --to and
    --tooling is learned with them: its press is then the study's own.

    Example: scaleup trial learn examples/marram examples/marram/trial-sheet.csv
    """
    from scaleup.io.trial_sheet.reading import read_trial_sheet  # noqa: PLC0415
    from scaleup.show.trial_learned import learned_form, show_learned  # noqa: PLC0415

    common = asked(confidence, draws, seed)
    read = study_with_margin(fitting_study(study, to, tooling), margin).confirmed(as_given)
    filled = read_trial_sheet(sheet, sheet.name, plan=plan)
    with status("learning"):
        learned = common.analysis(read).learn(filled)
    written: tuple[Path, ...] = ()
    if out is not None:
        from scaleup.io.updated_study import write_updated_study  # noqa: PLC0415

        why = f"{read.name}: the runs of the study and of the trial sheet {sheet.name}."
        written = write_updated_study(learned.study, out, why)
    give_out(learned, Output(json, None, force=False), show_learned, learned_form)
    if json:
        return
    wrote(*written)
