"""The pages on which a trial is summed up, held against its acceptance rule and decided."""

from __future__ import annotations

from collections.abc import Iterator

from scaleup.answers.trial.plan import TrialPlan, TrialRun
from scaleup.io.trial_sheet.columns import YES_NO
from scaleup.show.page import plain
from scaleup.show.trial_figures import predicted_mean
from scaleup.show.trial_page_parts import (
    Block,
    TrialSheetPage,
    fields,
    flowed,
    form_table,
    heading,
    signatures,
    table_height,
    text_height,
    ticked,
    unit_heading,
)

RUNS_ON_PAGE = 16


def result_pages(plan: TrialPlan) -> Iterator[TrialSheetPage]:
    """Yield the means of every run against their limits, the acceptance rule and the decision."""
    return flowed("Results and decision", _results(plan))


def _results(plan: TrialPlan) -> Iterator[Block]:
    for first in range(0, len(plan.runs), RUNS_ON_PAGE):
        runs = plan.runs[first : first + RUNS_ON_PAGE]
        yield Block(_means_table(runs, first), table_height(len(runs), 2) + 2.0)
    yield _rules_table(plan)
    lines = '<div class="lines"></div>'
    yield Block(heading("Runs left out, repeated or changed, and why") + lines, 22.0)
    decision = fields([("decision", "")], "one") + signatures("decided by", "for quality")
    yield Block(heading("Decision") + decision, 27.0)


def _means_table(runs: tuple[TrialRun, ...], first: int) -> str:
    heads = [
        "run", "purpose", unit_heading("mean thickness", "mm"), "within limits",
        unit_heading("mean breaking force", "N"), "within limits", "defects seen",
        unit_heading("friability", "%"),
    ]  # fmt: skip
    rows = [_means_row(run) for run in runs]
    label = f"results of the runs from {first + 1}"
    return form_table(label, heads, rows, (6, 16, 11, 16, 11, 16, 14, 10), texts=1)


def _means_row(run: TrialRun) -> list[str]:
    thickness, force = (
        f'{ticked(*YES_NO)}<br><span class="band">{predicted_mean(run, name)[1]}</span>'
        for name in ("thickness", "breaking_force")
    )
    purpose = plain(run.rung.purpose)
    return [plain(run.name), purpose, "", thickness, "", force, ticked(*YES_NO), ""]


def _rules_table(plan: TrialPlan) -> Block:
    result = "<br>".join(ticked(each) for each in ("holds", "does not hold"))
    rows = [(plain(rule), result, "", "") for rule in plan.acceptance]
    heads = ("acceptance rule, fixed before the trial", "result", "why", "signature")
    height = 8.0 + sum(max(2.2 * text_height(rule), 11.0) for rule in plan.acceptance)
    table = form_table("acceptance rule", heads, rows, (46, 16, 22, 16))
    return Block(f'<div class="rules">{table}</div>', height)
