"""The plan of a trial: as a sheet, as a page, on a terminal and as JSON."""

from __future__ import annotations

from typing import Any

from rich.console import Console
from rich.text import Text

from scaleup import __version__
from scaleup.answers.trial.plan import TrialPlan, TrialRun
from scaleup.answers.trial.planned_rows import record_of, sheet_rows
from scaleup.answers.trial.worth import WASTE
from scaleup.io.trial_record import record_text
from scaleup.io.trial_sheet.writing import csv_sheet, xlsx_sheet
from scaleup.model.estimate import Estimate, exactly
from scaleup.show.frames import Frame
from scaleup.show.json_form import assumed_form, header, powder_form, quantity_form
from scaleup.show.listing import Listing, figures, words
from scaleup.show.numbers import band_text, value_text
from scaleup.show.page import bullets, page, paragraph, section, table
from scaleup.show.parts import (
    caution,
    confidence_line,
    fit_line,
    granted_lines,
    granted_told,
    press_line,
    title,
    told,
)
from scaleup.wording import percent, significant

PLAN_FORMAT = "scaleup trial plan 1"
HOW_TO_READ = (
    "Values are the predicted means of the tablets sampled; in brackets the action limits, between "
    "which 99 of 100 means lie if the prediction is right. Sample weight, thickness, breaking "
    "force and ejection force of each tablet, friability of the run, and look at every tablet for "
    "capping."
)


def plan_record(plan: TrialPlan) -> str:
    """Return what the plan fixed as the text of its file, which `scaleup trial learn` reads."""
    return record_text(record_of(plan))


def plan_csv(plan: TrialPlan) -> str:
    """Return the trial sheet as CSV."""
    what = f"Trial sheet of {plan.study.name}."
    how = "Fill in the columns from speed on; leave blank what was not measured."
    head = [f"{what} {how}", plan.caution]
    return csv_sheet(sheet_rows(plan), head)


def plan_xlsx(plan: TrialPlan) -> bytes:
    """Return the trial sheet as a workbook with the plan beside it."""
    lines = [f"Trial of {plan.study.name}", str(plan.objective), *_plan_lines(plan), plan.caution]
    return xlsx_sheet(sheet_rows(plan), {"plan": lines})


def _plan_lines(plan: TrialPlan) -> list[str]:
    parts = (
        ("Against this trial", plan.against),
        ("Why these settings", plan.reasons),
        ("Equipment", plan.equipment),
        ("Materials", plan.materials),
        ("Stop the run on", plan.stop_rules),
        ("Accepted if", plan.acceptance),
        ("Notes", plan.notes),
        ("Taken for granted", granted_told(plan.assumed)),
    )
    lines = []
    for heading, texts in parts:
        if texts:
            lines += [heading, *[f"   {text}" for text in texts]]
    return [*lines, _needs(plan)]


def _needs(plan: TrialPlan) -> str:
    kilograms = (plan.powder.value or 0.0) / 1e6
    minutes = (plan.time.value or 0.0) / 60.0
    rest = (
        " and the hold-up included"
        if plan.options.hold_up
        else " included; what hopper and feeder hold comes on top"
    )
    options = plan.options
    return (
        f"Powder about {kilograms:.3g} kg, {percent(WASTE)} for waste{rest}. Time about "
        f"{minutes:.0f} min: {len(plan.runs)} runs of {options.minutes:g} min, and "
        f"{options.setting_minutes:g} min to set each."
    )


def plan_page(plan: TrialPlan) -> str:
    """Return the plan as a page."""
    study = plan.study
    parts = [
        paragraph(plan.objective),
        paragraph(plan.caution, "caution"),
        *[paragraph(text, "against") for text in plan.against],
        section("Materials", bullets(plan.materials)),
        section("Equipment", bullets(plan.equipment)),
        section(
            "Runs, in order",
            bullets(plan.reasons),
            table(
                "runs of the trial",
                ("run", "purpose", "speed, rpm", "main force, kN", "precompression, kN",
                 "tablets", "thickness, mm", "solid fraction", "strength, MPa",
                 "breaking force, N", "ejection force, N"),
                [_page_row(run) for run in plan.runs],
                texts=2,
            ),
            paragraph(HOW_TO_READ),
        ),
        section("Stop the run on", bullets(plan.stop_rules)),
        section("Acceptance rule, fixed before the trial", bullets(plan.acceptance, ordered=True)),
        section("Powder and time", paragraph(_needs(plan))),
        section("Notes", bullets(plan.notes)),
        section("Taken for granted", bullets(granted_told(plan.assumed))),
    ]  # fmt: skip
    files = ", ".join(f"{file} {digest[:12]}" for file, digest in study.inputs)
    foot = [f"scaleup {__version__}, seed {plan.calibrated.drawing.seed}, inputs: {files}"]
    return page(f"Trial plan: {study.name}", parts, foot)


def _page_row(run: TrialRun) -> list[str]:
    rung = run.rung
    names = ("thickness", "solid_fraction", "tensile_strength", "breaking_force", "ejection_force")
    return [
        run.name,
        rung.purpose,
        significant(rung.speed, 3),
        significant(rung.force / 1e3, 3),
        "none" if rung.pre_share == 0.0 else significant(rung.force * rung.pre_share / 1e3, 3),
        str(run.tablets),
        *[_with_limits(run.predicted[name], run.action[name]) for name in names],
    ]


def _with_limits(predicted: Estimate, action: Estimate) -> str:
    if predicted.value is None:
        return "n/a"
    whole = Estimate(predicted.value, predicted.unit, action.low, action.high)
    return f"{value_text(whole)}\n({band_text(whole)})"


def show_plan(console: Console, plan: TrialPlan) -> None:
    """Print the runs of a plan and what they need."""
    console.print(
        title(
            plan.study,
            f"trial on {press_line(plan.study.production)}; {confidence_line(plan.confidence)}",
        )
    )
    console.print(fit_line(plan.calibrated.fit))
    for text in plan.against:
        console.print(Text(f"against this trial: {text}", style="bold red"))
    console.print(runs_listing(plan).rich())
    console.print(Text("predicted means with their action limits", style="dim"))
    for reason in plan.reasons:
        console.print(Text(f"- {reason}"))
    console.print(Text(_needs(plan)))
    console.print(granted_lines(plan.assumed))
    console.print(caution(plan.caution))


def runs_listing(plan: TrialPlan) -> Listing:
    """Return a row for each run, with its predicted means and their action limits."""
    rows = [
        (
            run.name, run.rung.purpose, f"{run.rung.speed:.3g}", f"{run.rung.force / 1e3:.3g}",
            f"{run.rung.force * run.rung.pre_share / 1e3:.3g}", str(run.tablets),
            *[_limits(run, name) for name in ("breaking_force", "thickness")],
        )
        for run in plan.runs
    ]  # fmt: skip
    set_to = ("rpm", "kN", "pre kN", "n", "breaking force, N", "thickness, mm")
    return Listing((*words("run", "purpose"), *figures(*set_to)), rows)


def _limits(run: TrialRun, name: str) -> str:
    predicted, action = run.predicted[name], run.action[name]
    if predicted.value is None:
        return "n/a"
    return told(Estimate(predicted.value, predicted.unit, action.low, action.high), unit=False)


def plan_form(plan: TrialPlan) -> dict[str, Any]:
    """Return the plan as plain lists and dictionaries."""
    return header(plan.study, PLAN_FORMAT, plan.calibrated.drawing.seed) | {
        "draws": plan.calibrated.drawing.draws,
        "objective": plan.objective,
        "against": list(plan.against),
        "runs": [
            {
                "run": run.name,
                "purpose": run.rung.purpose,
                "speed": quantity_form(exactly(run.rung.speed, "rpm")),
                "force": quantity_form(exactly(run.rung.force, "N")),
                "precompression_share": run.rung.pre_share,
                "tablets": run.tablets,
                "predicted": {name: quantity_form(each) for name, each in run.predicted.items()},
                "action_limits": {name: quantity_form(each) for name, each in run.action.items()},
            }
            for run in plan.runs
        ],
        "reasons": list(plan.reasons),
        "stop_rules": list(plan.stop_rules),
        "acceptance": list(plan.acceptance),
        "powder": quantity_form(plan.powder),
        "time": quantity_form(plan.time),
        "notes": list(plan.notes),
        "powder_fit": powder_form(plan.calibrated.fit),
        "assumed": assumed_form(plan.assumed),
        "caution": plan.caution,
    }


HEADINGS = (
    "run", "purpose", "speed [rpm]", "force [N]", "precompression [N]", "tablets", "quantity",
    "value", "unit", "low", "high", "lowest", "highest", "reason",
)  # fmt: skip


def plan_frame(plan: TrialPlan) -> Frame:
    """Return a line for each predicted mean of each run, with its band and its action limits."""
    return Frame.of(HEADINGS, [row for run in plan.runs for row in _rows(run)])


def _rows(run: TrialRun) -> list[tuple[object, ...]]:
    rung = run.rung
    set_to = (
        run.name, rung.purpose, rung.speed, rung.force, rung.force * rung.pre_share, run.tablets
    )  # fmt: skip
    return [
        (
            *set_to, name, each.value, each.unit, each.low, each.high, run.action[name].low,
            run.action[name].high, each.reason,
        )
        for name, each in run.predicted.items()
    ]  # fmt: skip
