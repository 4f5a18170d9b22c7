"""Lubricant and shear: what another blender and a feeder do to strength at one solid fraction."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import log

import numpy as np

from scaleup.arrays import Array, Places
from scaleup.calibration.plant.lubricant import lubricated
from scaleup.calibration.plant.scores import Scores
from scaleup.calibration.plant.sides import BothSides
from scaleup.calibration.plant.term import AtSpeed, Grade, Term, cancelling, switched_off
from scaleup.model.press import Feeder
from scaleup.model.transfer_terms import SHEAR_MIDDLE, SHEAR_SPREAD, UNSHEARED_SPREAD
from scaleup.powder.shear import strength_after_shear
from scaleup.sentence import Sentence
from scaleup.short_repr import short_repr

NAME, LABEL = "shear", "lubricant and shear"
USUAL_FEEDER = Feeder(hold_up=5e5, paddle_diameter=150.0, paddle_speed=40.0)
"""Taken for a forced feeder whose profile states none (a judgement of this program)."""
STAY_FACTOR = 2.0
"""One standard deviation of the stay in a feeder, as a factor (a judgement of this program)."""
LARGER_BLENDER, LARGER_FACTOR = 2.5, 2.0
"""Shear of a production blender over the lab's where it is not stated: that of a volume fifteen
times as large turned as often; and one standard deviation, as a factor (a judgement of this
program)."""


@short_repr
@dataclass(frozen=True)
class ShearCurve:
    """Draws of ``phi(K) = (1 - beta) + beta exp(-gamma K)`` that runs of other shear tell."""

    loss: Array
    """beta, shape (draws,)."""
    rate: Array
    """gamma in 1/dm, shape (draws,)."""
    reference: float
    """K in dm of the lab result."""
    runs: int

    def log_strength(self, shear: Array) -> Array:
        """Return ln of the strength at a K in dm over that of the lab result."""
        after = strength_after_shear(shear, self.loss, self.rate)
        before = strength_after_shear(np.array(self.reference), self.loss, self.rate)
        return np.asarray(np.log(after / before), dtype=np.float64)


def shear(sides: BothSides, curve: ShearCurve | None, scores: Scores) -> Term:
    """Return what blender and feeder do to strength."""
    study, terms = sides.study, sides.study.transfer
    if not terms.has("shear"):
        return switched_off(NAME, LABEL)
    if sides.one_blend and sides.one_feeder:
        return cancelling(NAME, LABEL, "one blend and one feeder")
    if terms.shear is not None:
        spread = SHEAR_SPREAD if terms.shear_spread is None else terms.shear_spread
        return _stated(terms.shear, spread, scores)
    if curve is not None:
        return _followed(sides, curve, scores)
    if lubricated(study):
        middle, spread = SHEAR_MIDDLE, SHEAR_SPREAD
        why = "usual of a lubricated blend in another blender and feeder"
    else:
        middle, spread, why = 1.0, UNSHEARED_SPREAD, "usual of a blend without a lubricant"
    return _assumed(middle, spread, f"{why}{_unused(sides)}", scores)


def _unused(sides: BothSides) -> str:
    """Return that stated blenders and feeder tell nothing without runs that measured shear."""
    terms = sides.study.transfer
    stated = terms.lab_blender or terms.production_blender or sides.production.press.profile.feeder
    if not stated:
        return ""
    return (
        "; blenders and feeder as stated count once runs of blend turned twice as often or more "
        "tell how it minds shear"
    )


def _assumed(middle: float, spread: float, why: str, scores: Scores) -> Term:
    told = Sentence(
        "production tablets {middle:.2f} times as strong at equal solid fraction, ×/÷ {factor:.2f} "
        "({why})",
        middle=middle,
        factor=float(np.exp(spread)),
        why=why,
    )
    drawn = log(middle) + spread * scores.of("shear")
    return Term(NAME, LABEL, "assumed", told, log_strength=np.asarray(drawn))


def _stated(middle: float, spread: float, scores: Scores) -> Term:
    return replace(_assumed(middle, spread, "as the study states", scores), grade="measured")


def _followed(sides: BothSides, curve: ShearCurve, scores: Scores) -> Term:
    """Return the term of runs that measured beta and gamma, at the shear of the production side."""
    blender, blender_known = _blender(sides, curve, scores)
    feeder, feeder_known = _feeder(sides)
    stay = np.exp(log(STAY_FACTOR) * scores.of("stay in the feeder"))

    def at(speed: float, which: Places | None) -> Array:
        added = 0.0 if feeder is None else feeder.shear(sides.flow(speed)) * stay
        whole = curve.log_strength(blender + added)
        return whole if which is None else whole[which]

    told = Sentence(
        "shear takes at most {loss:%} of the strength ({low:%} to {high:%}; {runs} lab runs of "
        "blend turned by different numbers of revolutions); {blender}, {feeder}",
        loss=float(np.median(curve.loss)),
        low=float(np.quantile(curve.loss, 0.05)),
        high=float(np.quantile(curve.loss, 0.95)),
        runs=curve.runs,
        blender="production blender as stated" if blender_known else "production blender assumed",
        feeder=_of_feeder(feeder, feeder_known),
    )
    grade: Grade = "measured" if blender_known and feeder_known else "assumed"
    return Term(NAME, LABEL, grade, told, log_strength=AtSpeed(at))


def _of_feeder(feeder: Feeder | None, known: bool) -> str:
    if feeder is None:
        return "no forced feeder, or the lab's own"
    return "feeder as stated" if known else "feeder assumed"


def _blender(sides: BothSides, curve: ShearCurve, scores: Scores) -> tuple[Array, bool]:
    """Return K in dm of the production blender for each draw, and whether it was stated."""
    if sides.one_blend:
        return np.full(scores.draws, curve.reference), True
    stated = sides.study.transfer.production_blender
    if stated is not None and stated.shear is not None:
        return np.full(scores.draws, stated.shear), True
    larger = LARGER_BLENDER * np.exp(log(LARGER_FACTOR) * scores.of("blender"))
    return curve.reference * larger, False


def _feeder(sides: BothSides) -> tuple[Feeder | None, bool]:
    """Return the feeder that shears the blend, none where none does; and whether it was stated."""
    press = sides.production.press.profile
    if sides.one_feeder or press.feed != "forced":
        return None, True
    return press.feeder or USUAL_FEEDER, press.feeder is not None
