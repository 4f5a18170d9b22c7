"""Limits from what was seen on tablets: whatever the draws say, no setting goes there again.

Capping or lamination in a production run bounds the speed: beyond the fastest speed that was free
of it, only settings are left that a run as hard and as fast was free at. Seen in a lab run it
bounds the pressure at every speed, since every production speed is faster. Sticking, picking and
friable tablets bound every softer setting, from the fastest free speed on (common practice).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from math import inf

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.observations import Observation
from scaleup.model.defects import DEFECTS, Towards
from scaleup.transfer.limits import Figure, Limit
from scaleup.transfer.operating_point import OperatingPoint

DISTANCE = 0.05
"""Share of pressure kept from where a defect was seen (a judgement of this program)."""
SAME_SPEED, SAME_PRESSURE = 0.02, 0.02
"""Share within which two speeds, and two pressures, count as one."""
FAR = 10.0
"""Ratio of pressures told where no run was free of it; its inverse where none had it."""
ABOVE, BELOW = "seen-above", "seen-below"


@dataclass(frozen=True)
class Pressed:
    """One run: where it was pressed, and what was seen."""

    name: str
    defects: tuple[str, ...]
    pressure: float
    """MPa."""
    speed: float
    """rpm; 0 of a lab run."""


@dataclass(frozen=True)
class Seen:
    """One run with a defect, and the production runs that were free of it."""

    run: Pressed
    clean: tuple[Pressed, ...]
    harder: bool
    """Whether it speaks for more pressure, not for less."""

    @property
    def free(self) -> float:
        """Return the fastest slower speed in rpm that was free of it; 0 if none was tried.

        Of runs pressed as far, or of all where none was.
        """
        near = self.run.pressure * (1.0 - DISTANCE if self.harder else 1.0 + DISTANCE)
        slower = [each for each in self.clean if each.speed < self.run.speed * (1.0 - SAME_SPEED)]
        as_far = [
            each
            for each in slower
            if (each.pressure >= near if self.harder else each.pressure <= near)
        ]
        return max((each.speed for each in as_far or slower), default=0.0)

    @property
    def from_speed(self) -> float:
        """Return from which speed in rpm on it bounds what is set."""
        free = self.free
        return free * (1.0 + SAME_SPEED) if free else self.run.speed * (1.0 - SAME_SPEED)

    def hardest(self, speed: float) -> float:
        """Return up to which pressure in MPa nothing is known against a speed; infinity for all."""
        if self.run.speed == 0.0:
            return (1.0 - DISTANCE) * self.run.pressure
        if speed < self.from_speed:
            return inf
        free = [each.pressure for each in self.clean if each.speed >= speed * (1.0 - SAME_SPEED)]
        return max(free, default=0.0) * (1.0 + SAME_PRESSURE)

    def softest(self, speed: float) -> float:
        """Return from which pressure in MPa on nothing is known against a speed; 0 for all."""
        return 0.0 if speed < self.from_speed else (1.0 + DISTANCE) * self.run.pressure


def seen_in(observations: Iterable[Observation], towards: Towards) -> tuple[Seen, ...]:
    """Return the runs with a defect that speaks for more, or for less, pressure."""
    runs = [_pressed(each, towards) for each in observations]
    return tuple(
        Seen(run, tuple(_without(runs, run.defects)), towards == "more pressure")
        for run in runs
        if run.defects
    )


def _pressed(seen: Observation, towards: Towards) -> Pressed:
    defects = tuple(name for name in seen.run.seen if DEFECTS[name] == towards)
    speed = (seen.run.speed or 0.0) if seen.run.press == "production" else 0.0
    return Pressed(seen.run.name, defects, seen.pressure, speed)


def _without(runs: list[Pressed], defects: tuple[str, ...]) -> list[Pressed]:
    return [run for run in runs if run.speed and not set(defects) & set(run.defects)]


def seen_limits(observations: Iterable[Observation]) -> tuple[Limit, ...]:
    """Return the limits that defects seen in any run set; none where none was seen."""
    every = tuple(observations)
    above, below = seen_in(every, "more pressure"), seen_in(every, "less pressure")
    limits = []
    if above:
        label = f"pressure over the hardest without {_told(above)}"
        limits.append(Limit(ABOVE, label, "tablet", "1", 1.0, "at most", _over(_hardest(above))))
    if below:
        label = f"pressure over the softest without {_told(below)}"
        limits.append(Limit(BELOW, label, "tablet", "1", 1.0, "at least", _over(_softest(below))))
    return tuple(limits)


def _told(seen: tuple[Seen, ...]) -> str:
    names = dict.fromkeys(name for each in seen for name in each.run.defects)
    return " and ".join(names)


def _hardest(seen: tuple[Seen, ...]) -> Callable[[float], float]:
    return lambda speed: min(each.hardest(speed) for each in seen)


def _softest(seen: tuple[Seen, ...]) -> Callable[[float], float]:
    return lambda speed: max(each.softest(speed) for each in seen)


def _over(bound: Callable[[float], float]) -> Figure:
    """Return the pressure over its bound in MPa at the speed; far above a bound of nothing."""

    def figure(point: OperatingPoint) -> Array:
        here = bound(point.speed)
        if here == 0.0:
            return np.full(point.pressure.shape, FAR)
        result: Array = point.pressure / here
        return result

    return figure
