"""Risks of the form of the law: hardening forms that fit alike and predict apart."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from scaleup.arrays import Array
from scaleup.transfer.case import TransferCase
from scaleup.transfer.equivalent import Equivalent
from scaleup.transfer.risks.registry import Risk, risk
from scaleup.wording import percent, say

COUNTS = 0.05
"""Weight from which a form counts (this project's judgement)."""
APART_WATCH, APART_SERIOUS = 0.03, 0.10
"""Share of strength, or three times a share of solid fraction, by which forms are apart."""
SOLID_FRACTION_COUNTS = 3.0


@risk()
def forms_disagree(case: TransferCase) -> Iterator[Risk]:
    """Hardening forms of some weight that predict another tablet at a pressure asked about."""
    forms = [each for each in case.fit.forms if each.weight >= COUNTS and each.drawn]
    found = [_apart(item, [each.draws for each in forms]) for item in case.dialled]
    if len(forms) < 2 or not found:
        return
    size, item, told = max(found, key=lambda each: each[0])
    if size < APART_WATCH:
        return
    pressure = item.dialled
    shares = ", ".join(f"{each.name} {percent(each.weight)}" for each in forms)
    yield Risk(
        "forms-disagree",
        "serious" if size >= APART_SERIOUS else "watch",
        f"The hardening forms disagree at {say(pressure, 'MPa')} (the {item.match} match): {told}.",
        f"Weights by the corrected Akaike criterion: {shares}. The bands average over them.",
        "Press lab runs at this pressure, and at the lowest and highest the press makes.",
        size,
    )


def _apart(item: Equivalent, parts: list[slice]) -> tuple[float, Equivalent, str]:
    """Return how far apart the forms' medians are, where, and in words."""
    if item.point is None or not parts:
        return 0.0, item, ""
    if item.point.strength is not None:
        low, high = _ends(item.point.strength, parts)
        size = high / low - 1.0
        return size, item, f"strength {say(low, 'MPa')} to {say(high, 'MPa')}"
    low, high = _ends(item.point.solid_fraction, parts)
    size = SOLID_FRACTION_COUNTS * (high / low - 1.0)
    return size, item, f"solid fraction {low:.3f} to {high:.3f}"


def _ends(values: Array, parts: list[slice]) -> tuple[float, float]:
    middles = [float(np.median(values[part])) for part in parts]
    return min(middles), max(middles)
