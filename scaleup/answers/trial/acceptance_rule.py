"""The rule that decides about a trial, fixed before it, in what an operator reads."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from scaleup.answers.trial.stop_limits import in_newton
from scaleup.powder.tip import Tip
from scaleup.sentence import Fact, Sentence, Words
from scaleup.transfer.case import TransferCase
from scaleup.transfer.operating_point import OperatingPoint

MISSES_ALLOWED = 0.10
"""Share of run means that may lie outside their action limits (a judgement of this program)."""
FRIABLE = 0.01
"""Friability above which tablets are called friable, as a share of weight (common practice)."""


@dataclass(frozen=True)
class AcceptanceRule:
    """What the trial is held to; every bound is fixed before it."""

    figure: str
    """What is asked of the end run: "tensile strength" or "breaking force"; empty for neither."""
    unit: str
    bound: float | None
    confidence: float
    solid_fraction: tuple[float, float]
    thickness: tuple[float, float]
    """mm between which a tablet of the target weight has such a solid fraction."""
    breaking_force: float | None
    """N that the mean of the end run has to reach, for the thickness that is predicted."""
    speed: float
    """rpm at and below which no tablet may cap."""
    tablets: int
    friability: float = FRIABLE


def acceptance_rule(case: TransferCase, centre: OperatingPoint, tablets: int) -> AcceptanceRule:
    """Return the rule of a trial around an operating point."""
    target, window = case.target, case.study.target.solid_fraction
    needed = None
    if target is not None:
        alone = in_newton(target, centre)
        more = np.exp(_allowance(case, tablets))
        needed = None if alone is None else alone * float(more)
    return AcceptanceRule(
        figure="" if target is None else target.label,
        unit="" if target is None else target.unit,
        bound=None if target is None else target.bound,
        confidence=case.confidence,
        solid_fraction=(window.min, window.max),
        thickness=_thickness(case, window.min, window.max),
        breaking_force=needed,
        speed=case.speed,
        tablets=tablets,
    )


def _allowance(case: TransferCase, tablets: int) -> float:
    """Return by how much of ln(strength) a mean may be off through the tablets sampled."""
    scatter = case.fit.strength_scatter or 0.0
    return float(stdtrit(max(tablets - 1, 1), case.confidence)) * scatter / float(np.sqrt(tablets))


def _thickness(case: TransferCase, loosest: float, densest: float) -> tuple[float, float]:
    tip, solid = case.process.side.tip, case.process.charge.weight / case.study.blend.true_density
    return thickness_of(tip, solid / densest), thickness_of(tip, solid / loosest)


def thickness_of(tip: Tip, volume: float) -> float:
    """Return the thickness in mm of a tablet of a volume in mm³ as wide as its die."""
    wall = (volume - 2.0 * tip.cup_volume) / tip.area
    return float(tip.thickness(np.array(wall)))


def rule_told(rule: AcceptanceRule) -> tuple[Words, ...]:
    """Return the rule in words; `acceptance.accepted` carries it out."""
    low, high = rule.thickness
    dense = Sentence(
        "thickness {low} to {high} at the target weight (solid fraction {loosest:%} to "
        "{densest:%})",
        low=Fact(low, "mm", "4"),
        high=Fact(high, "mm", "4"),
        loosest=rule.solid_fraction[0],
        densest=rule.solid_fraction[1],
    )
    return (
        (
            "The prediction holds if at most one in ten of the run means of thickness and of "
            "breaking force lie outside their action limits, and no centre run is apart from the "
            "others."
        ),
        Sentence("The tablet is met if the end run has: {strong}{dense}.",
                 strong=_strong(rule), dense=dense),
        Sentence(
            "No tablet at or below {speed} caps, laminates, picks or sticks, and friability stays "
            "at or below {friability:%}.",
            speed=Fact(rule.speed, "rpm"),
            friability=rule.friability,
        ),
    )  # fmt: skip


def _strong(rule: AcceptanceRule) -> Words:
    if rule.bound is None:
        return ""
    newton: Words = ""
    if rule.breaking_force is not None:
        newton = Sentence(
            "mean breaking force of {tablets} tablets at least {least}, which is ",
            tablets=rule.tablets,
            least=Fact(rule.breaking_force, "N"),
        )
    return Sentence(
        "{newton}{figure} at least {bound} with {confidence:%} confidence; ",
        newton=newton,
        figure=rule.figure,
        bound=Fact(rule.bound, rule.unit),
        confidence=rule.confidence,
    )
