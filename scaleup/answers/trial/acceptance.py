"""The acceptance rule of a trial: in words before it, carried out after it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from scaleup.answers.trial.acceptance_rule import FRIABLE, MISSES_ALLOWED
from scaleup.answers.trial.results import RunResult
from scaleup.calibration.observations import Observation
from scaleup.sentence import Sentence, Words
from scaleup.transfer.case import TransferCase
from scaleup.transfer.limits import Limit

JUDGED = ("solid_fraction", "breaking_force")


@dataclass(frozen=True)
class Accepted:
    """One line of the acceptance rule carried out."""

    rule: str
    holds: bool | None
    """None where the sheet does not say."""
    why: Words


def accepted(results: tuple[RunResult, ...], case: TransferCase) -> tuple[Accepted, ...]:
    """Return the acceptance rule of the plan carried out on the results."""
    return _prediction_holds(results), _tablet_met(results, case), _no_capping(results, case)


def _prediction_holds(results: tuple[RunResult, ...]) -> Accepted:
    judged = [
        (result.name, item)
        for result in results
        for item in result.compared
        if item.measure in JUDGED
    ]
    rule = "at most one in ten of the means of solid fraction and breaking force outside limits"
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


def _tablet_met(results: tuple[RunResult, ...], case: TransferCase) -> Accepted:
    """Return whether the end run has the solid fraction, and any strength, that is asked for."""
    rule = "the tablet of the end run meets its target"
    last = next((result for result in results if result.purpose == "end"), None)
    if last is None:
        return Accepted(rule, None, "the end run was not filled in")
    runs = {row.observation.run.name: row.observation for row in case.process.fit.runs
            if row.observation.run.press == "production"}  # fmt: skip
    seen, target = runs.get(last.name), case.target
    if seen is None or seen.solid_fraction is None:
        return Accepted(rule, None, f"run {last.name} lacks weight or thickness")
    if target is not None and seen.strength is None:
        return Accepted(rule, None, f"run {last.name} lacks the breaking force")
    window = case.study.target.solid_fraction
    dense = window.min <= seen.solid_fraction <= window.max
    strong, told = (True, Sentence("")) if target is None else _strong(seen, target, case)
    why = Sentence(
        "run {run}: {strength}solid fraction {solid_fraction:.3f} against {low:g} to {high:g} "
        "({holds})",
        run=last.name,
        strength=told,
        solid_fraction=seen.solid_fraction,
        low=window.min,
        high=window.max,
        holds=_holds(dense),
    )
    return Accepted(rule, strong and dense, why)


def _strong(seen: Observation, target: Limit, case: TransferCase) -> tuple[bool, Sentence]:
    """Return whether a run's mean strength, or breaking force, is surely enough; and why."""
    scatter, tablets = case.process.fit.strength_scatter or 0.0, seen.run.tablets
    value = float((seen.strength if target.unit == "MPa" else seen.run.breaking_force) or 0.0)
    spread = value * scatter / np.sqrt(tablets)
    lowest = value - float(stdtrit(max(tablets - 1, 1), case.confidence)) * spread
    enough = bool(lowest >= target.bound)
    return enough, Sentence(
        "{figure} {measured}, with {confidence:%} confidence at least {lowest} against {least} "
        "({holds}); ",
        figure=target.label,
        measured=target.fact(value),
        confidence=case.confidence,
        lowest=target.fact(lowest),
        least=target.fact(target.bound),
        holds=_holds(enough),
    )


def _holds(holds: bool) -> str:
    return "holds" if holds else "does not hold"


def _no_capping(results: tuple[RunResult, ...], case: TransferCase) -> Accepted:
    rule = "no tablet at or below the asked speed caps or laminates"
    slow = [each for each in results if each.speed <= case.speed * 1.001]
    capped = [each.name for each in slow if each.capped]
    silent = [each.name for each in slow if each.capped is None]
    friable = [each.name for each in results if (each.friability or 0.0) > FRIABLE]
    more = f"; friability above 1 % in {', '.join(friable)}" if friable else ""
    if capped:
        return Accepted(rule, False, f"capping in {', '.join(capped)}{more}")
    if silent or not slow:
        which = ", ".join(silent) or "any run"
        return Accepted(rule, None, f"the sheet does not say whether capping was seen in {which}")
    return Accepted(rule, True, f"none seen in {', '.join(each.name for each in slow)}{more}")
