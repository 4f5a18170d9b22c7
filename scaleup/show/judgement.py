"""The judgement of a lab result: on a terminal, as JSON and as a table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rich.console import Console
from rich.text import Text

from scaleup.answers.first_runs import FirstRuns
from scaleup.answers.judgement import Judgement, narrowing
from scaleup.answers.proposals import WORTH, Proposal, Proposals
from scaleup.calibration.run_fit import Miss, RunFit
from scaleup.model.estimate import exactly
from scaleup.presses.press import Setting
from scaleup.sentence import Words
from scaleup.show.budget import experiment_form, experiments_listing
from scaleup.show.frames import Frame
from scaleup.show.json_form import (
    assumed_form,
    budget_rows,
    header,
    powder_form,
    quantity_form,
    risk_form,
)
from scaleup.show.listing import Listing, figures, words
from scaleup.show.parts import (
    answer,
    caution,
    confidence_line,
    fit_line,
    granted_lines,
    press_line,
    title,
    told,
)
from scaleup.show.told_once import told_once
from scaleup.transfer.matches import force_is
from scaleup.transfer.risks.registry import Risk
from scaleup.wording import percent, say

JUDGEMENT_FORMAT = "scaleup judgement 1"
SHOWN = 5
HEADINGS = (
    "rank", "force [N]", "hold [s]", "loading_rate [N/s]", "speed [rpm]", "tablets",
    "strength_narrower", "needed_force_narrower",
)  # fmt: skip


def show_judgement(console: Console, judgement: Judgement) -> None:
    """Print the verdict, its facts, what is missing, what to press next, and runs to look at."""
    lab, production = judgement.study.lab, judgement.study.production
    console.print(
        title(
            judgement.study,
            f"from {lab.press.profile.name} ({lab.press.id}, {lab.tooling.id})",
            f"to {press_line(production)} at {say(production.speed, 'rpm')}; "
            f"{confidence_line(judgement.confidence)}",
        )
    )
    console.print(fit_line(judgement.fit, judgement.logged_pulse))
    console.print(answer("\nverdict", judgement.verdict.answer, judgement.verdict.reasons))
    _listed(console, "what carries it", judgement.facts)
    once = told_once(_shown(judgement), judgement.assumed, judgement.missing)
    _listed(
        console, "what is missing", [each.told for each in judgement.missing if once.tells(each)]
    )
    _listed(
        console, "runs to look at", [*map(_suspicion, judgement.suspicious), *_deciding(judgement)]
    )
    if judgement.first is not None:
        _show_first(console, judgement, judgement.first)
    if judgement.proposals is not None:
        _show_proposals(console, judgement, judgement.proposals)
    if judgement.budget.experiments:
        console.print(experiments_listing(judgement.budget.experiments[:SHOWN]).rich())
    console.print(granted_lines(once.assumed, all_told=bool(judgement.assumed)))
    console.print(caution(judgement.caution))


def _shown(judgement: Judgement) -> list[Risk]:
    """Return the risks that the screen tells, among the reasons and the facts."""
    told = {*map(str, judgement.verdict.reasons), *map(str, judgement.facts)}
    return [item for item in judgement.risks if str(item.message) in told]


def _listed(console: Console, heading: str, lines: Sequence[Words]) -> None:
    if not lines:
        return
    console.print(Text(heading, style="bold"))
    for line in lines:
        console.print(Text(f"  - {line}"))


def _suspicion(row: RunFit) -> str:
    parts = []
    for what, miss in (
        ("solid fraction", row.solid_fraction_miss),
        ("strength", row.strength_miss),
    ):
        if miss is not None and miss.suspicious:
            side = "above" if miss.deviations > 0 else "below"
            parts.append(
                f"{what} {abs(miss.deviations):.1f} standard deviations {side} what the other runs "
                f"suggest (by chance in {percent(miss.chance)} of studies)"
            )
    run = row.observation.run
    return f"run {run.name}, line {run.line}: {'; '.join(parts)}. It was kept: check the row."


def _deciding(judgement: Judgement) -> list[str]:
    return [
        f"run {row.observation.run.name}, line {row.observation.run.line}: it alone decides the "
        f"curve there (leverage {row.solid_fraction_miss.leverage:.2f}); press a second"
        for row in judgement.deciding
    ]


def _show_first(console: Console, judgement: Judgement, first: FirstRuns) -> None:
    """Print what has to be pressed before there can be an answer."""
    forces = ", ".join(say(force, "N") for force in first.forces)
    console.print(Text("what to press first", style="bold"))
    console.print(
        Text(
            f"  {first.tablets} tablets at each of {forces}; of each tablet "
            f"{', '.join(first.columns)}. There is no answer yet: {first.why}."
        )
    )
    if first.longest is not None:
        middle = say(first.forces[len(first.forces) // 2], "N")
        told = _setting(judgement, first.longest.setting) + _on_condition(first.longest.condition)
        console.print(Text(f"  And at {middle}{told}, so that the rate exponent is measured."))


def _on_condition(condition: str) -> str:
    return f", {condition}" if condition else ""


def _show_proposals(console: Console, judgement: Judgement, what: Proposals) -> None:
    console.print(
        Text.assemble(
            ("what to press next", "bold"),
            f": strength in production is now {told(judgement.strength)}, "
            f"{force_is(what.needed_by, judgement.confidence)} {told(judgement.needed)}; in "
            "brackets the band across plausible fits",
        )
    )
    if what.reason:
        console.print(Text(f"  nothing worth pressing: {what.reason}"))
    else:
        console.print(proposals_listing(judgement, what).rich())
    if what.beyond_the_lab > WORTH:
        console.print(
            Text(
                f"  {percent(what.beyond_the_lab)} of the variance of the needed force lies in how "
                "the rate exponent changes beyond the shortest dwell of this lab press; only a "
                "trial narrows it."
            )
        )


def proposals_listing(judgement: Judgement, what: Proposals) -> Listing:
    """Return what is worth pressing next, best first, and how much it would narrow the bands."""
    rows = [
        (
            f"{each.tablets} tablets at {say(each.force, 'N')}{_setting(judgement, each.setting)}"
            + _on_condition(each.condition)
            + (", which measures the rate exponent" if each.measures_rate else ""),
            narrowing(judgement.strength, each.strength),
            narrowing(judgement.needed, each.needed_force),
        )
        for each in what.best[:SHOWN]
    ]
    return Listing((*words("press"), *figures("strength band", "force band")), rows)


def _setting(judgement: Judgement, setting: Setting) -> str:
    parts = []
    if setting.hold is not None:
        parts.append("no hold" if setting.hold == 0.0 else f"held {say(setting.hold, 's')}")
    if setting.loading_rate is not None:
        parts.append(f"loaded at {setting.loading_rate / 1e3:.3g} kN/s")
    if setting.speed is not None:
        unit = "strokes/min" if judgement.study.lab.press.profile.kind == "eccentric" else "rpm"
        parts.append(f"{setting.speed:.3g} {unit}")
    return "".join(f", {part}" for part in parts)


def judgement_form(judgement: Judgement) -> dict[str, Any]:
    """Return the judgement as plain lists and dictionaries."""
    what = judgement.proposals
    return header(judgement.study, JUDGEMENT_FORMAT, judgement.drawing.seed) | {
        "draws": judgement.drawing.draws,
        "confidence": judgement.confidence,
        "verdict": {
            "answer": judgement.verdict.answer,
            "reasons": list(judgement.verdict.reasons),
        },
        "facts": list(judgement.facts),
        "missing": [each.told for each in judgement.missing],
        "production_strength": quantity_form(judgement.strength),
        "needed_force": quantity_form(judgement.needed),
        "needed_force_is": None if what is None else force_is(what.needed_by, judgement.confidence),
        "first_runs": None if judgement.first is None else _first_form(judgement.first),
        "proposals": None if what is None else _proposals_form(what),
        "budget": budget_rows(judgement.budget),
        "experiments": [experiment_form(each) for each in judgement.budget.experiments],
        "suspicious_runs": [_run_form(row) for row in judgement.suspicious],
        "powder": powder_form(judgement.fit),
        "risks": [risk_form(item) for item in judgement.risks],
        "assumed": assumed_form(judgement.assumed),
        "caution": judgement.caution,
    }


def _first_form(first: FirstRuns) -> dict[str, Any]:
    return {
        "forces": [quantity_form(exactly(force, "N")) for force in first.forces],
        "tablets": first.tablets,
        "columns": list(first.columns),
        "held": None if first.longest is None else _dialled_form(first.longest.setting),
        "condition": "" if first.longest is None else first.longest.condition,
        "why": first.why,
    }


def _dialled_form(setting: Setting) -> dict[str, Any]:
    dialled = {
        "hold": (setting.hold, "s"),
        "loading_rate": (setting.loading_rate, "N/s"),
        "speed": (setting.speed, "rpm"),
    }
    return {
        name: quantity_form(exactly(value, unit))
        for name, (value, unit) in dialled.items()
        if value is not None
    }


def _proposals_form(what: Proposals) -> dict[str, Any]:
    return {
        "needed_force_of_match": what.needed_by,
        "nothing_worth_pressing": what.reason,
        "beyond_the_lab": what.beyond_the_lab,
        "best": [_proposal_form(each) for each in what.best],
    }


def _proposal_form(each: Proposal) -> dict[str, Any]:
    return {
        "force": quantity_form(exactly(each.force, "N")),
        **_dialled_form(each.setting),
        "condition": each.condition,
        "tablets": each.tablets,
        "strength_narrower": each.strength,
        "needed_force_narrower": each.needed_force,
        "measures_rate": each.measures_rate,
    }


def _run_form(row: RunFit) -> dict[str, Any]:
    misses: list[tuple[str, Miss | None]] = [
        ("solid_fraction", row.solid_fraction_miss),
        ("strength", row.strength_miss),
    ]
    return {
        "run": row.observation.run.name,
        "line": row.observation.run.line,
        "misses": {
            name: miss.deviations for name, miss in misses if miss is not None and miss.suspicious
        },
    }


def judgement_frame(judgement: Judgement) -> Frame:
    """Return one line for each proposal, best first."""
    best = () if judgement.proposals is None else judgement.proposals.best
    rows = [
        (
            number, each.force, each.setting.hold, each.setting.loading_rate, each.setting.speed,
            each.tablets, each.strength, each.needed_force,
        )
        for number, each in enumerate(best, start=1)
    ]  # fmt: skip
    return Frame.of(HEADINGS, rows)
