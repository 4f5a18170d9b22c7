"""The least pressure that keeps one limit or all, and the fastest speed at which all are kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import floor, log10

import numpy as np

from scaleup.arrays import Array
from scaleup.model.estimate import Estimate, exactly, unavailable
from scaleup.transfer.limits import Limit, broken
from scaleup.transfer.line import Line, OperatingPoint
from scaleup.transfer.question import Question
from scaleup.wording import at_most, say

STEPS, HALVINGS = 16, 14
"""Steps of pressure in which the first that holds is looked for, and halvings of that step."""
SPEED_STEPS, SPEED_HALVINGS = 16, 6
"""The same for the speeds, down from the fastest of the press."""
NORMAL = 1.645
"""Half the width of a 90 % band over the standard deviation, of a normal distribution."""
MOST_DIGITS = 3
"""Digits of a speed that no band limits."""
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
    slowest: float | None = None
    """rpm: the low end of the speed's 90 % band; None if there no speed at all would hold."""
    quickest: float | None = None
    """rpm: the high end of that band, not above the press's own."""

    @property
    def told(self) -> str:
        """Return the speed in words, rounded down, with as many digits as its band allows.

        >>> Holding(41.26, 150.0, 40.1, 42.2).told, Holding(75.0, 150.0, 75.0, 75.0).told
        ('41 rpm', '75 rpm')
        """
        return at_most(self.speed, "rpm", self.digits)

    @property
    def digits(self) -> int:
        """Return how many digits of the speed its band allows."""
        return speed_digits(self.speed, self.slowest, self.quickest)


def speed_digits(speed: float, slowest: float | None, quickest: float | None) -> int:
    """Return the significant digits of a speed whose last is not finer than half its band.

    >>> speed_digits(41.26, 40.1, 42.2), speed_digits(41.26, 41.1, 41.4)
    (2, 3)
    """
    low, high = slowest or speed, quickest or speed
    half = 0.5 * (high - low) if slowest and quickest else high - low
    if half <= 0.0:
        return MOST_DIGITS
    return min(max(floor(log10(speed)) - floor(log10(half)) + 1, 1), MOST_DIGITS)


def fastest_speed(asked: Question) -> Holding | None:
    """Return the fastest speed that keeps every limit, with its band; None if none does.

    At every speed the least pressure is dialled that keeps the lower limits of the tablet with the
    asked confidence. Speeds are tried downwards in even steps, then halved to a thousandth of the
    range. The band is what the finite number of draws leaves open: the fastest speeds at the asked
    confidence more and less the sampling error of the share of draws that keep the limits.
    """
    found = _fastest(asked)
    if found is None:
        return None
    error = sampling_error(asked, asked.line.at(found.pressure, found.speed))
    low = _fastest(_at_confidence(asked, error), found.speed)
    high = _faster(_at_confidence(asked, -error), found)
    return replace(found, slowest=None if low is None else low.speed, quickest=high.speed)


def some_speed(asked: Question) -> Holding | None:
    """Return the fastest speed that keeps every limit without its band; None if none does."""
    return _fastest(asked)


def sampling_error(asked: Question, point: OperatingPoint | None = None) -> float:
    """Return half the 90 % band of the share of draws that keep the limits binding at a point.

    ``1.645 s / sqrt(n)``, with s the standard deviation over n draws of how many of the binding
    limits a draw keeps, as a share: of one limit that is ``sqrt(c (1 - c))``; of two the draws may
    lose one for the other. Without a point one limit binds.
    """
    confidence, draws = asked.confidence, asked.line.fit.powder.draws
    alone = float(np.sqrt(confidence * (1.0 - confidence) / draws))
    if point is None:
        return NORMAL * alone
    kept = [limit.holds(point) for limit in asked.limits]
    binding = [each for each in kept if each.mean() < confidence + 2.0 * alone]
    if not binding:
        return NORMAL * alone
    return NORMAL * float(np.mean(binding, axis=0).std() / np.sqrt(draws))


def _at_confidence(asked: Question, by: float) -> Question:
    """Return the same question at a confidence higher by a share."""
    return replace(asked, confidence=asked.confidence + by)


def _fastest(asked: Question, top: float | None = None) -> Holding | None:
    """Return the fastest speed that holds, of those up to `top` if that is given."""
    range_ = asked.line.production.press.model.speed
    above = None
    for speed in np.linspace(top or range_.max, range_.min, SPEED_STEPS):
        pressure = holding_pressure(asked, float(speed))
        if pressure is not None:
            return _refined(asked, Holding(float(speed), pressure), above)
        above = float(speed)
    return None


def _faster(asked: Question, good: Holding) -> Holding:
    """Return the fastest speed up to which all from a good one hold."""
    highest = asked.line.production.press.model.speed.max
    for speed in np.linspace(good.speed, highest, SPEED_STEPS)[1:]:
        if good.speed >= highest:
            break
        pressure = holding_pressure(asked, float(speed))
        if pressure is None:
            return _refined(asked, good, float(speed))
        good = Holding(float(speed), pressure)
    return good


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

    speed: Estimate
    """rpm; the band is what the finite number of draws leaves open."""
    pressure: Estimate
    """MPa."""
    force: Estimate
    """N."""
    output: Estimate
    """Tablets per hour."""
    told: str = ""
    """The speed in words, with as many digits as its band allows."""
    left_open: str = ""
    """What the finite number of draws leaves open, in words; empty where that is nothing."""
    output_told: str = ""
    """The output in words, with as many digits as the speed."""
    draws: int = 0
    """How many draws it rests on."""

    @classmethod
    def of(cls, asked: Question, found: Holding | None) -> Fastest:
        """Return what was found for a question, or that nothing was."""
        draws = asked.line.fit.powder.draws
        if found is None:
            return cls.unknown(_nowhere(asked, draws), draws)
        left_open = _left_open(found, draws)
        reason = left_open if found.slowest is None else ""
        speed = Estimate(found.speed, "rpm", found.slowest, found.quickest, reason)
        output = speed.times(asked.line.production.output(1.0), "1/h")
        return cls(
            speed,
            exactly(found.pressure, "MPa"),
            exactly(found.pressure * asked.line.charge.tip_area, "N"),
            output,
            found.told,
            left_open,
            at_most(output.value or 0.0, "1/h", found.digits),
            draws,
        )

    @classmethod
    def unknown(cls, reason: str, draws: int = 0) -> Fastest:
        """Return that there is none, and why."""
        speed, pressure, force, output = (
            unavailable(unit, reason) for unit in ("rpm", "MPa", "N", "1/h")
        )
        return cls(speed, pressure, force, output, f"not available: {reason}", draws=draws)


def _left_open(found: Holding, draws: int) -> str:
    """Return what so many draws leave open of a speed, "" where that is nothing."""
    low, high = found.slowest, found.quickest
    if low == high == found.speed:
        return ""
    ends = [say(end, "rpm", max(found.digits, 2)) for end in (low, high) if end is not None]
    told = " to ".join(ends) if low is not None else f"up to {ends[-1]}, and that no speed holds"
    return f"{draws:,} draws leave open {told}"


def _nowhere(asked: Question, draws: int) -> str:
    """Return that no speed holds, and whether so many draws leave open that one does."""
    open_ = _fastest(_at_confidence(asked, -sampling_error(asked)))
    if open_ is None:
        return NOWHERE
    return f"{NOWHERE}; {draws:,} draws leave open that {at_most(open_.speed, 'rpm', 2)} does"
