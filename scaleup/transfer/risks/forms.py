"""Risks of the form of the law: hardening forms that fit alike and predict apart."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from scaleup.arrays import Array
from scaleup.sentence import Fact, Sentence, joined
from scaleup.transfer.case import TransferCase
from scaleup.transfer.equivalent import Equivalent
from scaleup.transfer.risks.registry import Risk, risk

COUNTS = 0.05
"""Weight from which a form counts (this project's judgement)."""
LEAST_DRAWS = 30
"""Draws from which the middle of a form is known well enough (this project's judgement)."""
APART_WATCH, APART_SERIOUS = 0.03, 0.10
"""Share of strength, or three times a share of solid fraction, by which forms are apart."""
SOLID_FRACTION_COUNTS = 3.0


@risk()
def forms_disagree(case: TransferCase) -> Iterator[Risk]:
    """Hardening forms of some weight that predict another tablet at a pressure asked about."""
    forms = [each for each in case.fit.forms if each.weight >= COUNTS]
    forms = [each for each in forms if each.draws.stop - each.draws.start >= LEAST_DRAWS]
    spreads = [_apart(item, [each.draws for each in forms]) for item in case.dialled]
    if len(forms) < 2 or not spreads:
        return
    size, item, told = max(spreads, key=lambda each: each[0])
    if size < APART_WATCH:
        return
    shares = joined(
        ", ",
        (Sentence("{form} {weight:%}", form=each.name, weight=each.weight) for each in forms),
    )
    yield Risk(
        "forms-disagree",
        "serious" if size >= APART_SERIOUS else "watch",
        Sentence(
            "The hardening forms disagree at {pressure} (the {match} match): {told}.",
            pressure=Fact(item.dialled, "MPa"),
            match=item.match,
            told=told,
        ),
        Sentence(
            "Weights by the corrected Akaike criterion: {shares}. The bands average over them.",
            shares=shares,
        ),
        "Press lab runs at this pressure, and at the lowest and highest the press makes.",
        size,
    )


def _apart(item: Equivalent, parts: list[slice]) -> tuple[float, Equivalent, Sentence]:
    """Return how far apart the forms' medians are, where, and in words."""
    if item.point is None or not parts:
        return 0.0, item, Sentence("")
    if item.point.strength is not None:
        low, high = _ends(item.point.strength, parts)
        size = high / low - 1.0
        ends = {"lowest": Fact(low, "MPa"), "highest": Fact(high, "MPa")}
        return size, item, Sentence("strength {lowest} to {highest}", **ends)
    low, high = _ends(item.point.solid_fraction, parts)
    size = SOLID_FRACTION_COUNTS * (high / low - 1.0)
    told = Sentence("solid fraction {lowest:.3f} to {highest:.3f}", lowest=low, highest=high)
    return size, item, told


def _ends(values: Array, parts: list[slice]) -> tuple[float, float]:
    middles = [float(np.median(values[part])) for part in parts]
    return min(middles), max(middles)
