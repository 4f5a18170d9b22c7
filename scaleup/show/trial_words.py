"""The words of a plan that its screen, its sheets and its pages share."""

from __future__ import annotations

import re

from scaleup import __version__
from scaleup.answers.experiments import Experiment
from scaleup.answers.trial.plan import TrialPlan, TrialRun
from scaleup.answers.trial.planned_rows import record_of
from scaleup.answers.trial.worth import WASTE
from scaleup.model.estimate import Estimate, exactly
from scaleup.sentence import Words
from scaleup.show.parts import granted_told
from scaleup.wording import percent, significant

NO_TRIAL = "No trial is planned."
MUST_BE_TRUE = "What must be true first:"
WOULD_TELL = "What would tell, the worthiest first:"
NOTHING_TELLS = "No experiment that the study allows would tell more."
TO_FILL_IN = (
    "blend batch", "press number", "tooling number", "balance number", "thickness gauge number",
    "breaking force tester number", "friability drum number", "feeder", "room",
    "date of the trial",
)  # fmt: skip
"""Facts of a trial that only the press room knows."""
_SOURCE = re.compile(r"\s*\((?:cited )?from memory\)|,?\s*\b(?:cited )?from memory\b")


def without_source(text: Words) -> str:
    """Return a text without the remark that its value is from memory, which no record has.

    >>> without_source("0.050 (usual of a lubricated blend, from memory); 0.5 (from memory).")
    '0.050 (usual of a lubricated blend); 0.5.'
    """
    return _SOURCE.sub("", str(text))


def granted_in_record(plan: TrialPlan) -> list[str]:
    """Return what was taken for granted, as a record tells it."""
    return [without_source(text) for text in granted_told(plan.assumed)]


def plan_facts(plan: TrialPlan) -> list[tuple[str, str]]:
    """Return what a plan was made from, as name and fact."""
    drawing = plan.calibrated.drawing
    return [
        ("study", plan.study.name),
        ("plan", record_of(plan).short_hash),
        ("scaleup", __version__),
        ("seed", str(drawing.seed)),
        ("draws", str(drawing.draws)),
        ("date of the plan", plan.options.date or "not told"),
        ("command", plan.options.command or "not told"),
    ]


def all_digests(plan: TrialPlan) -> list[tuple[str, str]]:
    """Return the whole hash of a plan and of every file it was made from."""
    return [
        ("whole hash of the plan (SHA-256)", record_of(plan).hash),
        *[(f"SHA-256 of {file}", digest) for file, digest in plan.study.inputs],
    ]


def provenance(plan: TrialPlan) -> str:
    """Return on one line what every printed page of a sheet carries."""
    facts = dict(plan_facts(plan))
    return (
        f"{facts['study']}; plan {facts['plan']} of {facts['date of the plan']}; "
        f"scaleup {facts['scaleup']}, seed {facts['seed']}, {facts['draws']} draws"
    )


def plan_lines(plan: TrialPlan) -> list[str]:
    """Return the plan as lines of text; one that does not begin with a space is a heading."""
    parts: tuple[tuple[str, tuple[Words, ...] | list[str]], ...] = (
        ("Against this trial", plan.against),
        ("Target weight", [weight_told(plan)]),
        ("Why these settings", plan.reasons),
        ("Equipment", plan.equipment),
        ("Materials", plan.materials),
        ("How the runs are gone through", plan.instructions),
        ("Stop the run on", plan.stop_rules),
        ("Accepted if", plan.acceptance),
        ("Powder and time", [needs_told(plan)]),
        ("Notes", plan.notes),
        ("Taken for granted", granted_in_record(plan)),
        ("Caution", [plan.caution]),
    )  # fmt: skip
    lines = [f"Trial of {plan.study.name}", f"   {plan.objective}"]
    for heading, texts in parts:
        if texts:
            lines += [heading, *[f"   {text}" for text in texts]]
    return lines


def weight_told(plan: TrialPlan) -> str:
    """Return the target weight, and between which weights a single tablet has to be."""
    low, high = map(weight_text, plan.weight_limits)
    return f"{weight_text(plan.weight)} mg; a single tablet {low} to {high} mg."


def weight_text(value: float) -> str:
    """Return a weight in mg as a balance shows it."""
    return significant(value, 4)


def needs_told(plan: TrialPlan) -> str:
    """Return how much powder and time the trial takes."""
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


def precompression(run: TrialRun) -> Estimate:
    """Return the precompression that a run is set to; the press has no less than none."""
    return exactly(run.rung.force * run.rung.pre_share, "N")


def first_told(each: Experiment) -> str:
    """Return an experiment with its cost and what it would narrow."""
    narrower = [
        f"the band of {name} by {percent(share)}"
        for name, share in each.narrower.items()
        if share >= 0.01
    ]
    told = f"; it narrows {', '.join(narrower)}" if narrower else ""
    return f"{each.told} ({each.cost.told}){told}"
