"""The least pressure that keeps one limit or all, and the fastest speed at which all are kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.transfer.limits import Limit, broken
from scaleup.transfer.line import Line
from scaleup.transfer.quantity import Quantity, exactly, unavailable
from scaleup.transfer.question import Question

STEPS, HALVINGS = 16, 14
"""Steps of pressure in which the first that holds is looked for, and halvings of that step."""
SPEED_STEPS, SPEED_HALVINGS = 16, 6
"""The same for the speeds, down from the fastest of the press."""
NOWHERE = "no speed of the press holds the target within every limit"


def needed_pressure(line: Line, speed: float, limit: Limit) -> Array:
    """Return for each draw the least pressure in MPa that keeps a lower limit of the tablet.

    Infinite where none does. Looked for upwards within the pressures of the line's map, since more
    is not always better: a thin convex tablet loses its wall, and so its breaking force.
    """
    nodes = _nodes(line)
    kept = limit.holds(line.at(np.exp(nodes)[:, None], speed)) > 0.0
    first = kept.argmax(axis=0)
    low, high = nodes[np.maximum(first - 1, 0)], nodes[first]
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        kept_there = limit.holds(line.at(np.exp(middle), speed)) > 0.0
        low, high = np.where(kept_there, low, middle), np.where(kept_there, middle, high)
    needed: Array = np.where(kept.any(axis=0), np.exp(high), np.inf)
    return needed


def least_pressure(
    line: Line, speed: float, limits: tuple[Limit, ...], confidence: float
) -> float | None:
    """Return the least pressure in MPa at which every lower limit holds with a confidence."""

    def enough(log_pressure: float) -> bool:
        point = line.at(float(np.exp(log_pressure)), speed)
        return all(limit.holds(point).mean() >= confidence for limit in limits)

    low = None
    for high in _nodes(line):
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


def _nodes(line: Line) -> Array:
    """Return ln(MPa) of the pressures tried first, rising."""
    return np.linspace(np.log(line.map.floor), np.log(line.map.ceiling), STEPS + 1)


def lower_limits(limits: tuple[Limit, ...]) -> tuple[Limit, ...]:
    """Return the limits that more pressure helps to keep."""
    return tuple(limit for limit in limits if limit.of == "tablet" and limit.side == "at least")


def holding_pressure(asked: Question, speed: float) -> float | None:
    """Return the least pressure in MPa that keeps every limit at a speed, None if none does."""
    lower = lower_limits(asked.limits)
    pressure = least_pressure(asked.line, speed, lower, asked.confidence)
    if pressure is None or broken(asked.limits, asked.line.at(pressure, speed), asked.confidence):
        return None
    return pressure


@dataclass(frozen=True)
class Holding:
    """A turret speed and a main pressure at which every limit holds with the asked confidence."""

    speed: float
    """rpm."""
    pressure: float
    """MPa, the least at that speed."""


def fastest_speed(asked: Question) -> Holding | None:
    """Return the fastest speed that keeps every limit, None if none does.

    At every speed the least pressure is dialled that keeps the lower limits of the tablet with the
    asked confidence. Speeds are tried downwards in even steps, then halved to a thousandth of the
    range.
    """
    range_ = asked.line.production.press.model.speed
    above = None
    for speed in np.linspace(range_.max, range_.min, SPEED_STEPS):
        pressure = holding_pressure(asked, float(speed))
        if pressure is not None:
            return _refined(asked, Holding(float(speed), pressure), above)
        above = float(speed)
    return None


def _refined(asked: Question, good: Holding, above: float | None) -> Holding:
    """Return the fastest good speed between one that is good and one above that is not."""
    if above is None:
        return good
    for _ in range(SPEED_HALVINGS):
        middle = 0.5 * (good.speed + above)
        pressure = holding_pressure(asked, middle)
        if pressure is None:
            above = middle
        else:
            good = Holding(middle, pressure)
    return good


@dataclass(frozen=True)
class Fastest:
    """The fastest speed that holds with its least pressure, as they are told."""

    speed: Quantity
    """rpm."""
    pressure: Quantity
    """MPa."""
    force: Quantity
    """N."""

    @classmethod
    def of(cls, found: Holding | None, tip_area: float) -> Fastest:
        """Return what was found on tips of an area in mm², or that nothing was."""
        if found is None:
            return cls.unknown(NOWHERE)
        return cls(
            exactly(found.speed, "rpm"),
            exactly(found.pressure, "MPa"),
            exactly(found.pressure * tip_area, "N"),
        )

    @classmethod
    def unknown(cls, reason: str) -> Fastest:
        """Return that there is none, and why."""
        return cls(unavailable("rpm", reason), unavailable("MPa", reason), unavailable("N", reason))
