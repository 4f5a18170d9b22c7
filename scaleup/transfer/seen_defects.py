"""Limits from what was seen on tablets: whatever the draws say, no setting goes there again.

A defect seen at one pressure and turret speed bounds every faster setting at that pressure, and at
higher or lower ones, as `scaleup.model.defects` says. It bounds slower ones too, down to the
fastest speed at which production runs pressed as hard, or as softly, were without it. Seen in a lab
run it bounds every speed, since every production speed is faster.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.observations import Observation
from scaleup.model.defects import DEFECTS, Towards
from scaleup.transfer.limits import Figure, Limit
from scaleup.transfer.operating_point import OperatingPoint

DISTANCE = 0.05
"""Share of pressure kept from where a defect was seen (a judgement of this program)."""
SAME_SPEED = 0.02
"""Share within which two speeds count as one."""
FAR = 10.0
"""Ratio of pressures told where no such defect was seen at the speed."""
ABOVE, BELOW = "seen-above", "seen-below"


@dataclass(frozen=True)
class Seen:
    """One run with a defect."""

    name: str
    defects: tuple[str, ...]
    pressure: float
    """MPa."""
    speed: float
    """rpm at which it was seen; 0 of a lab run."""
    free: float
    """The fastest speed in rpm of production runs as hard, or as soft, without it; 0 if none."""

    @property
    def from_speed(self) -> float:
        """Return from which speed in rpm on nothing is set there."""
        if self.free:
            return self.free * (1.0 + SAME_SPEED)
        return self.speed * (1.0 - SAME_SPEED)


def seen_in(observations: Iterable[Observation], towards: Towards) -> tuple[Seen, ...]:
    """Return the runs with a defect that speaks for more, or for less, pressure."""
    every = tuple(observations)
    return tuple(
        Seen(each.run.name, found, each.pressure, _speed(each), _free(each, found, every, towards))
        for each in every
        if (found := tuple(name for name in each.run.seen if DEFECTS[name] == towards))
    )


def _speed(seen: Observation) -> float:
    return (seen.run.speed or 0.0) if seen.run.press == "production" else 0.0


def _free(
    seen: Observation, found: tuple[str, ...], every: tuple[Observation, ...], towards: Towards
) -> float:
    """Return the fastest slower speed at which runs pressed as far were without these defects."""
    harder = towards == "more pressure"
    near = seen.pressure * ((1.0 - DISTANCE) if harder else (1.0 + DISTANCE))
    speeds = [
        _speed(each)
        for each in every
        if _speed(each) < _speed(seen) * (1.0 - SAME_SPEED)
        and (each.pressure >= near if harder else each.pressure <= near)
        and not set(found) & set(each.run.seen)
    ]
    return max(speeds, default=0.0)


def seen_limits(observations: Iterable[Observation]) -> tuple[Limit, ...]:
    """Return the limits that defects seen in any run set; none where none was seen."""
    every = tuple(observations)
    above, below = seen_in(every, "more pressure"), seen_in(every, "less pressure")
    limits = []
    if above:
        label = f"pressure over that of {_told(above)}"
        limits.append(
            Limit(ABOVE, label, "tablet", "1", 1.0 - DISTANCE, "at most", _highest(above))
        )
    if below:
        label = f"pressure over that of {_told(below)}"
        limits.append(
            Limit(BELOW, label, "tablet", "1", 1.0 + DISTANCE, "at least", _lowest(below))
        )
    return tuple(limits)


def _told(seen: tuple[Seen, ...]) -> str:
    names = dict.fromkeys(name for each in seen for name in each.defects)
    return " and ".join(names)


def _as_fast(seen: tuple[Seen, ...], speed: float) -> list[Seen]:
    return [each for each in seen if speed >= each.from_speed]


def _highest(seen: tuple[Seen, ...]) -> Figure:
    def figure(point: OperatingPoint) -> Array:
        pressures = [each.pressure for each in _as_fast(seen, point.speed)]
        if not pressures:
            return np.zeros(point.pressure.shape)
        result: Array = point.pressure / min(pressures)
        return result

    return figure


def _lowest(seen: tuple[Seen, ...]) -> Figure:
    def figure(point: OperatingPoint) -> Array:
        pressures = [each.pressure for each in _as_fast(seen, point.speed)]
        if not pressures:
            return np.full(point.pressure.shape, FAR)
        result: Array = point.pressure / max(pressures)
        return result

    return figure
