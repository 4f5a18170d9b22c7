"""Limits from what was seen on tablets: whatever the draws say, no setting goes there again.

A defect seen at one pressure and turret speed bounds every faster setting at that pressure, and at
higher or lower ones, as `scaleup.model.defects` says. Seen in a lab run it bounds every speed,
since every production speed is faster.
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
SAME_SPEED = 0.98
"""Share of its speed from which a setting counts as as fast."""
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
    """rpm; 0 of a lab run."""


def seen_in(observations: Iterable[Observation], towards: Towards) -> tuple[Seen, ...]:
    """Return the runs with a defect that speaks for more, or for less, pressure."""
    return tuple(
        Seen(
            each.run.name,
            found,
            each.pressure,
            (each.run.speed or 0.0) if each.run.press == "production" else 0.0,
        )
        for each in observations
        if (found := tuple(name for name in each.run.seen if DEFECTS[name] == towards))
    )


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
    return [each for each in seen if speed >= SAME_SPEED * each.speed]


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
