"""What testers and gauges read: breaking force, thickness, weight, true density."""

from __future__ import annotations

import numpy as np

from scaleup.calibration.plant.scores import Scores
from scaleup.calibration.plant.sides import BothSides
from scaleup.calibration.plant.term import Grade, Term, cancelling, switched_off
from scaleup.model.transfer_terms import (
    ACCURACY,
    DENSITY_SPREAD,
    TESTER_SPREAD,
    THICKNESS_SPREAD,
    WEIGHT_SPREAD,
)
from scaleup.sentence import Fact, Sentence

TESTERS, TESTERS_LABEL = "testers", "breaking-force testers"
READINGS, READINGS_LABEL = "readings", "thickness, weight and true density"


def testers(sides: BothSides, scores: Scores) -> Term:
    """Return what two breaking-force testers add to strength; one tester on both sides cancels."""
    terms = sides.study.transfer
    if not terms.has("testers"):
        return switched_off(TESTERS, TESTERS_LABEL)
    if terms.same_tester:
        return cancelling(TESTERS, TESTERS_LABEL, "one tester")
    stated = terms.tester_accuracy
    spread = TESTER_SPREAD if stated is None else stated / ACCURACY
    told = Sentence(
        "two testers, ±{spread:%} each (one standard deviation{source})",
        spread=spread,
        source="" if stated is None else ", as the study states",
    )
    both = spread * np.sqrt(2.0) * scores.of("testers")
    grade: Grade = "assumed" if stated is None else "measured"
    return Term(TESTERS, TESTERS_LABEL, grade, told, log_strength=np.asarray(both))


def readings(sides: BothSides, scores: Scores) -> Term:
    """Return what the lab's thickness gauge and balance and the true density add."""
    terms = sides.study.transfer
    if not terms.has("readings"):
        return switched_off(READINGS, READINGS_LABEL)
    stated = (terms.thickness_accuracy, terms.weight_accuracy, terms.density_accuracy)
    usual = (THICKNESS_SPREAD, WEIGHT_SPREAD, DENSITY_SPREAD)
    thickness, weight, density = (
        spread if accuracy is None else accuracy / ACCURACY
        for accuracy, spread in zip(stated, usual, strict=True)
    )
    tip = sides.tip(sides.study.lab)
    height = sides.lab_weight / (
        sides.study.blend.true_density * sides.solid_fraction * tip.area
    )  # a flat tablet of the same volume
    off = (
        -thickness / height * scores.of("thickness gauge")
        + weight / sides.lab_weight * scores.of("balance")
        - density * scores.of("true density")
    )
    told = Sentence(
        "thickness ±{thickness}, weight ±{weight}, true density ±{density:%} "
        "(one standard deviation)",
        thickness=Fact(thickness, "mm"),
        weight=Fact(weight, "mg"),
        density=density,
    )
    grade: Grade = "measured" if None not in stated else "assumed"
    return Term(READINGS, READINGS_LABEL, grade, told, log_solid_fraction=np.asarray(off))
