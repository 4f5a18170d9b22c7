"""Which settings a trial visits: speeds, forces and precompression within every limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.transfer.limits import broken
from scaleup.transfer.question import Question
from scaleup.transfer.speed import speed_point

FORCE_STEP = 0.15
"""Share of the centre force by which the force ladder goes up and down (this project's choice)."""
KEEP_BELOW = 0.90
"""Share of a force limit or a rating that a trial does not exceed (common practice)."""
SPEED_SPREAD = 4.0
"""Ratio of fastest to slowest speed that the ladder aims at, to see the rate there."""
PRE_LEVELS = (0.0, 0.15, 0.30)
"""Precompression levels as shares of the main force (common practice)."""


@dataclass(frozen=True)
class Rung:
    """One setting of a trial."""

    purpose: str
    speed: float
    """rpm."""
    force: float
    """Main force in N."""
    pre_share: float


@dataclass(frozen=True)
class Ladders:
    """The settings of a trial in the order they are run, and why they were chosen."""

    rungs: tuple[Rung, ...]
    centre: Rung
    reasons: tuple[str, ...]


def ladders(asked: Question) -> Ladders:
    """Return the settings of a trial around the asked speed.

    The speed ladder comes first and at one force, because the change of solid fraction with speed
    alone measures the rate exponent at production dwell; then forces at the asked speed, then
    precompression. The centre is run at the start, after a stop, and at the end.
    """
    line = asked.line
    centre_force, why = _centre_force(asked)
    share = line.pre_share if line.press.pre is not None else 0.0
    centre = Rung("start-up", asked.speed, centre_force, share)
    speeds, why_speeds = _speeds(asked, centre_force)
    rungs = [centre]
    rungs += [Rung("speed ladder", speed, centre_force, share) for speed in speeds]
    forces = _forces(asked, centre_force)
    rungs += [Rung("force ladder", asked.speed, force, share) for force in forces]
    if line.press.pre is not None:
        levels = [level for level in PRE_LEVELS if abs(level - share) > 0.02]
        rungs += [Rung("precompression", asked.speed, centre_force, level) for level in levels]
    rungs.append(Rung("stop and restart", asked.speed, centre_force, share))
    rungs.append(Rung("end", asked.speed, centre_force, share))
    return Ladders(tuple(rungs), centre, (why, *why_speeds))


def ceiling(asked: Question) -> float:
    """Return the force in N a trial does not exceed."""
    return KEEP_BELOW * asked.line.force_limit


def _centre_force(asked: Question) -> tuple[float, str]:
    """Return the force of the centre and why: the middle of those that hold at the asked speed."""
    line = asked.line
    area, top = line.charge.tip_area, ceiling(asked)
    forces = np.geomspace(line.map.floor * area, min(top, line.map.ceiling * area), 80)
    good = [
        force
        for force in forces
        if not broken(asked.limits, line.at(float(force) / area, asked.speed), asked.confidence)
    ]
    if good:
        middle = float(np.sqrt(good[0] * good[-1]))
        tested = max(row.observation.pressure for row in line.fit.runs) * area
        held = min(middle, max(tested, good[0]))
        return held, (
            "The centre force is the middle of the forces that keep every limit at the asked speed"
            + ("." if held == middle else ", but not above the highest tested pressure.")
        )
    point = speed_point(asked, asked.speed, stopped=False, strong=line.fit.strength is not None)
    closest = min(point.closest.force.value or 0.0, top)
    return closest, (
        "No force keeps every limit at the asked speed; the centre force is the one that comes "
        "closest, and the trial is to find out."
    )


def _speeds(asked: Question, force: float) -> tuple[list[float], tuple[str, ...]]:
    """Return the other speeds of the ladder, slowest first, all within the press's range."""
    limits = asked.line.production.press.model.speed
    slow = max(limits.min, asked.speed / np.sqrt(SPEED_SPREAD))
    fast = min(limits.max, asked.speed * np.sqrt(SPEED_SPREAD))
    if fast / slow < SPEED_SPREAD:
        slow = max(limits.min, fast / SPEED_SPREAD)
        fast = min(limits.max, slow * SPEED_SPREAD)
    pressure = force / asked.line.charge.tip_area
    machine = tuple(limit for limit in asked.limits if limit.of == "machine")
    kept = [
        float(f"{speed:.3g}")
        for speed in (slow, fast)
        if abs(np.log(speed / asked.speed)) > 0.1
        and not broken(machine, asked.line.at(pressure, float(speed)), asked.confidence)
    ]
    dwells = [
        float(np.median(asked.line.at(pressure, speed).effective_dwell))
        for speed in (*kept, asked.speed)
    ]
    span = float(np.log10(max(dwells) / min(dwells)))
    return kept, (
        (
            "The speed ladder is run first and at one force: it measures the rate exponent at "
            f"production dwell, over {span:.1f} decades."
        ),
    )


def _forces(asked: Question, centre: float) -> list[float]:
    """Return a force below and one above the centre that the machine allows."""
    wanted = (centre * (1.0 - FORCE_STEP), min(centre * (1.0 + FORCE_STEP), ceiling(asked)))
    machine = tuple(limit for limit in asked.limits if limit.of == "machine")
    area = asked.line.charge.tip_area
    return [
        force
        for force in wanted
        if abs(force / centre - 1.0) > 0.03
        and not broken(machine, asked.line.at(force / area, asked.speed), asked.confidence)
    ]
