"""A point of the operating window: how far it is from the edges, and what they are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.model.estimate import exactly
from scaleup.short_repr import short_repr
from scaleup.transfer.case import TransferCase
from scaleup.transfer.feasible import feasible_pressure
from scaleup.transfer.limits import Limit, broken
from scaleup.transfer.margins import SetPoint, set_point
from scaleup.transfer.tested import tested_pressure

HALVINGS = 14


@dataclass(frozen=True)
class Edge:
    """Where the window ends in one direction from its centre, and which limit ends it."""

    towards: str
    """"more force", "less force", "faster" or "slower"."""
    at: float
    """Main force in N, or turret speed in rpm."""
    unit: str
    limit: str


@short_repr
@dataclass(frozen=True)
class Centre:
    """A point of the window."""

    set_point: SetPoint
    speed: float
    margin: float
    """Share by which force and speed may both be off, up or down at once, without leaving."""
    edges: tuple[Edge, ...]
    tested: float
    """Highest pressure in MPa that any run was pressed at."""

    @property
    def beyond_tested(self) -> float:
        """Return the share by which the pressure is above any tested, 0 if it is not."""
        return max((self.set_point.pressure.value or 0.0) / self.tested - 1.0, 0.0)


def centre_at(case: TransferCase, force: float, speed: float, known: float = 0.0) -> Centre:
    """Return a main force in N and a turret speed in rpm with their margin and edges.

    `known` is a margin that the point is known to have.
    """
    process, force, speed = case.process, float(force), float(speed)
    pressure = force / process.charge.tip_area
    edges = (
        _edge(case, "more force", pressure, speed, process.map.ceiling, None),
        _edge(case, "less force", pressure, speed, process.map.floor, None),
        _edge(case, "faster", pressure, speed, None, process.map.speeds[1]),
        _edge(case, "slower", pressure, speed, None, process.map.speeds[0]),
    )
    return Centre(
        set_point(case, exactly(pressure, "MPa"), speed),
        speed,
        max(margin_at(case, pressure, speed), known),
        edges,
        tested_pressure(process.fit),
    )


def feasible_range(case: TransferCase, speed: float) -> tuple[float, float] | None:
    """Return the least and the greatest pressure in MPa that hold at a speed; None if none does."""
    least = feasible_pressure(case, speed)
    if least is None:
        return None
    process = case.process
    most = _edge(case, "more force", least, speed, process.map.ceiling, None).at
    return least, most / process.charge.tip_area


def middle_pressure(case: TransferCase, speed: float) -> float | None:
    """Return the middle, as a ratio, of the pressures in MPa that hold at a speed; None if none."""
    ends = feasible_range(case, speed)
    return None if ends is None else float(np.sqrt(ends[0] * ends[1]))


def _edge(
    case: TransferCase,
    towards: str,
    pressure: float,
    speed: float,
    far_pressure: float | None,
    far_speed: float | None,
) -> Edge:
    """Return where, on the way to a far pressure or speed, a limit stops holding (halving)."""
    ends = (pressure if far_pressure is None else far_pressure,
            speed if far_speed is None else far_speed)  # fmt: skip

    def failing(share: float) -> list[Limit]:
        here = pressure * (ends[0] / pressure) ** share
        turn = speed * (ends[1] / speed) ** share
        return broken(case.limits, case.process.at(here, turn), case.confidence)

    low, high = 0.0, 1.0
    if failing(high):
        for _ in range(HALVINGS):
            middle = 0.5 * (low + high)
            low, high = (low, middle) if failing(middle) else (middle, high)
        label = failing(high)[0].label
    else:
        low = 1.0
        label = _rim(towards)
    at = pressure * (ends[0] / pressure) ** low
    turn = speed * (ends[1] / speed) ** low
    if far_pressure is not None:
        return Edge(towards, at * case.process.charge.tip_area, "N", label)
    return Edge(towards, turn, "rpm", label)


def _rim(towards: str) -> str:
    return {
        "faster": "the fastest speed of the press",
        "slower": "the slowest speed of the press",
    }.get(towards, "the end of the pressures looked at")


def margin_at(case: TransferCase, pressure: float, speed: float, beyond: float = 0.0) -> float:
    """Return the share by which force and speed may both be off without breaking a limit.

    0 if that is not more than `beyond`, which is soon seen.
    """
    slowest, fastest = case.process.map.speeds
    process = case.process

    def whole(log_room: float) -> bool:
        for up in (-1.0, 1.0):
            for right in (-1.0, 1.0):
                here = pressure * np.exp(up * log_room)
                turn = speed * np.exp(right * log_room)
                outside = not process.map.floor <= here <= process.map.ceiling
                if outside or not slowest <= turn <= fastest:
                    return False
                if broken(case.limits, process.at(float(here), float(turn)), case.confidence):
                    return False
        return True

    low, high = -float(np.log1p(-beyond)), 1.0
    if low > 0.0 and not whole(low):
        return 0.0
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if whole(middle) else (low, middle)
    return float(-np.expm1(-low))
