"""The pages of a trial: printed, filled in by hand in a press room and signed."""

from __future__ import annotations

from collections.abc import Iterator

from scaleup.answers.trial.plan import TrialPlan
from scaleup.show.trial_front_pages import front_pages, runs_pages, withheld_blocks
from scaleup.show.trial_page_parts import Block, TrialSheetPage, flowed, listing, sheets_page
from scaleup.show.trial_result_pages import result_pages
from scaleup.show.trial_run_page import run_page
from scaleup.show.trial_set_up_page import set_up_page
from scaleup.show.trial_words import (
    all_digests,
    first_told,
    granted_in_record,
    plan_facts,
)

COMMAND_ON_PAGES = 100
"""Characters of the command that stand on every page; the last page has all of it."""


def plan_page(plan: TrialPlan) -> str:
    """Return the pages of a plan as one HTML file; where no trial is planned, what is to be done.

    Every printed page carries what the plan was made from and its hash.
    """
    return sheets_page(f"Production trial: {plan.study.name}", _foot(plan), list(_sheets(plan)))


def _sheets(plan: TrialPlan) -> Iterator[TrialSheetPage]:
    if not plan.runs:
        first = [first_told(each) for each in plan.first]
        blocks = (*withheld_blocks(plan, first), *_made_from(plan))
        yield from flowed("Production trial", blocks)
        return
    yield from front_pages(plan)
    yield from runs_pages(plan)
    yield set_up_page(plan)
    for run in plan.runs:
        yield run_page(plan, run)
    yield from result_pages(plan)
    yield from flowed("What the plan rests on", _notes(plan))


def _foot(plan: TrialPlan) -> str:
    facts = dict(plan_facts(plan))
    command = facts["command"]
    if len(command) > COMMAND_ON_PAGES:
        command = f"{command[: COMMAND_ON_PAGES - 1]}…"
    return (
        f"{facts['study']}; plan {facts['plan']} of {facts['date of the plan']}; "
        f"scaleup {facts['scaleup']}, seed {facts['seed']}, {facts['draws']} draws; {command}"
    )


def _notes(plan: TrialPlan) -> Iterator[Block]:
    yield from listing("Notes", plan.notes)
    yield from listing("Taken for granted", granted_in_record(plan))
    yield from _made_from(plan)


def _made_from(plan: TrialPlan) -> Iterator[Block]:
    facts = [f"{name}: {fact}" for name, fact in (*plan_facts(plan), *all_digests(plan))]
    for block in listing("Made from", facts):
        yield Block(f'<div class="small">{block.html}</div>', block.height)
