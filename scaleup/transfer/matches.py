"""The rules that tie two presses, one function each.

A match looks at the lab result and the line and returns what to dial: a turret speed and a main
pressure, with the pressures or speeds that the single draws would need.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.evidence.observations import Side
from scaleup.files.study import Study
from scaleup.powder.compression import Pulse, compress
from scaleup.transfer.line import Line, OperatingPoint
from scaleup.transfer.quantity import Quantity, drawn, exactly
from scaleup.transfer.reference import Reference


@dataclass(frozen=True)
class LabPulse:
    """The pulse of the reference runs on the lab press, every figure of shape (draws,)."""

    pulse: Pulse
    solid_fraction: Array


@dataclass(frozen=True)
class Question:
    """What a match is asked: the lab result, the line, and the speed and confidence wanted."""

    study: Study
    reference: Reference
    lab: LabPulse
    line: Line
    speed: float
    confidence: float


@dataclass(frozen=True)
class Dialled:
    """What to set under one match, or why nothing can be set."""

    speed: Quantity
    pressure: Quantity
    reason: str = ""
    """Why the match itself cannot be met; empty if it can."""


@dataclass(frozen=True)
class NoSetting:
    """Why a match names no setting at all."""

    reason: str


Match = Callable[[Question], Dialled | NoSetting]


def lab_pulse(line: Line, lab: Side, reference: Reference, true_density: float) -> LabPulse:
    """Return the pulse of the reference runs on the lab press for every draw."""
    powder = line.fit.powder
    weight = reference.weight or line.charge.weight
    first = reference.runs[0]
    pulse = compress(
        lab.press,
        powder,
        lab.tip.charge(weight, true_density),
        np.full(powder.draws, reference.pressure),
        first.setting,
        first.pre_share,
    )
    return LabPulse(pulse, powder.solid_fraction(pulse.static_pressure))


def same_pressure(asked: Question) -> Dialled:
    """Return the lab's own pressure at the asked speed."""
    return Dialled(exactly(asked.speed, "rpm"), exactly(asked.reference.pressure, "MPa"))


def same_solid_fraction(asked: Question) -> Dialled:
    """Return the pressure that pays for the lost dwell: ``P_2/P_1 = (t_1/t_2)^m``."""
    state = asked.lab.pulse.static_pressure
    powder = asked.line.fit.powder
    needed = asked.lab.pulse.peak_pressure
    for _ in range(4):
        dwell = asked.line.map.at(needed, asked.speed).effective_dwell
        needed = powder.peak_pressure(state, dwell)
    return Dialled(exactly(asked.speed, "rpm"), drawn(needed, "MPa"))


def target_strength(asked: Question) -> Dialled | NoSetting:
    """Return the least pressure that meets the strength target with the asked confidence.

    Every draw has its own least pressure; their quantile at the confidence is the pressure at
    which that share of the draws meets the target.
    """
    target = asked.study.target
    if target.strength is None and target.breaking_force is None:
        return NoSetting("the study states no strength or breaking force as target")
    if asked.line.fit.strength is None:
        return NoSetting("the lab runs have too few breaking forces for a strength curve")
    needed = needed_pressure(asked.line, asked.speed, target.strength, target.breaking_force)
    value = float(np.quantile(needed, asked.confidence, method="higher"))
    if not np.isfinite(value):
        share = float(np.mean(np.isfinite(needed)))
        ceiling = float(np.exp(asked.line.map.rows[0].log_pressure[-1].max()))
        return NoSetting(
            f"only {share:.0%} of the draws meet the target at any pressure up to "
            f"{ceiling:.0f} MPa; {asked.confidence:.0%} is asked"
        )
    return Dialled(exactly(asked.speed, "rpm"), drawn(needed, "MPa", value))


def needed_pressure(
    line: Line, speed: float, strength: float | None, breaking_force: float | None
) -> Array:
    """Return for each draw the least pressure in MPa that meets a target, infinite if none does.

    Sought by halving within the pressures of the line's map; strength grows with pressure.
    """

    def short(pressure: Array) -> Array:
        point = line.at(pressure, speed)
        value = point.strength if breaking_force is None else point.breaking_force
        wanted = strength if breaking_force is None else breaking_force
        if value is None or wanted is None:
            raise ValueError("a needed pressure takes a strength curve and a target")
        result: Array = value < wanted
        return result

    rows = line.map.rows[0].log_pressure
    low, high = np.full(rows.shape[1], rows[0].min()), np.full(rows.shape[1], rows[-1].max())
    never = short(np.exp(high))
    for _ in range(26):
        middle = 0.5 * (low + high)
        weak = short(np.exp(middle))
        low, high = np.where(weak, middle, low), np.where(weak, high, middle)
    needed: Array = np.where(never, np.inf, np.exp(high))
    return needed


def same_dwell(asked: Question) -> Dialled:
    """Return the turret speed whose effective dwell at the lab's pressure equals the lab's.

    Effective dwell falls almost as one over the speed; where the speed is not one the press can
    run at, the nearest it can run at is dialled and the reason says what was needed.
    """
    limits = asked.line.production.press.model.speed
    pressure = asked.lab.pulse.peak_pressure
    needed = np.full(pressure.size, limits.min)
    for _ in range(6):
        nearest = float(np.clip(np.median(needed), limits.min, limits.max))
        dwell = asked.line.map.at(pressure, nearest).effective_dwell
        needed = nearest * dwell / asked.lab.pulse.effective_dwell
    wanted = drawn(needed, "rpm")
    middle = float(np.median(needed))
    pressure_set = exactly(asked.reference.pressure, "MPa")
    if limits.min <= middle <= limits.max:
        return Dialled(wanted, pressure_set)
    nearest = limits.min if middle < limits.min else limits.max
    end = "slowest" if middle < limits.min else "fastest"
    reason = (
        f"the lab's effective dwell takes {_short(wanted)} rpm; the {end} of the press is "
        f"{nearest:g} rpm, which is what is shown"
    )
    return Dialled(exactly(nearest, "rpm"), pressure_set, reason)


def _short(quantity: Quantity) -> str:
    return f"{quantity.value:.2g} ({quantity.low:.2g} to {quantity.high:.2g})"


MATCHES: dict[str, Match] = {
    "pressure": same_pressure,
    "solid-fraction": same_solid_fraction,
    "strength": target_strength,
    "dwell": same_dwell,
}
"""Every match in the order of the comparison; a new match is one function and one line here."""


def fastest_speed(
    asked: Question, holds: Callable[[OperatingPoint], bool], steps: int = 60
) -> tuple[float, float] | None:
    """Return the fastest speed in rpm, and its pressure in MPa, that holds the target.

    At every speed the least pressure that meets the strength target with the asked confidence is
    dialled (the lab's pressure if there is no target), and `holds` judges what it makes.
    """
    limits = asked.line.production.press.model.speed
    speeds = np.linspace(limits.max, limits.min, steps)
    for speed in speeds:
        pressure = _pressure_at(asked, float(speed))
        if pressure is not None and holds(asked.line.at(pressure, float(speed))):
            return float(speed), pressure
    return None


def _pressure_at(asked: Question, speed: float) -> float | None:
    target = asked.study.target
    if target.strength is None and target.breaking_force is None:
        return asked.reference.pressure
    if asked.line.fit.strength is None:
        return None
    needed = needed_pressure(asked.line, speed, target.strength, target.breaking_force)
    value = float(np.quantile(needed, asked.confidence, method="higher"))
    return value if np.isfinite(value) else None
