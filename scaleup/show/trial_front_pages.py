"""The first pages of a trial: what it is of, and every run in its order."""

from __future__ import annotations

from collections.abc import Iterator

from scaleup.answers.trial.plan import ACTION, TrialPlan, TrialRun
from scaleup.sentence import Words
from scaleup.show.page import plain
from scaleup.show.trial_figures import (
    not_available,
    predicted_mean,
    set_to,
)
from scaleup.show.trial_page_parts import (
    Block,
    TrialSheetPage,
    fields,
    flowed,
    form_table,
    headed,
    heading,
    listing,
    table_height,
    told,
    unit_heading,
)
from scaleup.show.trial_words import needs_told, weight_told
from scaleup.wording import percent

FIELD = 9.0
"""Height in mm of a row of fields."""
RUNS_ON_PAGE = 18
HOW_TO_READ = (
    f"Values are the predicted means of the tablets sampled; below them the action limits, between "
    f"which {percent(ACTION)} of the means lie if the prediction is right."
)


def front_pages(plan: TrialPlan) -> Iterator[TrialSheetPage]:
    """Yield what the trial is of, what stops it and how it is gone through."""
    return flowed("Production trial", _front(plan))


def _front(plan: TrialPlan) -> Iterator[Block]:
    yield _header(plan)
    yield told(plan.objective)
    yield told(f"Caution. {plan.caution}", "frame")
    for text in plan.against:
        yield told(f"Against this trial: {text}", "against")
    yield from headed("Target weight", weight_told(plan))
    yield from listing("Stop the run at once on", plan.stop_rules)
    yield from listing("How the runs are gone through", plan.instructions)
    yield from headed("Equipment", "; ".join(str(each) for each in plan.equipment))
    yield from headed("Materials", "; ".join(str(each) for each in plan.materials))


def _header(plan: TrialPlan) -> Block:
    made = plan.study.production
    press = f"{made.press.profile.name} ({made.press.id})"
    tooling = f"{made.tooling.id}, {made.tooling.profile.shape}"
    facts: list[tuple[str, Words]] = [
        ("product", plan.study.name), ("blend batch", ""), ("date of the trial", ""),
        ("press", press), ("press number", ""), ("room", ""),
        ("tooling", tooling), ("tooling number", ""), ("feeder", ""),
        ("balance number", ""), ("thickness gauge number", ""),
        ("breaking force tester number", ""),
        ("friability drum number", ""), ("trial led by", ""), ("date of the plan",
                                                               plan.options.date),
    ]  # fmt: skip
    longest = max(len(str(fact)) for _, fact in facts)
    return Block(fields(facts), 5 * FIELD + 4.0 * (longest // 20))


def runs_pages(plan: TrialPlan) -> Iterator[TrialSheetPage]:
    """Yield every run in one table, why these, what decides and what it takes."""
    return flowed("All runs in order", _runs(plan))


def _runs(plan: TrialPlan) -> Iterator[Block]:
    for first in range(0, len(plan.runs), RUNS_ON_PAGE):
        runs = plan.runs[first : first + RUNS_ON_PAGE]
        yield Block(_runs_table(runs, first), table_height(len(runs), 2) + 2.0)
    yield told("; ".join((HOW_TO_READ.removesuffix("."), *not_available(plan))) + ".", "small")
    yield from listing("Why these settings", plan.reasons)
    yield from listing("Acceptance rule, fixed before the trial", plan.acceptance, ordered=True)
    yield from headed("Powder and time", needs_told(plan))


def _runs_table(runs: tuple[TrialRun, ...], first: int) -> str:
    heads = [
        "run", "purpose", unit_heading("speed", "rpm"), unit_heading("main force", "kN"),
        unit_heading("precompression", "kN"), unit_heading("fill depth", "mm"),
        unit_heading("tip separation", "mm"), "tablets",
        unit_heading("thickness", "mm"), unit_heading("breaking force", "N"),
    ]  # fmt: skip
    widths = (6, 16, 7, 8, 10, 8, 9, 8, 14, 14)
    rows = [_run_row(run) for run in runs]
    return form_table(f"runs from {first + 1}", heads, rows, widths, texts=1)


def _run_row(run: TrialRun) -> list[str]:
    means = [predicted_mean(run, name) for name in ("thickness", "breaking_force")]
    return [
        plain(run.name),
        plain(run.rung.purpose),
        *set_to(run).values(),
        str(run.tablets),
        *[f'<b>{value}</b><br><span class="band">{limits}</span>' for value, limits in means],
    ]


def withheld_blocks(plan: TrialPlan, first: list[str]) -> Iterator[Block]:
    """Yield what must be true first, and what would tell."""
    yield told(plan.objective)
    yield Block(heading("No trial is planned"), 8.0)
    yield from listing("What must be true first", plan.withheld)
    yield from listing("What would tell, the worthiest first", first)
    yield told(f"Caution. {plan.caution}", "frame")
