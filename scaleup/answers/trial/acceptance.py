"""The acceptance rule carried out, as it was fixed in the plan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from scaleup.answers.trial.acceptance_rule import MISSES_ALLOWED, AcceptanceRule
from scaleup.answers.trial.centre_runs import CentreRuns
from scaleup.answers.trial.results import RunResult
from scaleup.calibration.observations import Observation
from scaleup.io.trial_record import TrialRecord
from scaleup.sentence import Fact, Sentence, Words
from scaleup.transfer.case import TransferCase

JUDGED = ("thickness", "breaking_force")
AT_SPEED = 1.001
"""Ratio of speeds up to which a run counts as at the asked speed."""
OWN_SCATTER = 5
"""Tablets from which a run's own scatter is taken, not that of the fit."""


@dataclass(frozen=True)
class Accepted:
    """One line of the acceptance rule carried out."""

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
    *,
    planned: bool,
) -> tuple[Accepted, ...]:
    """Return a rule carried out on the results; `case` has them among its runs.

    `planned` says whether the plan's own file was there, which the sheet was held against.
    """
    return (
        _prediction_holds(results),
        _centre_stays(centre),
        _tablet_met(results, rule, case),
        _no_defects(results, rule),
        _as_planned(planned),
    )


def _as_planned(planned: bool) -> Accepted:
    rule = "rule and limits are those fixed in the plan"
    if planned:
        return Accepted(rule, True, "the sheet was held against the plan's file")
    return Accepted(rule, None, "the plan's file is not at hand")


def _prediction_holds(results: tuple[RunResult, ...]) -> Accepted:
    judged = [
        (result.name, item)
        for result in results
        for item in result.compared
        if item.measure in JUDGED
    ]
    rule = "at most one in ten of the means of thickness and breaking force outside limits"
    if not judged:
        return Accepted(rule, None, "nothing was predicted or measured")
    out = [f"{name} {item.measure.replace('_', ' ')}" for name, item in judged if not item.within]
    holds = len(out) <= MISSES_ALLOWED * len(judged)
    told = Sentence(
        "{outside} of {judged} outside{which}",
        outside=len(out),
        judged=len(judged),
        which=f": {', '.join(out)}" if out else "",
    )
    return Accepted(rule, holds, told)


def _centre_stays(centre: CentreRuns) -> Accepted:
    return Accepted("no centre run is apart from the others", centre.together, centre.told)


def _tablet_met(
    results: tuple[RunResult, ...], rule: AcceptanceRule, case: TransferCase
) -> Accepted:
    """Return whether the end run has the solid fraction, and any strength, that is asked for."""
    told = "the tablet of the end run meets its target"
    last = next((result for result in results if result.purpose == "end"), None)
    if last is None:
        return Accepted(told, None, "the end run was not filled in")
    runs = {row.observation.run.name: row.observation for row in case.process.fit.runs
            if row.observation.run.press == "production"}  # fmt: skip
    seen = runs.get(last.name)
    if seen is None or seen.solid_fraction is None:
        return Accepted(told, None, f"run {last.name} lacks weight or thickness")
    if rule.bound is not None and seen.run.breaking_force is None:
        return Accepted(told, None, f"run {last.name} lacks the breaking force")
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
    return Accepted(told, strong and dense, why)


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


LOOKED_FOR = ("capping", "lamination", "picking", "sticking")


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
        return Accepted(told, False, ", ".join(bad))
    if silent or not slow:
        which = ", ".join(silent) or "any run"
        return Accepted(told, None, f"the sheet does not say what was looked for in {which}")
    return Accepted(told, True, f"none seen in {', '.join(each.name for each in slow)}")
