"""What a trial taught: on a terminal and as JSON."""

from __future__ import annotations

from typing import Any

from rich.console import Console
from rich.text import Text

from scaleup.answers.trial.acceptance import Accepted
from scaleup.answers.trial.causes import NAMED
from scaleup.answers.trial.learning import NOT_TOLD, Learned
from scaleup.answers.trial.moved import Moved
from scaleup.answers.trial.results import Compared, RunResult
from scaleup.answers.trial.scatter import RunScatter
from scaleup.model.estimate import Estimate, exactly
from scaleup.show.frames import Frame
from scaleup.show.json_form import fastest_form, header, powder_form, quantity_form, risk_form
from scaleup.show.listing import Listing, figures, words
from scaleup.show.numbers import band_text
from scaleup.show.parts import caution, fastest_told, fit_line, in_unit, press_line, title, told
from scaleup.show.side_by_side import match_head
from scaleup.show.window import centre_form, centre_lines, recommended_form
from scaleup.transfer.equivalent import Equivalent
from scaleup.transfer.verdict import Verdict
from scaleup.wording import percent

LEARNED_FORMAT = "scaleup trial learned 1"
RESIDUAL = "residual in standard deviations of the predicted mean at what was really set; limits "
LIMITS_FIXED = RESIDUAL + "are the sheet's, those of solid fraction follow from the fit"
LIMITS_WORKED_OUT = (
    RESIDUAL + "are the sheet's, or, marked *, worked out where a run was set otherwise than "
    "planned or the sheet has none"
)


def show_learned(console: Console, learned: Learned) -> None:
    """Print the verdict, the rules that carry it, what was seen and measured, and what moved."""
    console.print(
        title(learned.study, f"what the trial on {press_line(learned.study.production)} taught")
    )
    console.print(fit_line(learned.after.fit))
    console.print(_after(learned.verdict))
    for text in learned.changed:
        console.print(Text(f"- {text}", style="bold"))
    console.print(Text("acceptance rule", style="bold"))
    console.print(Text(of_plan(learned), style="dim"))
    for item in learned.accepted:
        console.print(Text(f"  {_verdict(item):12s} {item.rule}: {item.why}"))
    console.print(Text("what the trial allows as causes", style="bold"))
    for text in causes_told(learned):
        console.print(Text(f"- {text}"))
    console.print(results_listing(learned.results).rich())
    fixed = all(item.fixed for result in learned.results for item in result.compared
                if item.measure != "solid_fraction")  # fmt: skip
    console.print(Text(LIMITS_FIXED if fixed else LIMITS_WORKED_OUT, style="dim"))
    if learned.left_blank:
        console.print(Text(f"left blank: {', '.join(learned.left_blank)}", style="dim"))
    for text in (*learned.notes, *scatter_told(learned)):
        console.print(Text(f"- {text}"))
    _show_new(console, learned)
    console.print(caution(learned.caution))


def _show_new(console: Console, learned: Learned) -> None:
    """Print what moved and the new settings, or that none are told."""
    if learned.withheld:
        console.print(Text(f"new settings are not told: {NOT_TOLD}", style="bold"))
        return
    console.print(moved_listing(learned).rich())
    console.print(settings_listing(learned).rich())
    best = learned.window.recommended
    if best is not None:
        console.print(centre_lines(f"recommended now: {best.why}", best.point))
    for reason in learned.window.reasons:
        console.print(Text(str(reason), style="bold"))
    console.print(Text(f"fastest speed that holds now: {fastest_told(learned.fastest)}"))


def of_plan(learned: Learned) -> str:
    """Return which plan the acceptance rule is of."""
    if learned.plan is None:
        return "the plan's file is not at hand: nothing shows that rule and limits are as planned"
    dated = f" of {learned.plan.date}" if learned.plan.date else ""
    return f"as fixed in plan {learned.plan.short_hash}{dated}"


def causes_told(learned: Learned) -> list[str]:
    """Return every cause that is named, with its probability and what would tell it apart."""
    told = []
    for cause in learned.causes:
        if not cause.named:
            continue
        shown = cause.shown and cause.probability < NAMED
        how = "shown by the fit" if shown else percent(cause.probability)
        check = f" To tell: {cause.check}" if cause.check else ""
        told.append(f"{how}: {cause.told}{check}")
    return told or ["too few runs to tell"]


def scatter_told(learned: Learned) -> list[str]:
    """Return how much single tablets differ within runs, where they were measured."""
    shares = [row.weight for row in learned.scatter if row.weight is not None]
    if not shares:
        return []
    power = learned.weight_spread_with_speed
    with_speed = f"with speed: not available: {power.reason}"
    if power.value is not None:
        with_speed = (
            f"it goes with speed to the power {power.value:.2f} ({power.low:.2f} to "
            f"{power.high:.2f})"
        )
    ends = f"{percent(min(shares))} to {percent(max(shares))}"
    return [f"weight of single tablets within a run: standard deviation {ends}; {with_speed}"]


def results_listing(results: tuple[RunResult, ...]) -> Listing:
    """Return every measured mean beside its prediction and its action limits."""
    rows = []
    for result in results:
        first = (result.name, f"{result.speed:.3g}", f"{result.force / 1e3:.3g}")
        for number, item in enumerate(result.compared):
            rows.append((*(first if number == 0 else ("", "", "")), *_compared(item)))
    heads = (
        *words("run", whole=True), *figures("rpm", "kN", whole=True), *words("measure", whole=True),
        *figures("measured", "predicted", "residual", "limits", whole=True), *words("", whole=True),
    )  # fmt: skip
    return Listing(heads, rows, gap=0)


def _compared(item: Compared) -> tuple[str, ...]:
    limits, _, verdict = limits_text(item).partition(" ")
    return (
        item.measure.replace("_", " "),
        told(exactly(item.measured, item.unit)),
        told(item.predicted, unit=False, band=False),
        f"{item.residual:+.1f}",
        limits,
        verdict,
    )


def limits_text(item: Compared) -> str:
    """Return the action limits, a star if they were worked out, and whether the mean is within."""
    quantity = Estimate(item.measured, item.unit, item.lowest, item.highest)
    ends = band_text(quantity, in_unit(quantity)[0])
    return f"{ends}{'' if item.fixed else '*'} {'within' if item.within else 'outside'}"


def _verdict(item: Accepted) -> str:
    return {True: "holds", False: "does not", None: "not known"}[item.holds]


def moved_listing(learned: Learned) -> Listing:
    """Return every fitted figure before and after the trial."""
    rows = [
        (
            each.name,
            told(each.before) if each.before.value is not None else "not known",
            told(each.after),
            "moved" if each.clear else "",
        )
        for each in learned.moved_told
    ]
    return Listing(words("what moved", "before", "after", ""), rows)


SETTINGS_HEADS = ("new settings", "force before", "force now", "speed now")


def settings_rows(learned: Learned) -> list[list[str]]:
    """Return force and speed of every match, as predicted before and as they are now."""
    before = {item.match: item for item in learned.settings_before}
    return [
        [
            match_head(item.match).replace("\n", " "),
            _dialled(before.get(item.match)),
            _dialled(item),
            _speed(item),
        ]
        for item in learned.settings
    ]


def settings_listing(learned: Learned) -> Listing:
    """Return the settings under every match, as they were and as they are now."""
    return Listing(words(*SETTINGS_HEADS), settings_rows(learned))


def _dialled(item: Equivalent | None) -> str:
    if item is None or item.settings.main_force.value is None:
        return "not available"
    return told(item.settings.main_force) + ("" if item.reachable else ", out of reach")


def _speed(item: Equivalent) -> str:
    speed = item.settings.turret_speed
    return f"not available: {item.reason}" if speed.value is None else told(speed)


def _after(verdict: Verdict) -> Text:
    return Text(
        f"verdict now: {verdict.answer}. {' '.join(map(str, verdict.reasons))}", style="bold"
    )


def learned_form(learned: Learned) -> dict[str, Any]:
    """Return what was learned as plain lists and dictionaries."""
    verdict = learned.verdict
    window = None if learned.withheld else learned.window
    centre = None if window is None else window.centre
    best = None if window is None else window.recommended
    return header(learned.study, LEARNED_FORMAT, learned.after.drawing.seed) | {
        "draws": learned.after.drawing.draws,
        "results": [_result_form(result) for result in learned.results],
        "acceptance": [
            {"code": item.code, "rule": item.rule, "holds": item.holds, "why": item.why}
            for item in learned.accepted
        ],
        "moved": [_moved_form(each) for each in learned.moved_told],
        "failed": [cause.told for cause in learned.causes if cause.named and cause.check],
        "plan": None if learned.plan is None else learned.plan.hash,
        "changed": list(learned.changed),
        "centre_runs": {
            "runs": list(learned.centre.names),
            "together": learned.centre.together,
            "chance": learned.centre.chance,
        },
        "causes": [
            {
                "code": cause.code,
                "probability": cause.probability,
                "named": cause.named,
                "size": quantity_form(cause.size),
                "told": cause.told,
                "check": cause.check,
            }
            for cause in learned.causes
        ],
        "withheld": list(learned.adequacy.withheld),
        "bounded": list(learned.adequacy.bounded),
        "scatter": [_scatter_form(row) for row in learned.scatter],
        "weight_spread_with_speed": quantity_form(learned.weight_spread_with_speed),
        "left_blank": list(learned.left_blank),
        "notes": list(learned.notes),
        "settings": [_settings_form(item) for item in learned.settings],
        "settings_before": [
            {"match": item.match, "main_force": quantity_form(item.settings.main_force)}
            for item in learned.settings_before
        ],
        "window": {
            "recommended": recommended_form(best),
            "centre": None if centre is None else centre_form(centre),
            "reasons": [NOT_TOLD] if window is None else list(window.reasons),
        },
        **fastest_form(learned.fastest),
        "verdict": {"answer": verdict.answer, "reasons": list(verdict.reasons)},
        "risks": [risk_form(item) for item in learned.findings.risks],
        "powder": powder_form(learned.after.fit),
        "caution": learned.caution,
    }


def _result_form(result: RunResult) -> dict[str, Any]:
    return {
        "run": result.name,
        "purpose": result.purpose,
        "speed": quantity_form(exactly(result.speed, "rpm")),
        "force": quantity_form(exactly(result.force, "N")),
        "capping_seen": result.found("capping"),
        "seen": list(result.seen),
        "looked_for": list(result.looked_for),
        "friability": result.friability,
        "compared": [
            {
                "measure": item.measure,
                "measured": quantity_form(exactly(item.measured, item.unit)),
                "predicted": quantity_form(item.predicted),
                "standardised_residual": item.residual,
                "action_limits": [item.lowest, item.highest],
                "limits_fixed_before": item.fixed,
                "within_action_limits": item.within,
            }
            for item in result.compared
        ],
    }


def _scatter_form(row: RunScatter) -> dict[str, Any]:
    return {
        "run": row.name,
        "speed": quantity_form(exactly(row.speed, "rpm")),
        "tablets": row.tablets,
        "weight": row.weight,
        "thickness": row.thickness,
        "breaking_force": row.breaking_force,
        "force": row.force,
    }


def _moved_form(moved: Moved) -> dict[str, Any]:
    return {
        "figure": moved.name,
        "before": quantity_form(moved.before),
        "after": quantity_form(moved.after),
        "clear": moved.clear,
    }


def _settings_form(item: Equivalent) -> dict[str, Any]:
    return {
        "match": item.match,
        "reachable": item.reachable,
        "reason": item.reason,
        "main_force": quantity_form(item.settings.main_force),
        "turret_speed": quantity_form(item.settings.turret_speed),
    }


HEADINGS = (
    "run", "purpose", "speed [rpm]", "force [N]", "quantity", "measured", "unit", "predicted",
    "low", "high", "standardised_residual", "lowest", "highest", "limits_fixed_before",
    "within_action_limits",
)  # fmt: skip


def learned_frame(learned: Learned) -> Frame:
    """Return a line for each measured mean, beside its prediction and its action limits."""
    rows = [
        (
            result.name, result.purpose, result.speed, result.force, item.measure,
            item.measured, item.unit, item.predicted.value, item.predicted.low,
            item.predicted.high, item.residual, item.lowest, item.highest, item.fixed, item.within,
        )
        for result in learned.results
        for item in result.compared
    ]  # fmt: skip
    return Frame.of(HEADINGS, rows)
