"""The rules that tie two presses, one function each.

A match looks at the lab result and the line and returns what to dial: a turret speed and a main
pressure, with the pressures or speeds that the single draws would need.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.transfer.limits import Limit, broken
from scaleup.transfer.line import Line
from scaleup.transfer.quantity import Quantity, drawn, exactly
from scaleup.transfer.question import Question
from scaleup.transfer.settings import NO_STRENGTH
from scaleup.transfer.wording import percent

STEPS, HALVINGS = 16, 14
"""Steps of pressure in which the first that holds is looked for, and halvings of that step."""
SPEED_STEPS = 16


@dataclass(frozen=True)
class Dialled:
    """What to set under one match, or why nothing can be set."""

    speed: Quantity
    pressure: Quantity
    reason: str = ""
    """Why the match itself cannot be met; empty if it can."""


@dataclass(frozen=True)
class NoSetting:
    """Why a match names no setting at all."""

    reason: str


Match = Callable[[Question], Dialled | NoSetting]


def same_pressure(asked: Question) -> Dialled:
    """Return the lab's own pressure at the asked speed."""
    return Dialled(exactly(asked.speed, "rpm"), exactly(asked.reference.pressure, "MPa"))


def same_solid_fraction(asked: Question) -> Dialled:
    """Return the pressure that pays for the lost dwell: ``P_2/P_1 = (t_1/t_2)^m``."""
    return Dialled(exactly(asked.speed, "rpm"), drawn(paying_pressure(asked), "MPa"))


def paying_pressure(asked: Question) -> Array:
    """Return for each draw the pressure in MPa that gives the lab's solid fraction back."""
    state = asked.lab.pulse.static_pressure
    powder = asked.line.fit.powder
    needed = asked.lab.pulse.peak_pressure
    for _ in range(4):
        dwell = asked.line.map.effective_dwell(needed, asked.speed)
        needed = powder.peak_pressure(state, dwell)
    return needed


def target_strength(asked: Question) -> Dialled | NoSetting:
    """Return the least pressure that meets the strength target with the asked confidence.

    Every draw has its own least pressure; their quantile at the confidence is the pressure at
    which that share of the draws meets the target.
    """
    target = asked.target
    if target is None:
        return NoSetting("the study states no strength or breaking force as target")
    if asked.line.fit.strength is None:
        return NoSetting(NO_STRENGTH)
    needed = needed_pressure(asked.line, asked.speed, target)
    value = float(np.quantile(needed, asked.confidence, method="higher"))
    if not np.isfinite(value):
        share = float(np.mean(np.isfinite(needed)))
        return NoSetting(
            f"only {percent(share)} of the draws meet the target at any pressure up to "
            f"{asked.line.map.ceiling:.0f} MPa; {percent(asked.confidence)} is asked"
        )
    if value <= asked.line.map.floor * 1.001:
        return NoSetting(
            f"the target is met already at {value:.0f} MPa, the lowest pressure looked at"
        )
    return Dialled(exactly(asked.speed, "rpm"), drawn(needed, "MPa", value))


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


def same_dwell(asked: Question) -> Dialled:
    """Return the turret speed whose effective dwell at the lab's pressure equals the lab's.

    Effective dwell falls almost as one over the speed; where the speed is not one the press can
    run at, the nearest it can run at is dialled and the reason says what was needed.
    """
    limits = asked.line.production.press.model.speed
    pressure = asked.lab.pulse.peak_pressure
    needed = np.full(pressure.size, limits.min)
    for _ in range(6):
        nearest = float(np.clip(np.median(needed), limits.min, limits.max))
        dwell = asked.line.map.effective_dwell(pressure, nearest)
        needed = nearest * dwell / asked.lab.pulse.effective_dwell
    wanted = drawn(needed, "rpm")
    middle = float(np.median(needed))
    pressure_set = exactly(asked.reference.pressure, "MPa")
    if limits.min <= middle <= limits.max:
        return Dialled(wanted, pressure_set)
    nearest = limits.min if middle < limits.min else limits.max
    end = "slowest" if middle < limits.min else "fastest"
    reason = (
        f"the lab's effective dwell takes {_short(wanted)} rpm; the {end} of the press is "
        f"{nearest:g} rpm, which is what is shown"
    )
    return Dialled(exactly(nearest, "rpm"), pressure_set, reason)


def _short(quantity: Quantity) -> str:
    return f"{quantity.value:.2g} ({quantity.low:.2g} to {quantity.high:.2g})"


MATCHES: dict[str, Match] = {
    "pressure": same_pressure,
    "solid-fraction": same_solid_fraction,
    "strength": target_strength,
    "dwell": same_dwell,
}
"""Every match in the order of the comparison; a new match is one function and one line here."""


def fastest_speed(asked: Question) -> tuple[float, float] | None:
    """Return the fastest speed in rpm that keeps every limit, and its pressure in MPa.

    At every speed the least pressure is dialled that keeps the lower limits of the tablet with the
    asked confidence. Speeds are tried downwards in even steps, then halved to a thousandth of the
    range.
    """
    range_ = asked.line.production.press.model.speed
    above = None
    for speed in np.linspace(range_.max, range_.min, SPEED_STEPS):
        pressure = holding_pressure(asked, float(speed))
        if pressure is not None:
            return _refined(asked, (float(speed), pressure), above)
        above = float(speed)
    return None


def _refined(
    asked: Question, good: tuple[float, float], above: float | None
) -> tuple[float, float]:
    """Return the fastest good speed between one that is good and one above that is not."""
    if above is None:
        return good
    for _ in range(6):
        middle = 0.5 * (good[0] + above)
        pressure = holding_pressure(asked, middle)
        if pressure is None:
            above = middle
        else:
            good = (middle, pressure)
    return good


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
