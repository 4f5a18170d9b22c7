"""What the plan of a trial is given out as: its files, its screen and its JSON."""

from __future__ import annotations

from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text

from scaleup.answers.trial.plan import TrialPlan, TrialRun
from scaleup.answers.trial.planned_rows import record_of, sheet_rows
from scaleup.io.trial_record import record_text
from scaleup.io.trial_sheet.writing import (
    SheetText,
    csv_samples,
    csv_sheet,
    csv_tablets,
    xlsx_sheet,
)
from scaleup.model.estimate import Estimate
from scaleup.sentence import Words
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
from scaleup.show.trial_form import plan_form
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
    provenance,
)

__all__ = [
    "plan_csv",
    "plan_form",
    "plan_page",
    "plan_record",
    "plan_samples_csv",
    "plan_tablets_csv",
    "plan_xlsx",
    "runs_listing",
    "show_plan",
]


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
    parts = (
        ("", plan.reasons),
        ("stop the run on", plan.stop_rules),
        ("accepted if, as fixed by this plan", plan.acceptance),
    )
    for heading, texts in parts:
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
