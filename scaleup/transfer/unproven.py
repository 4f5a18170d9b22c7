"""A setting against which nothing firm speaks, but of which too little is known for an answer."""

from __future__ import annotations

from dataclasses import dataclass, replace

from scaleup.transfer.holding import holding_pressure, some_speed
from scaleup.transfer.limits import broken
from scaleup.transfer.question import Question
from scaleup.transfer.tested import TESTED_DWELL
from scaleup.wording import at_most, percent, say


@dataclass(frozen=True)
class Unproven:
    """A setting that keeps every firm limit and breaks one that shows a lack of evidence."""

    speed: float
    """rpm."""
    pressure: float
    """MPa."""
    told: str
    """What it is, and what is not known of it."""


def unproven(asked: Question, speed: float, *, elsewhere: bool = False) -> Unproven | None:
    """Return a setting at a turret speed in rpm that keeps every firm limit; None if none does.

    The lab's own pressure comes first, then the least that keeps the lower limits; then, if asked
    for, the fastest speed at which some pressure does. Asked only where no setting keeps every
    limit.
    """
    firm = replace(asked, limits=tuple(each for each in asked.limits if each.firm))
    own = asked.reference.pressure
    if not broken(firm.limits, asked.line.at(own, speed), asked.confidence):
        return _of(asked, speed, own)
    pressure = holding_pressure(firm, speed)
    if pressure is not None:
        return _of(asked, speed, pressure)
    found = some_speed(firm) if elsewhere else None
    return _too_short(asked, speed) if found is None else _of(asked, found.speed, found.pressure)


def _too_short(asked: Question, speed: float) -> Unproven | None:
    """Return that the pulse at a speed is too short for any answer, a no included."""
    own = asked.reference.pressure
    point = asked.line.at(own, speed)
    for limit in broken(asked.limits, point, asked.confidence):
        if limit.code == TESTED_DWELL and limit.lacks is not None:
            told = f"At {at_most(speed, 'rpm')} the pulse is too short: {limit.lacks(point)}."
            return Unproven(speed, own, told)
    return None


def _of(asked: Question, speed: float, pressure: float) -> Unproven | None:
    point = asked.line.at(pressure, speed)
    lacks = [
        limit.lacks(point)
        for limit in broken(asked.limits, point, asked.confidence)
        if limit.lacks is not None
    ]
    if not lacks:
        return None
    force = say(pressure * asked.line.charge.tip_area, "N")
    told = (
        f"{force} ({say(pressure, 'MPa')}) at {at_most(speed, 'rpm')} keeps every stated limit, "
        f"each with at least {percent(asked.confidence)} confidence, but {'; and '.join(lacks)}."
    )
    return Unproven(speed, pressure, told)
