"""Force gauges: ``F_true = F_read g`` with one factor for each press."""

from __future__ import annotations

from math import log

import numpy as np

from scaleup.calibration.plant.scores import Scores
from scaleup.calibration.plant.sides import BothSides
from scaleup.calibration.plant.term import Grade, Term, cancelling, switched_off
from scaleup.model.press import PressProfile
from scaleup.model.transfer_terms import ACCURACY
from scaleup.sentence import Sentence

NAME, LABEL = "gauges", "force gauges"
UNKNOWN = 0.025
"""Standard deviation of ln g where a profile states no accuracy (a judgement of this program)."""
CHECKED = 0.005
"""Standard deviation that two gauges or two testers keep once both have read one load (a judgement
of this program)."""


def spread_of(press: PressProfile) -> float:
    """Return the standard deviation of ln g of a press."""
    return UNKNOWN if press.force_accuracy is None else press.force_accuracy / ACCURACY


def gauges(sides: BothSides, scores: Scores) -> Term:
    """Return what the two force gauges add, shared by all runs of a press."""
    terms = sides.study.transfer
    if not terms.has("gauges"):
        return switched_off(NAME, LABEL)
    if sides.one_press:
        return cancelling(NAME, LABEL, "one gauge")
    if terms.gauge_ratio is not None:
        return _compared(terms.gauge_ratio, terms.gauge_ratio_accuracy, scores)
    lab, made = sides.study.lab.press, sides.production.press
    of_lab = spread_of(lab.profile) * scores.of("gauge of the lab")
    of_made = spread_of(made.profile) * scores.of("gauge of production")
    told = Sentence(
        "±{lab:%} on {lab_id} ({lab_source}), ±{made:%} on {made_id} ({made_source}), "
        "one standard deviation",
        lab=spread_of(lab.profile),
        lab_id=lab.id,
        lab_source=_source(lab.profile),
        made=spread_of(made.profile),
        made_id=made.id,
        made_source=_source(made.profile),
    )
    stated = all(each.profile.force_accuracy is not None for each in (lab, made))
    grade: Grade = "measured" if stated else "assumed"
    return Term(NAME, LABEL, grade, told, of_made - of_lab)


def _source(press: PressProfile) -> str:
    return "no accuracy stated" if press.force_accuracy is None else "its profile"


def _compared(ratio: float, accuracy: float | None, scores: Scores) -> Term:
    """Return what two gauges that read one load leave open."""
    spread = CHECKED if accuracy is None else accuracy / ACCURACY
    both = -log(ratio) + spread * scores.of("gauges compared")
    told = Sentence(
        "on one load the production gauge reads {ratio:.3f} times what the lab's does "
        "(±{spread:%}, one standard deviation)",
        ratio=ratio,
        spread=spread,
    )
    return Term(NAME, LABEL, "measured", told, np.asarray(both))
