"""The rules that tie two presses, one function each.

A match looks at the lab result and the press and returns what to dial: a turret speed and a main
pressure, with the pressures or speeds that each draw would need.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scaleup.arrays import Array
from scaleup.model.estimate import Estimate, drawn, exactly
from scaleup.sentence import Fact, Sentence, Words, share_of_draws
from scaleup.transfer.feasible import needed_pressure
from scaleup.transfer.process_model import ProcessModel
from scaleup.transfer.settings import NO_STRENGTH
from scaleup.wording import percent

if TYPE_CHECKING:
    from scaleup.transfer.case import TransferCase


@dataclass(frozen=True)
class Dialled:
    """What to set under one match, or why nothing can be set."""

    speed: Estimate
    pressure: Estimate
    reason: Words = ""
    """Why the match itself cannot be met; empty if it can."""


@dataclass(frozen=True)
class NoSetting:
    """Why a match names no setting at all."""

    reason: Words


Match = Callable[["TransferCase"], Dialled | NoSetting]


def same_pressure(case: TransferCase) -> Dialled:
    """Return the lab's own pressure at the asked speed."""
    return Dialled(exactly(case.speed, "rpm"), exactly(case.reference.pressure, "MPa"))


def same_solid_fraction(case: TransferCase) -> Dialled:
    """Return the pressure that compensates for the shorter dwell: ``P_2/P_1 = (t_1/t_2)^m``."""
    return Dialled(exactly(case.speed, "rpm"), drawn(compensating_pressure(case), "MPa"))


def compensating_pressure(case: TransferCase) -> Array:
    """Return for each draw the pressure in MPa that gives the lab's solid fraction back."""
    pulse = case.lab_pulse.pulse
    return pressure_for_state(case.process, pulse.static_pressure, pulse.peak_pressure, case.speed)


def pressure_for_state(
    process: ProcessModel, state: Array, guess: Array | float, speed: float
) -> Array:
    """Return for each draw the pressure in MPa to dial for a state in MPa at a speed in rpm."""
    powder, read = process.fit.powder, np.exp(-process.plant.log_pressure)
    needed = np.broadcast_to(guess, state.shape)
    for _ in range(4):
        dwell = process.effective_dwell(needed, speed)
        needed = powder.peak_pressure(state, dwell) * read
    return needed


def target_strength(case: TransferCase) -> Dialled | NoSetting:
    """Return the least pressure that meets the strength target with the asked confidence.

    Every draw has its own least pressure; their quantile at the confidence is the pressure at
    which that share of the draws meets the target.
    """
    target = case.target
    if target is None:
        return NoSetting("the study states no strength or breaking force as target")
    if case.process.fit.strength is None:
        return NoSetting(NO_STRENGTH)
    needed = needed_pressure(case.process, case.speed, target)
    value = float(np.quantile(needed, case.confidence, method="higher"))
    if not np.isfinite(value):
        share = float(np.mean(np.isfinite(needed)))
        return NoSetting(
            Sentence(
                "{only}{meeting} meet the target at any pressure up to {ceiling:.0f} MPa; "
                "{confidence:%} is asked",
                only="only " if share else "",
                meeting=share_of_draws(share, needed.size),
                ceiling=Fact(case.process.map.ceiling, "MPa"),
                confidence=case.confidence,
            )
        )
    if value <= case.process.map.floor * 1.001:
        return NoSetting(
            Sentence(
                "the target is met already at {pressure:.0f} MPa, the lowest pressure looked at",
                pressure=Fact(value, "MPa"),
            )
        )
    return Dialled(exactly(case.speed, "rpm"), drawn(needed, "MPa", value))


def same_dwell(case: TransferCase) -> Dialled:
    """Return the turret speed whose effective dwell at the lab's pressure equals the lab's.

    Effective dwell falls almost as one over the speed; where the speed is not one the press can
    run at, the nearest it can run at is dialled and the reason says what was needed.
    """
    limits = case.production.press.profile.speed
    pressure = case.lab_pulse.pulse.peak_pressure
    needed = np.full(pressure.size, limits.min)
    for _ in range(6):
        nearest = float(np.clip(np.median(needed), limits.min, limits.max))
        dwell = case.process.effective_dwell(pressure, nearest)
        needed = nearest * dwell / case.lab_pulse.pulse.effective_dwell
    wanted = drawn(needed, "rpm")
    middle = float(np.median(needed))
    pressure_set = exactly(case.reference.pressure, "MPa")
    if limits.min <= middle <= limits.max:
        return Dialled(wanted, pressure_set)
    nearest = limits.min if middle < limits.min else limits.max
    end = "slowest" if middle < limits.min else "fastest"
    reason = Sentence(
        "matching the lab's effective dwell would need {needed:.2g} ({low:.2g} to {high:.2g}) rpm; "
        "the {end} of the press is {nearest:g} rpm, which is what is shown",
        needed=_rpm(wanted.value),
        low=_rpm(wanted.low),
        high=_rpm(wanted.high),
        end=end,
        nearest=Fact(nearest, "rpm"),
    )
    return Dialled(exactly(nearest, "rpm"), pressure_set, reason)


def _rpm(speed: float | None) -> Fact:
    return Fact(float("nan") if speed is None else speed, "rpm")


MATCHES: dict[str, Match] = {
    "pressure": same_pressure,
    "solid-fraction": same_solid_fraction,
    "strength": target_strength,
    "dwell": same_dwell,
}
"""Every match in the order of the comparison; a new match is one function and one line here."""


def force_is(match: str, confidence: float) -> str:
    """Return in words what the force of a match is, by the share of draws it is enough for.

    >>> force_is("strength", 0.9)
    'the force that meets the target with 90 % confidence'
    """
    if match == "strength":
        return f"the force that meets the target with {percent(confidence)} confidence"
    if match == "solid-fraction":
        return "the force that compensates for the shorter dwell, in the middle of the draws"
    return "the lab's pressure on the production tips"
