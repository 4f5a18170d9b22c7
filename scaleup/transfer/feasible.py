"""The least pressure at a turret speed that keeps one limit, or every limit."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from scaleup.arrays import Array
from scaleup.transfer.limits import Limit, broken
from scaleup.transfer.process_model import ProcessModel

if TYPE_CHECKING:
    from scaleup.transfer.case import TransferCase


STEPS, HALVINGS = 16, 14
"""Steps of pressure in which the first that holds is looked for, and halvings of that step."""


def needed_pressure(process: ProcessModel, speed: float, limit: Limit) -> Array:
    """Return for each draw the least pressure in MPa that keeps a lower limit of the tablet.

    Infinite where none does. Looked for upwards within the pressures of the line's map, since more
    is not always better: a thin convex tablet loses its wall, and so its breaking force.
    """
    nodes = _nodes(process)
    kept = limit.holds(process.at(np.exp(nodes)[:, None], speed)) > 0.0
    first = kept.argmax(axis=0)
    low, high = nodes[np.maximum(first - 1, 0)], nodes[first]
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        kept_there = limit.holds(process.at(np.exp(middle), speed)) > 0.0
        low, high = np.where(kept_there, low, middle), np.where(kept_there, middle, high)
    needed: Array = np.where(kept.any(axis=0), np.exp(high), np.inf)
    return needed


def least_pressure(
    process: ProcessModel, speed: float, limits: tuple[Limit, ...], confidence: float
) -> float | None:
    """Return the least pressure in MPa at which every lower limit holds with a confidence."""
    ends = _ends(process, speed, limits, confidence)
    return None if ends is None else _refined(process, speed, limits, confidence, ends)


Ends = tuple[float | None, float]
"""ln(MPa) of the last pressure that is not enough, None if the lowest is, and of the first that is.
"""


def _ends(
    process: ProcessModel, speed: float, limits: tuple[Limit, ...], confidence: float
) -> Ends | None:
    """Return between which of the pressures tried first the least one lies; None if none does."""
    nodes = _nodes(process)
    point = process.at(np.exp(nodes)[:, None], speed)
    enough = np.ones(nodes.size, dtype=bool)
    for limit in limits:
        enough &= limit.holds(point).mean(axis=-1) >= confidence
    if not enough.any():
        return None
    first = int(enough.argmax())
    return (None if first == 0 else float(nodes[first - 1])), float(nodes[first])


def _refined(
    process: ProcessModel,
    speed: float,
    limits: tuple[Limit, ...],
    confidence: float,
    ends: Ends,
) -> float:
    def enough(log_pressure: float) -> bool:
        point = process.at(float(np.exp(log_pressure)), speed)
        return all(limit.holds(point).mean() >= confidence for limit in limits)

    return float(np.exp(_halved(enough, *ends)))


def _halved(enough: Callable[[float], bool], low: float | None, high: float) -> float:
    """Return the least place that is enough between one that is not and one that is."""
    if low is None:
        return high
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def _nodes(process: ProcessModel) -> Array:
    """Return ln(MPa) of the pressures tried first, rising."""
    return np.linspace(np.log(process.map.floor), np.log(process.map.ceiling), STEPS + 1)


def lower_limits(limits: tuple[Limit, ...]) -> tuple[Limit, ...]:
    """Return the limits that more pressure helps to keep."""
    return tuple(limit for limit in limits if limit.of == "tablet" and limit.side == "at least")


RISING = ("main-roller", "tip-rating", "pre-roller", "solid-fraction-high", "seen-above")
"""Codes of upper limits whose figure rises with the pressure: broken at one, broken above it."""


def feasible_pressure(case: TransferCase, speed: float) -> float | None:
    """Return the least pressure in MPa that keeps every limit at a speed, None if none does."""
    process, lower, confidence = case.process, lower_limits(case.limits), case.confidence
    ends = _ends(process, speed, lower, confidence)
    if ends is None or _too_much(case, speed, ends[0]):
        return None
    pressure = _refined(process, speed, lower, confidence, ends)
    return None if broken(case.limits, process.at(pressure, speed), confidence) else pressure


def _too_much(case: TransferCase, speed: float, log_pressure: float | None) -> bool:
    """Return whether a pressure below the least is too much already."""
    if log_pressure is None:
        return False
    rising = tuple(limit for limit in case.limits if limit.code in RISING)
    point = case.process.at(float(np.exp(log_pressure)), speed)
    return bool(broken(rising, point, case.confidence))
