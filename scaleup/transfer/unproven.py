"""A setting against which nothing firm speaks, but of which too little is known for an answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from scaleup.sentence import Fact, Sentence, joined
from scaleup.transfer.fastest_speed import fastest_speed
from scaleup.transfer.feasible import feasible_pressure
from scaleup.transfer.limits import broken
from scaleup.transfer.tested import TESTED_DWELL

if TYPE_CHECKING:
    from scaleup.transfer.case import TransferCase


@dataclass(frozen=True)
class Unproven:
    """A setting that keeps every firm limit and breaks one that shows a lack of evidence."""

    speed: float
    """rpm."""
    pressure: float
    """MPa."""
    told: Sentence
    """What it is, and what is not known of it."""


def unproven(case: TransferCase, speed: float, *, elsewhere: bool = False) -> Unproven | None:
    """Return a setting at a turret speed in rpm that keeps every firm limit; None if none does.

    The lab's own pressure comes first, then the least that keeps the lower limits; then, if asked
    for, the fastest speed at which some pressure does. Asked only where no setting keeps every
    limit.
    """
    firm = case.limited_to(tuple(each for each in case.limits if each.firm))
    own = case.reference.pressure
    if not broken(firm.limits, case.process.at(own, speed), case.confidence):
        return _of(case, speed, own)
    pressure = feasible_pressure(firm, speed)
    if pressure is not None:
        return _of(case, speed, pressure)
    fastest = fastest_speed(firm) if elsewhere else None
    return (
        _too_short(case, speed) if fastest is None else _of(case, fastest.speed, fastest.pressure)
    )


def _too_short(case: TransferCase, speed: float) -> Unproven | None:
    """Return that the pulse at a speed is too short for any answer, a no included."""
    own = case.reference.pressure
    point = case.process.at(own, speed)
    for limit in broken(case.limits, point, case.confidence):
        if limit.code == TESTED_DWELL and limit.lacks is not None:
            told = Sentence(
                "At {speed:down} the pulse is too short: {why}.",
                speed=Fact(speed, "rpm"),
                why=limit.lacks(point),
            )
            return Unproven(speed, own, told)
    return None


def _of(case: TransferCase, speed: float, pressure: float) -> Unproven | None:
    point = case.process.at(pressure, speed)
    lacks = [
        limit.lacks(point)
        for limit in broken(case.limits, point, case.confidence)
        if limit.lacks is not None
    ]
    if not lacks:
        return None
    told = Sentence(
        "{force} ({pressure}) at {speed:down} keeps every stated limit, each with at least "
        "{confidence:%} confidence, but {lacks}.",
        force=Fact(pressure * case.process.charge.tip_area, "N"),
        pressure=Fact(pressure, "MPa"),
        speed=Fact(speed, "rpm"),
        confidence=case.confidence,
        lacks=joined("; and ", lacks),
    )
    return Unproven(speed, pressure, told)
