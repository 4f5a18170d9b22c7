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

    def enough(log_pressure: float) -> bool:
        point = process.at(float(np.exp(log_pressure)), speed)
        return all(limit.holds(point).mean() >= confidence for limit in limits)

    low = None
    for high in _nodes(process):
        if enough(float(high)):
            return float(np.exp(_halved(enough, low, float(high))))
        low = float(high)
    return None


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


def feasible_pressure(case: TransferCase, speed: float) -> float | None:
    """Return the least pressure in MPa that keeps every limit at a speed, None if none does."""
    lower = lower_limits(case.limits)
    pressure = least_pressure(case.process, speed, lower, case.confidence)
    if pressure is None or broken(case.limits, case.process.at(pressure, speed), case.confidence):
        return None
    return pressure
