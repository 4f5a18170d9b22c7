"""Which settings a trial visits: speeds, forces and precompression within every limit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from scaleup.answers.expected_narrowing import narrowing, variance_left
from scaleup.arrays import Array
from scaleup.sentence import Fact, Sentence, Words
from scaleup.transfer.case import TransferCase
from scaleup.transfer.feasible import feasible_pressure
from scaleup.transfer.limits import broken
from scaleup.transfer.margins import closest
from scaleup.transfer.operating_point import OperatingPoint
from scaleup.transfer.window_centre import middle_pressure

FORCE_STEPS = (0.05, 0.10, 0.15, 0.20, 0.25, 0.30)
"""Shares of the centre force by which the force ladder may go up and down."""
ENOUGH = 0.9
"""A ladder is as narrow as still teaches this share of what the widest allowed would teach (this
project's choice: a wide ladder costs powder and goes where less is known)."""
KEEP_BELOW = 0.90
"""Share of a force limit or a rating that a trial does not exceed (common practice)."""
LEAST_STEP = 0.1
"""Share by which a speed of the ladder is at least away from the asked one."""
SPEEDS = 7
"""How many speeds on either side of the asked one are candidates for the speed ladder."""
AT_CENTRE = ("start-up", "stop and restart", "end")
"""When the centre is run."""
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
    reasons: tuple[Words, ...]


def ladders(case: TransferCase, tablets: int) -> Ladders:
    """Return the settings of a trial around the asked speed, so many tablets sampled from each.

    The speed ladder comes first and at one force, because the change of solid fraction with speed
    alone measures the rate exponent at production dwell; then forces at the asked speed, then
    precompression. The centre is run at the start, after a stop, and at the end. Of the ladders
    that the limits allow, the narrowest is taken that teaches nearly what the widest would.
    """
    process = case.process
    centre_force, why = _centre_force(case)
    centre_force = settable(centre_force)
    share = process.pre_share if process.press.pre is not None else 0.0
    centre = Rung(AT_CENTRE[0], case.speed, centre_force, share)
    speeds, why_speeds = _speeds(case, centre_force, tablets)
    rungs = [centre]
    rungs += [Rung("speed ladder", speed, centre_force, share) for speed in speeds]
    forces, why_forces = _forces(case, centre_force, tablets)
    rungs += [Rung("force ladder", case.speed, force, share) for force in forces]
    if process.press.pre is not None:
        levels = [level for level in PRE_LEVELS if abs(level - share) > 0.02]
        rungs += [Rung("precompression", case.speed, centre_force, level) for level in levels]
    rungs += [Rung(purpose, case.speed, centre_force, share) for purpose in AT_CENTRE[1:]]
    return Ladders(tuple(rungs), centre, (why, why_speeds, why_forces))


def settable(value: float) -> float:
    """Return a force in N or a speed in rpm as an operator can set it: with three digits.

    >>> settable(17815.3)
    17800.0
    """
    return float(f"{value:.3g}")


def _either_side(centre: float, step: float) -> tuple[float, float]:
    return settable(centre * (1.0 - step)), settable(centre * (1.0 + step))


def ceiling(case: TransferCase) -> float:
    """Return the force in N a trial does not exceed."""
    return KEEP_BELOW * case.process.force_limit


def _centre_force(case: TransferCase) -> tuple[float, Words]:
    """Return the force of the centre and why: the middle of those that hold at the asked speed."""
    process = case.process
    area, top = process.charge.tip_area, ceiling(case)
    middle, least = middle_pressure(case, case.speed), feasible_pressure(case, case.speed)
    if middle is not None and least is not None and least * area <= top:
        tested = max(row.observation.pressure for row in process.fit.runs)
        force = min(middle * area, max(tested, least) * area, top)
        return force, Sentence(
            "The centre force is the middle of the forces that keep every limit at the asked "
            "speed{bounded}.",
            bounded=_bounded_by(force, tested * area, top, middle * area),
            centre_force=Fact(force, "N"),
        )
    return min(closest(case, case.speed).force.value or 0.0, top), (
        "No force keeps every limit at the asked speed; the centre force is the one that comes "
        "closest, and the trial is to find out."
    )


def _bounded_by(force: float, tested: float, top: float, middle: float) -> Words:
    """Return what keeps the centre force below the middle, all in N; empty if nothing does."""
    if force == middle:
        return ""
    if force == top < tested:
        told = ", but not above {share:%} of what tips and roller allow"
        return Sentence(told, share=KEEP_BELOW)
    return ", but not above the highest tested pressure"


def _speeds(case: TransferCase, force: float, tablets: int) -> tuple[list[float], Words]:
    """Return the other speeds of the ladder, slowest first, and why."""
    limits = case.production.press.profile.speed
    pressure = force / case.process.charge.tip_area
    machine = tuple(limit for limit in case.limits if limit.of == "machine")

    def allowed(end: float) -> list[float]:
        steps = np.geomspace(case.speed, end, SPEEDS + 1)[1:]
        rounded = [settable(min(max(step, limits.min), limits.max)) for step in steps]
        return [
            speed
            for speed in dict.fromkeys(rounded)
            if abs(np.log(speed / case.speed)) > LEAST_STEP
            and not broken(machine, case.process.at(pressure, speed), case.confidence)
        ]

    slower, faster = allowed(limits.min), allowed(limits.max)
    pairs = [[slow, fast] for slow in slower for fast in faster]
    pairs = pairs or [[speed] for speed in (*slower, *faster)]
    centre = case.process.at(pressure, case.speed)
    wanted = centre.process.fit.powder.exponent_at(np.array(np.median(centre.effective_dwell)))
    if not pairs:
        return [], "The machine allows no other speed: the rate exponent cannot be measured."

    def taught(speeds: list[float]) -> float:
        points = [centre] * len(AT_CENTRE) + [case.process.at(pressure, speed) for speed in speeds]
        noise = case.process.fit.solid_fraction_scatter**2 / tablets
        measured = np.vstack([point.solid_fraction for point in points])
        return narrowing(float(np.var(wanted, ddof=1)), variance_left(wanted, measured, noise))

    chosen, gain, most = _least_that_teaches(pairs, taught, lambda each: _width(each, case.speed))
    return chosen, Sentence(
        "The speed ladder is run first and at one force: it is expected to narrow the band of the "
        "rate exponent at production dwell by {narrowing:%}, the widest ladder the machine allows "
        "by {most:%}.",
        narrowing=gain,
        most=most,
    )


def _forces(case: TransferCase, centre: float, tablets: int) -> tuple[list[float], Words]:
    """Return a force below and one above the centre that the limits allow, and why.

    The prediction must keep every limit with the asked confidence, or a stop rule would end the
    run.
    """
    area = case.process.charge.tip_area

    def allowed(force: float) -> bool:
        point = case.process.at(force / area, case.speed)
        return force <= ceiling(case) and not broken(case.limits, point, case.confidence)

    ladders_allowed = [
        pair
        for step in FORCE_STEPS
        if (pair := [f for f in _either_side(centre, step) if allowed(f)])
    ]
    if not ladders_allowed:
        return [], "No force a twentieth away from the centre keeps every limit: no force ladder."
    wanted, measure, noise, name = _of_the_tablet(case, centre)
    before = float(np.var(wanted, ddof=1))

    def taught(forces: list[float]) -> float:
        points = [
            case.process.at(f / area, case.speed) for f in (*([centre] * len(AT_CENTRE)), *forces)
        ]
        measured = np.vstack([measure(point) for point in points])
        return narrowing(before, variance_left(wanted, measured, noise / tablets))

    chosen, gain, most = _least_that_teaches(
        ladders_allowed, taught, lambda each: _width(each, centre)
    )
    return chosen, Sentence(
        "The force ladder is expected to narrow the band of {figure} by {narrowing:%}, the widest "
        "that keeps every limit, up to {widest:%} either way, by {most:%}.",
        figure=name,
        narrowing=gain,
        widest=FORCE_STEPS[-1],
        most=most,
    )


Measure = Callable[[OperatingPoint], Array]


def _of_the_tablet(case: TransferCase, centre: float) -> tuple[Array, Measure, float, str]:
    """Return what a force ladder is to teach, by which measure, its variance, and its name."""
    fit, area = case.process.fit, case.process.charge.tip_area
    curve = fit.strength
    if curve is not None and fit.strength_scatter is not None:

        def strength(point: OperatingPoint) -> Array:
            return np.log(curve.in_production(point.solid_fraction))

        slope = "the slope of the strength curve"
        return curve.porosity_exponent, strength, fit.strength_scatter**2, slope

    def dense(point: OperatingPoint) -> Array:
        return point.solid_fraction

    ends = [dense(case.process.at(centre * share / area, case.speed)) for share in (0.8, 1.2)]
    name = "the rise of solid fraction with force"
    return ends[1] - ends[0], dense, fit.solid_fraction_scatter**2, name


def _width(rungs: list[float], centre: float) -> float:
    """Return the width of a ladder with its centre, as a ratio."""
    return max(*rungs, centre) / min(*rungs, centre)


def _least_that_teaches(
    candidates: list[list[float]],
    taught: Callable[[list[float]], float],
    width: Callable[[list[float]], float],
) -> tuple[list[float], float, float]:
    """Return the narrowest candidate that teaches enough, what it teaches, and the most of any."""
    gains = [taught(each) for each in candidates]
    most = max(gains)
    good = [pair for pair in zip(candidates, gains, strict=True) if pair[1] >= ENOUGH * most]
    chosen, gain = min(good, key=lambda pair: width(pair[0]))
    return chosen, gain, most
