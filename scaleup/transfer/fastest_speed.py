"""The fastest turret speed at which some pressure keeps every limit, with its band."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import floor, log10
from typing import TYPE_CHECKING

import numpy as np

from scaleup.model.estimate import Estimate, exactly, unavailable
from scaleup.sentence import Fact, Sentence, Words
from scaleup.short_repr import short_repr
from scaleup.transfer.feasible import feasible_pressure
from scaleup.transfer.operating_point import OperatingPoint

if TYPE_CHECKING:
    from scaleup.transfer.case import TransferCase

SPEED_STEPS, SPEED_HALVINGS = 16, 6
"""Speeds tried down from the fastest of the press, and halvings of their step."""
NORMAL = 1.645
"""Half the width of a 90 % band over the standard deviation, of a normal distribution."""
MOST_DIGITS = 3
"""Digits of a speed that no band limits."""
NOWHERE = "no speed of the press holds the target within every limit"


@dataclass(frozen=True)
class FeasibleSpeed:
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
    def told(self) -> Fact:
        """Return the speed as it is told: rounded down, with as many digits as its band allows.

        >>> print(FeasibleSpeed(41.26, 150.0, 40.1, 42.2).told)
        41 rpm
        """
        return Fact(self.speed, "rpm", f"{self.digits} down")

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


def fastest_speed(case: TransferCase, top: float | None = None) -> FeasibleSpeed | None:
    """Return the fastest speed that keeps every limit, of those up to `top` if that is given.

    At every speed the least pressure is dialled that keeps the lower limits of the tablet with the
    asked confidence. Speeds are tried downwards in even steps, then halved to a thousandth of the
    range. None if no speed keeps every limit.
    """
    range_ = case.production.press.profile.speed
    above = None
    for speed in np.linspace(top or range_.max, range_.min, SPEED_STEPS):
        pressure = feasible_pressure(case, float(speed))
        if pressure is not None:
            return _refined(case, FeasibleSpeed(float(speed), pressure), above)
        above = float(speed)
    return None


def slowest_speed(case: TransferCase) -> FeasibleSpeed | None:
    """Return the slowest speed that keeps every limit, None if no speed does.

    Speeds are tried upwards in even steps, then halved: a slower turret has a longer dwell, but its
    feeder may shear the blend more.
    """
    range_ = case.production.press.profile.speed
    below = None
    for speed in np.linspace(range_.min, range_.max, SPEED_STEPS):
        pressure = feasible_pressure(case, float(speed))
        if pressure is not None:
            return _refined(case, FeasibleSpeed(float(speed), pressure), below)
        below = float(speed)
    return None


def with_band(case: TransferCase, feasible: FeasibleSpeed) -> FeasibleSpeed:
    """Return the fastest speed with its band.

    The band is what the finite number of draws leaves open: the fastest speeds at the asked
    confidence more and less the sampling error of the share of draws that keep the limits.
    """
    error = sampling_error(case, case.process.at(feasible.pressure, feasible.speed))
    low = fastest_speed(_at_confidence(case, error), feasible.speed)
    high = _faster(_at_confidence(case, -error), feasible)
    return replace(feasible, slowest=None if low is None else low.speed, quickest=high.speed)


def sampling_error(case: TransferCase, point: OperatingPoint | None = None) -> float:
    """Return half the 90 % band of the share of draws that keep the limits binding at a point.

    ``1.645 s / sqrt(n)``, with s the standard deviation over n draws of how many of the binding
    limits a draw keeps, as a share: of one limit that is ``sqrt(c (1 - c))``; of two the draws may
    lose one for the other. Without a point one limit binds.
    """
    confidence, draws = case.confidence, case.process.fit.powder.draws
    alone = float(np.sqrt(confidence * (1.0 - confidence) / draws))
    if point is None:
        return NORMAL * alone
    kept = [limit.holds(point) for limit in case.limits]
    binding = [each for each in kept if each.mean() < confidence + 2.0 * alone]
    if not binding:
        return NORMAL * alone
    return NORMAL * float(np.mean(binding, axis=0).std() / np.sqrt(draws))


def _at_confidence(case: TransferCase, by: float) -> TransferCase:
    """Return the same case at a confidence higher by a share."""
    return replace(case, confidence=case.confidence + by, first=None)


def _faster(case: TransferCase, good: FeasibleSpeed) -> FeasibleSpeed:
    """Return the fastest speed up to which all from a good one hold."""
    highest = case.production.press.profile.speed.max
    for speed in np.linspace(good.speed, highest, SPEED_STEPS)[1:]:
        if good.speed >= highest:
            break
        pressure = feasible_pressure(case, float(speed))
        if pressure is None:
            return _refined(case, good, float(speed))
        good = FeasibleSpeed(float(speed), pressure)
    return good


def _refined(case: TransferCase, good: FeasibleSpeed, bad: float | None) -> FeasibleSpeed:
    """Return the last good speed between one that is good and one that is not."""
    if bad is None:
        return good
    for _ in range(SPEED_HALVINGS):
        middle = 0.5 * (good.speed + bad)
        pressure = feasible_pressure(case, middle)
        if pressure is None:
            bad = middle
        else:
            good = FeasibleSpeed(middle, pressure)
    return good


NOT_ASKED = unavailable("rpm", "not asked")


@short_repr
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
    told: Fact | Words = ""
    """The speed with as many digits as its band allows, or why there is none."""
    left_open: Words = ""
    """What the finite number of draws leaves open, in words; empty where that is nothing."""
    output_told: Fact | str = ""
    """The output with as many digits as the speed."""
    draws: int = 0
    """How many draws it rests on."""
    slowest: Estimate = NOT_ASKED
    """The slowest speed that holds, rpm: a slower one may break a limit as well."""

    @classmethod
    def of(cls, case: TransferCase, feasible: FeasibleSpeed | None) -> Fastest:
        """Return what was found for a question, or that nothing was."""
        draws = case.process.fit.powder.draws
        if feasible is None:
            return cls.unknown(_nowhere(case, draws), draws)
        left_open = _left_open(feasible, draws)
        reason: Words = left_open if feasible.slowest is None else ""
        speed = Estimate(feasible.speed, "rpm", feasible.slowest, feasible.quickest, reason)
        output = speed.times(case.production.output(1.0), "1/h")
        return cls(
            speed,
            exactly(feasible.pressure, "MPa"),
            exactly(feasible.pressure * case.process.charge.tip_area, "N"),
            output,
            feasible.told,
            left_open,
            Fact(output.value or 0.0, "1/h", f"{feasible.digits} down"),
            draws,
            unavailable("rpm", NOWHERE) if case.slowest is None else exactly(case.slowest, "rpm"),
        )

    @classmethod
    def unknown(cls, reason: Words, draws: int = 0) -> Fastest:
        """Return that there is none, and why."""
        speed, pressure, force, output = (
            unavailable(unit, reason) for unit in ("rpm", "MPa", "N", "1/h")
        )
        told = Sentence("not available: {why}", why=reason)
        return cls(speed, pressure, force, output, told, draws=draws, slowest=speed)


def _left_open(feasible: FeasibleSpeed, draws: int) -> Words:
    """Return what so many draws leave open of a speed, "" where that is nothing."""
    low, high = feasible.slowest, feasible.quickest
    if low == high == feasible.speed:
        return ""
    digits = f"{max(feasible.digits, 2)}"
    quickest = Fact(feasible.speed if high is None else high, "rpm", digits)
    if low is None:
        return Sentence(
            "{draws:,} draws leave open up to {quickest}, and that no speed holds",
            draws=draws,
            quickest=quickest,
        )
    return Sentence(
        "{draws:,} draws leave open {slowest} to {quickest}",
        draws=draws,
        slowest=Fact(low, "rpm", digits),
        quickest=quickest,
    )


def _nowhere(case: TransferCase, draws: int) -> Words:
    """Return that no speed holds, and whether so many draws leave open that one does."""
    open_ = fastest_speed(_at_confidence(case, -sampling_error(case)))
    if open_ is None:
        return NOWHERE
    return Sentence(
        "{nowhere}; {draws:,} draws leave open that {speed:2 down} does",
        nowhere=NOWHERE,
        draws=draws,
        speed=Fact(open_.speed, "rpm"),
    )
