"""The plan of a trial: as the files of its sheet, on a terminal and as JSON."""

from __future__ import annotations

from typing import Any

from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text

from scaleup.answers.experiments import Experiment
from scaleup.answers.trial.plan import TrialPlan, TrialRun
from scaleup.answers.trial.planned_rows import record_of, sheet_rows
from scaleup.answers.trial.stop_limits import StopLimits
from scaleup.io.trial_record import record_text
from scaleup.io.trial_sheet.writing import (
    SheetText,
    csv_samples,
    csv_sheet,
    csv_tablets,
    xlsx_sheet,
)
from scaleup.model.estimate import Estimate, exactly, unavailable
from scaleup.sentence import Words
from scaleup.show.frames import Frame
from scaleup.show.json_form import assumed_form, header, parts_form, powder_form, quantity_form
from scaleup.show.listing import Listing, figures, words
from scaleup.show.parts import (
    caution,
    confidence_line,
    fit_line,
    granted_lines,
    press_line,
    title,
    told,
)
from scaleup.show.trial_pages import plan_page
from scaleup.show.trial_words import (
    MUST_BE_TRUE,
    NO_TRIAL,
    NOTHING_TELLS,
    TO_FILL_IN,
    WOULD_TELL,
    all_digests,
    first_told,
    needs_told,
    plan_facts,
    plan_lines,
    precompression,
    provenance,
)

__all__ = [
    "plan_csv",
    "plan_form",
    "plan_frame",
    "plan_page",
    "plan_record",
    "plan_samples_csv",
    "plan_tablets_csv",
    "plan_xlsx",
    "runs_listing",
    "show_plan",
]
PLAN_FORMAT = "scaleup trial plan 1"


def plan_record(plan: TrialPlan) -> str:
    """Return what the plan fixed as the text of its file, which `scaleup trial learn` reads."""
    return record_text(record_of(plan))


def plan_csv(plan: TrialPlan) -> str:
    """Return the runs of the trial sheet as CSV."""
    how = "Fill in the columns from elapsed on; leave blank what was not measured."
    return csv_sheet(sheet_rows(plan), _csv_head(plan, f"Trial sheet of {plan.study.name}. {how}"))


def plan_samples_csv(plan: TrialPlan) -> str:
    """Return the timed samples of the trial sheet as CSV, to lie beside the runs."""
    what = f"Timed samples of the trial of {plan.study.name}, three of each run."
    return csv_samples(sheet_rows(plan), _csv_head(plan, what))


def plan_tablets_csv(plan: TrialPlan) -> str:
    """Return the single tablets of the trial sheet as CSV, to lie beside the runs."""
    what = f"Single tablets of the trial of {plan.study.name}, spread over the samples of each run."
    return csv_tablets(sheet_rows(plan), _csv_head(plan, what))


def _csv_head(plan: TrialPlan, what: str) -> list[str]:
    return [what, plan.caution, *[f"{name}: {fact}" for name, fact in plan_facts(plan)]]


def plan_xlsx(plan: TrialPlan) -> bytes:
    """Return the trial sheet as a workbook with the plan beside it."""
    return xlsx_sheet(
        sheet_rows(plan),
        SheetText(
            blanks=TO_FILL_IN,
            facts=[*plan_facts(plan), *all_digests(plan)],
            plan=plan_lines(plan),
            footer=provenance(plan),
        ),
    )


def show_plan(console: Console, plan: TrialPlan) -> None:
    """Print the runs of a plan and what they need, or why there is none and what to do first."""
    console.print(
        title(
            plan.study,
            f"trial on {press_line(plan.study.production)}; {confidence_line(plan.confidence)}",
        )
    )
    console.print(fit_line(plan.calibrated.fit))
    for text in plan.against:
        console.print(Text(f"against this trial: {text}", style="bold red"))
    if plan.withheld:
        _show_withheld(console, plan)
    else:
        _show_runs(console, plan)
    console.print(granted_lines(plan.assumed))
    console.print(caution(plan.caution))


def _show_runs(console: Console, plan: TrialPlan) -> None:
    console.print(runs_listing(plan).rich())
    console.print(Text("predicted means with their action limits", style="dim"))
    for heading, texts in (("", plan.reasons), ("stop the run on", plan.stop_rules)):
        if heading:
            console.print(Text(heading, style="bold"))
        for text in texts:
            console.print(_item(text))
    console.print(Text(needs_told(plan)))
    console.print(Text(f"plan {record_of(plan).short_hash}", style="dim"))


def _show_withheld(console: Console, plan: TrialPlan) -> None:
    console.print(Text(NO_TRIAL, style="bold red"))
    console.print(Text(MUST_BE_TRUE, style="bold"))
    for text in plan.withheld:
        console.print(_item(text))
    console.print(Text(WOULD_TELL if plan.first else NOTHING_TELLS, style="bold"))
    for each in plan.first:
        console.print(_item(first_told(each)))


def _item(text: Words) -> RenderableType:
    """Return a text whose lines after the first are set in."""
    grid = Table.grid(padding=(0, 1))
    grid.add_row("-", Text(str(text)))
    return grid


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
        "plan": record_of(plan).hash,
        "planned": bool(plan.runs),
        "withheld": list(plan.withheld),
        "first": [_first_form(each) for each in plan.first],
        "objective": plan.objective,
        "against": list(plan.against),
        "weight": quantity_form(exactly(plan.weight, "mg")),
        "weight_limits": quantity_form(Estimate(plan.weight, "mg", *plan.weight_limits)),
        "runs": [
            {
                "run": run.name,
                "purpose": run.rung.purpose,
                "speed": quantity_form(exactly(run.rung.speed, "rpm")),
                "force": quantity_form(exactly(run.rung.force, "N")),
                "precompression_share": run.rung.pre_share,
                "tablets": run.tablets,
                "block": run.rung.block,
                "start": quantity_form(exactly(run.start, "s")),
                "settings": _settings_form(run),
                "predicted": {name: quantity_form(each) for name, each in run.predicted.items()},
                "action_limits": {name: quantity_form(each) for name, each in run.action.items()},
            }
            for run in plan.runs
        ],
        "reasons": list(plan.reasons),
        "stops": _stops_form(plan.stops),
        "stop_rules": list(plan.stop_rules),
        "instructions": list(plan.instructions),
        "acceptance": list(plan.acceptance),
        "powder": quantity_form(plan.powder),
        "time": quantity_form(plan.time),
        "notes": list(plan.notes),
        "powder_fit": powder_form(plan.calibrated.fit),
        "assumed": assumed_form(plan.assumed),
        "caution": plan.caution,
    }


def _settings_form(run: TrialRun) -> dict[str, Any]:
    """Return the settings of a run; its precompression is its own, not that of the study."""
    return parts_form(run.settings) | {"precompression_force": quantity_form(precompression(run))}


def _stops_form(stops: StopLimits) -> dict[str, Any]:
    limits = {
        "force": stops.force,
        "ejection_force": stops.ejection,
        "breaking_force": stops.breaking_force,
    }
    return {
        name: quantity_form(unavailable("N", "nothing states it") if limit is None
                            else exactly(limit, "N"))
        for name, limit in limits.items()
    }  # fmt: skip


def _first_form(each: Experiment) -> dict[str, Any]:
    return {
        "name": each.name,
        "told": each.told,
        "cost": each.cost.told,
        "narrower": {name.replace(" ", "_"): share for name, share in each.narrower.items()},
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
