"""The page that is gone through before a trial starts: tooling, press and its settings."""

from __future__ import annotations

from collections.abc import Sequence

from scaleup.answers.trial.design import AT_CENTRE
from scaleup.answers.trial.plan import TrialPlan
from scaleup.sentence import Words
from scaleup.show.page import paragraph
from scaleup.show.trial_figures import kilonewtons, set_to, stop_at, weight_limits
from scaleup.show.trial_page_parts import (
    BOX,
    TrialSheetPage,
    fields,
    form_table,
    heading,
    signatures,
)
from scaleup.show.trial_words import weight_text
from scaleup.wording import significant

TOOLING: tuple[tuple[str, str], ...] = (
    ("punch tips", "no chips, burrs, bent edges or cracks; land not worn"),
    ("punch heads", "no flattening, pitting or scoring; necks without cracks"),
    ("length record", "working lengths of all punches within the site's tolerance"),
    ("dies", "no wear ring, scoring or chipped edge; seated flush and locked"),
    ("cups or tip faces", "no picking residue or scratches; depth within tolerance"),
    ("cam tracks", "clean, no wear or damage; fill cam fits the fill depth"),
    ("lubrication", "heads, barrels and tracks as the press asks; none on the tips"),
    ("keys", "of keyed punches: tight, straight, free in their slots; else n/a"),
)
"""What is inspected of tooling (common practice)."""
PRESS: tuple[tuple[str, str], ...] = (
    ("line clearance", "nothing of the batch before; room and press released as clean"),
    ("turn by hand", "one whole turn of the turret, nothing touches or drags"),
    ("guards and interlocks", "closed; each one tried: the press does not start open"),
    ("emergency stop", "tried"),
    ("overload protection", "set to {force} kN or less"),
    ("force zero, gauges", "zero read without load; all instruments in calibration"),
    ("dust and people", "extraction runs; protection as the powder's safety data ask"),
)
"""What is checked of a press (common practice)."""
CAUTION = (
    "Caution. These lists are common practice and not complete. Lock the press out before hands or "
    "tools reach into it. The manual of the press, the site's procedures, local codes on machinery "
    "and combustible dust, and people qualified for them come first."
)


def set_up_page(plan: TrialPlan) -> TrialSheetPage:
    """Return the page of settings and inspection before the start."""
    press = [(name, text.format(force=kilonewtons(plan.stops.force))) for name, text in PRESS]
    return TrialSheetPage(
        "Before the start",
        "set-up and inspection",
        parts=(
            heading("Set up for the centre"),
            fields(_settings(plan), "four"),
            heading("Tooling"),
            _checklist("tooling inspection", TOOLING),
            heading("Press"),
            _checklist("press checked", press),
            paragraph(CAUTION, "frame small"),
            signatures("set up by", "checked and released by"),
        ),
    )


def _settings(plan: TrialPlan) -> list[tuple[str, Words]]:
    centre = next(run for run in plan.runs if run.rung.purpose in AT_CENTRE)
    known = [(name.split("|"), text) for name, text in set_to(centre).items()]
    penetration = plan.study.production.press.profile.penetration
    facts: list[tuple[str, Words]] = [
        (f"{name}, {unit}", "" if text == "n/a" else text) for (name, unit), text in known
    ]
    if penetration is not None:
        told = f"{significant(penetration, 3)} (press profile)"
        facts.append(("upper punch penetration, mm", told))
    return [
        *facts,
        ("tablet weight, mg", f"{weight_text(plan.weight)} ({weight_limits(plan)})"),
        ("stop at a main force, kN", stop_at(plan.stops.force, "above", "kN")),
        ("feeder speed, rpm", ""),
        ("hopper level, %", ""),
        ("tooling set number", ""),
        ("stations fitted", ""),
    ]


def _checklist(label: str, items: Sequence[tuple[str, str]]) -> str:
    rows = [(name, text, BOX, "", "") for name, text in items]
    heads = ("what", "look for", "done", "remarks", "signature")
    return form_table(label, heads, rows, (16, 42, 6, 22, 14), texts=1)
