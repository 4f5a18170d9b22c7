"""The point to run at: the largest output from which force and speed may still be off a little."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.sentence import Fact, Sentence
from scaleup.transfer.case import TransferCase
from scaleup.transfer.window_centre import Centre, centre_at, feasible_range

STEPS, HALVINGS = 16, 8
"""Speeds tried downwards for the fastest with room enough, and halvings of their step."""
ROUNDING = 1e-9


@dataclass(frozen=True)
class Recommended:
    """The point of the window that is recommended, and why."""

    point: Centre
    asked_margin: float
    """Share by which force and speed may both be off, as asked for."""
    met: bool
    """Whether the point has that margin; no point has it otherwise."""

    @property
    def why(self) -> Sentence:
        """Return what distinguishes the point, in words."""
        if self.met:
            return largest_output(self.asked_margin)
        return Sentence("the largest margin: no point has {margin:%}", margin=self.asked_margin)

    @property
    def told(self) -> Sentence:
        """Return force and speed in words."""
        return place_told(self.point.set_point.force.value or 0.0, self.point.speed)


def largest_output(margin: float) -> Sentence:
    """Return what a point that has the asked margin is, in words."""
    return Sentence("the largest output with a margin of at least {margin:%}", margin=margin)


def place_told(force: float, speed: float) -> Sentence:
    """Return a force in N and a speed in rpm in words.

    >>> print(place_told(16998.0, 67.5))
    17 kN at 67.5 rpm
    """
    return Sentence("{force} at {speed}", force=Fact(force, "N"), speed=Fact(speed, "rpm"))


def recommended(case: TransferCase, widest: Centre, margin: float) -> Recommended:
    """Return the point with the largest output of those with a margin, a share.

    Where no point has it, that is the point of largest margin.
    """
    place = fastest_with_margin(case, margin)
    if place is not None:
        return Recommended(centre_at(case, *place, margin), margin, met=True)
    return Recommended(widest, margin, met=widest.margin >= margin)


def fastest_with_margin(case: TransferCase, margin: float) -> tuple[float, float] | None:
    """Return main force in N and turret speed in rpm of the fastest point with a margin.

    None if no point has it. The force is the middle of those that leave room enough there.
    """
    range_, room = case.production.press.profile.speed, 1.0 / (1.0 - margin)
    slowest, fastest = range_.min * room * (1.0 + ROUNDING), range_.max / room * (1.0 - ROUNDING)
    if slowest > fastest:
        return None
    above, place = None, None
    for speed in np.linspace(fastest, slowest, STEPS):
        place = _with_room(case, float(speed), room)
        if place is not None:
            break
        above = float(speed)
    if place is None or above is None:
        return place
    for _ in range(HALVINGS):
        middle = 0.5 * (place[1] + above)
        better = _with_room(case, middle, room)
        place, above = (place, middle) if better is None else (better, above)
    return place


def _with_room(case: TransferCase, speed: float, room: float) -> tuple[float, float] | None:
    """Return the force in N, with its speed, in the middle of those with room either way."""
    ends = [feasible_range(case, speed * turn) for turn in (room, 1.0 / room)]
    known = [each for each in ends if each is not None]
    if len(known) < len(ends):
        return None
    least = max(each[0] for each in known) * room
    most = min(each[1] for each in known) / room
    if least > most:
        return None
    return float(np.sqrt(least * most)) * case.process.charge.tip_area, speed
