"""The acceptance rule carried out, as it was fixed in the plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import stdtrit

from scaleup.answers.trial.acceptance_rule import MISSES_ALLOWED, AcceptanceRule
from scaleup.answers.trial.centre_runs import CentreRuns
from scaleup.answers.trial.results import RunResult
from scaleup.calibration.observations import Observation
from scaleup.io.trial_record import TrialRecord
from scaleup.sentence import Fact, Sentence, Words, joined
from scaleup.transfer.case import TransferCase

LOOKED_FOR = ("capping", "lamination", "picking", "sticking")
JUDGED = ("thickness", "breaking_force")
AS_PLANNED, FORCE_AS_PLANNED = 0.02, 0.05
"""Shares by which speed and force of the end run may be off the plan."""
WEIGHT_OFF = 0.02
"""Share by which the mean weight of the end run may be off the target (a judgement of this
program)."""
AT_SPEED = 1.001
"""Ratio of speeds up to which a run counts as at the asked speed."""
OWN_SCATTER = 5
"""Tablets from which a run's own scatter is taken, not that of the fit."""


RuleCode = Literal["prediction", "centre", "tablet", "defects", "plan", "stop limits"]


@dataclass(frozen=True)
class Accepted:
    """One line of the acceptance rule carried out."""

    code: RuleCode
    rule: str
    holds: bool | None
    """None where the sheet does not say."""
    why: Words


def fixed_rule(plan: TrialRecord) -> AcceptanceRule:
    """Return the rule as the plan's own file has it."""
    return AcceptanceRule(
        plan.figure, plan.unit, plan.bound, plan.confidence, plan.solid_fraction, (0.0, 0.0), None,
        plan.speed, plan.tablets, plan.friability,
    )  # fmt: skip


def accepted(
    results: tuple[RunResult, ...],
    centre: CentreRuns,
    rule: AcceptanceRule,
    case: TransferCase,
    plan: TrialRecord | None,
) -> tuple[Accepted, ...]:
    """Return a rule carried out on the results; `case` has them among its runs.

    `plan` is the plan's own file, which the sheet was held against; None if it was not there.
    """
    return (
        _prediction_holds(results),
        _centre_stays(centre),
        _tablet_met(results, rule, case, plan),
        _no_defects(results, rule),
        _as_planned(plan is not None),
        _not_stopped(results, plan),
    )


def _as_planned(planned: bool) -> Accepted:
    rule = "rule and limits are those fixed in the plan"
    if planned:
        return Accepted("plan", rule, True, "the sheet was held against the plan's file")
    return Accepted("plan", rule, None, "the plan's file is not at hand")


def _not_stopped(results: tuple[RunResult, ...], plan: TrialRecord | None) -> Accepted:
    rule = "no run passed a stop limit"
    if plan is None:
        return Accepted("stop limits", rule, None, "the plan's file is not at hand")
    passed = []
    for result in results:
        weak, ejected = result.breaking_force, result.ejection_force
        if result.force > plan.stop_force:
            passed.append(_passed(result, "main force", result.force, plan.stop_force))
        if plan.stop_ejection is not None and ejected is not None and ejected > plan.stop_ejection:
            passed.append(_passed(result, "ejection force", ejected, plan.stop_ejection))
        least = plan.stop_breaking_force
        if least is not None and weak is not None and weak < least:
            passed.append(_passed(result, "mean breaking force", weak, least))
    return Accepted("stop limits", rule, not passed, joined("; ", passed) if passed else "none did")


def _passed(result: RunResult, figure: str, value: float, stop: float) -> Sentence:
    return Sentence(
        "{run}: {figure} {value}, stop limit {stop}",
        run=result.name,
        figure=figure,
        value=Fact(value, "N"),
        stop=Fact(stop, "N"),
    )


def _otherwise(
    last: RunResult, seen: Observation, rule: AcceptanceRule, plan: TrialRecord | None
) -> Words:
    """Return in what the end run was not made as planned; empty if it was."""
    if abs(last.speed / rule.speed - 1.0) > AS_PLANNED:
        return f"it ran at {last.speed:g} rpm, not at {rule.speed:g} rpm"
    row = next((each for each in (plan.runs if plan else ()) if each["run"] == last.name), None)
    force = None if row is None else row.get("planned force")
    if isinstance(force, float) and abs(last.force / force - 1.0) > FORCE_AS_PLANNED:
        return Sentence(
            "it was pressed at {force}, not at {planned}",
            force=Fact(last.force, "N"),
            planned=Fact(force, "N"),
        )
    if plan is not None and seen.run.tablets < rule.tablets:
        return f"{seen.run.tablets} tablets were sampled, not {rule.tablets}"
    return ""


def _prediction_holds(results: tuple[RunResult, ...]) -> Accepted:
    judged = [
        (result.name, item)
        for result in results
        for item in result.compared
        if item.measure in JUDGED
    ]
    rule = "at most one in ten of the means of thickness and breaking force outside limits"
    if not judged:
        return Accepted("prediction", rule, None, "nothing was predicted or measured")
    out = [f"{name} {item.measure.replace('_', ' ')}" for name, item in judged if not item.within]
    holds = len(out) <= MISSES_ALLOWED * len(judged)
    told = Sentence(
        "{outside} of {judged} outside{which}",
        outside=len(out),
        judged=len(judged),
        which=f": {', '.join(out)}" if out else "",
    )
    return Accepted("prediction", rule, holds, told)


def _centre_stays(centre: CentreRuns) -> Accepted:
    return Accepted(
        "centre", "no centre run is apart from the others", centre.together, centre.told
    )


def _tablet_met(
    results: tuple[RunResult, ...],
    rule: AcceptanceRule,
    case: TransferCase,
    plan: TrialRecord | None,
) -> Accepted:
    """Return whether the end run has the solid fraction, and any strength, that is asked for."""
    told = "the tablet of the end run meets its target"
    last = next((result for result in results if result.purpose == "end"), None)
    if last is None:
        return Accepted("tablet", told, None, "the end run was not filled in")
    runs = {row.observation.run.name: row.observation for row in case.process.fit.runs
            if row.observation.run.press == "production"}  # fmt: skip
    seen = runs.get(last.name)
    if seen is None or seen.solid_fraction is None:
        return Accepted("tablet", told, None, f"run {last.name} lacks weight or thickness")
    if rule.bound is not None and seen.run.breaking_force is None:
        return Accepted("tablet", told, None, f"run {last.name} lacks the breaking force")
    otherwise = _otherwise(last, seen, rule, plan)
    if otherwise:
        return Accepted(
            "tablet", told, None, Sentence("run {run}: {why}", run=last.name, why=otherwise)
        )
    if plan is not None and abs(seen.weight / plan.weight - 1.0) > WEIGHT_OFF:
        why = Sentence(
            "run {run} weighs {weight}, the target is {target}",
            run=last.name,
            weight=Fact(seen.weight, "mg", "4"),
            target=Fact(plan.weight, "mg", "4"),
        )
        return Accepted("tablet", told, False, why)
    low, high = rule.solid_fraction
    dense = low <= seen.solid_fraction <= high
    strong, figure = (True, Sentence("")) if rule.bound is None else _strong(seen, rule, case)
    why = Sentence(
        "run {run}: {strength}solid fraction {solid_fraction:.3f} against {low:g} to {high:g} "
        "({holds})",
        run=last.name,
        strength=figure,
        solid_fraction=seen.solid_fraction,
        low=low,
        high=high,
        holds=_holds(dense),
    )
    return Accepted("tablet", told, strong and dense, why)


def _strong(seen: Observation, rule: AcceptanceRule, case: TransferCase) -> tuple[bool, Sentence]:
    """Return whether a run's mean strength, or breaking force, is surely enough; and why."""
    tablets, bound = seen.run.tablets, rule.bound or 0.0
    tip = seen.side.tip
    force = seen.run.breaking_force or 0.0
    value = force
    if rule.unit == "MPa":
        value = float(
            tip.strength(np.array(force), np.array(seen.run.thickness), seen.run.diameter)
        )
    spread = value * _scatter(seen, case) / np.sqrt(tablets)
    lowest = value - float(stdtrit(max(tablets - 1, 1), rule.confidence)) * spread
    enough = bool(lowest >= bound)
    return enough, Sentence(
        "{figure} {measured}, with {confidence:%} confidence at least {lowest} against {least} "
        "({holds}); ",
        figure=rule.figure,
        measured=Fact(value, rule.unit),
        confidence=rule.confidence,
        lowest=Fact(lowest, rule.unit),
        least=Fact(bound, rule.unit),
        holds=_holds(enough),
    )


def _scatter(seen: Observation, case: TransferCase) -> float:
    """Return the scatter of one tablet's strength: the run's own, or that of the fit."""
    run = seen.run
    if run.breaking_force_standard_deviation and run.breaking_force and run.tablets >= OWN_SCATTER:
        return run.breaking_force_standard_deviation / run.breaking_force
    return case.process.fit.strength_scatter or 0.0


def _holds(holds: bool) -> str:
    return "holds" if holds else "does not hold"


def _no_defects(results: tuple[RunResult, ...], rule: AcceptanceRule) -> Accepted:
    told = "no tablet at or below the asked speed caps, laminates, picks, sticks or is friable"
    slow = [each for each in results if each.speed <= rule.speed * AT_SPEED]
    bad = [
        f"{name} in {each.name}"
        for each in slow
        for name in (*LOOKED_FOR, "friable tablets")
        if name.removesuffix(" tablets") in each.seen
    ]
    silent = [each.name for each in slow if each.found(*LOOKED_FOR) is None]
    if bad:
        return Accepted("defects", told, False, ", ".join(bad))
    if slow and not silent and all(each.friability is None for each in slow):
        return Accepted("defects", told, None, "friability was not measured")
    if silent or not slow:
        which = ", ".join(silent) or "any run"
        return Accepted(
            "defects", told, None, f"the sheet does not say what was looked for in {which}"
        )
    return Accepted("defects", told, True, f"none seen in {', '.join(each.name for each in slow)}")
