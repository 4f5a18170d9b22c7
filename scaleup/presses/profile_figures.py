"""What a press gives at a setting, before any powder is in it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from scaleup.model.press import EccentricProfile, PressProfile, RotaryProfile
from scaleup.model.tooling import ToolingProfile
from scaleup.presses.eccentric import EccentricPress
from scaleup.presses.press import Press, Setting, press_from
from scaleup.presses.pulse_shapes import ForcePulse, Stroke
from scaleup.presses.rotary import RotaryPress, arc_time

VELOCITY_TRAVEL = 2.0
"""mm before its deepest point at which a punch's velocity is stated."""
WIDTHS = (0.5, 1.0, 2.0, 4.0)
"""mm by which the tips are at most further apart than at dead centre, in the times told."""


@dataclass(frozen=True)
class Figure:
    """One derived figure in a core unit, with what it was derived for."""

    label: str
    value: float
    unit: str
    note: str = ""


@dataclass(frozen=True)
class Asked:
    """What figures are asked for."""

    speed: float
    """rpm or strokes/min, where the press has a speed."""
    force: float
    """N, where the press is driven by force."""


def press_figures(
    profile: PressProfile, tooling: ToolingProfile, asked: Asked
) -> tuple[Figure, ...]:
    """Return dwell, times near dead centre, punch velocity and output of a press with tooling.

    Examples
    --------
    >>> from scaleup.io.library import find_press, find_tooling
    >>> press, tooling = find_press("rotary-mid-19").profile, find_tooling("b-flat-10").profile
    >>> found = press_figures(press, tooling, Asked(45.0, 1e4))
    >>> [each.value for each in found if each.label == "output"]
    [51300.0]
    """
    press = press_from(profile, tooling)
    motion = press.motion(asked.force, Setting(speed=asked.speed))
    own = OWN_FIGURES.get(type(profile))
    first = [] if own is None else own(profile, press, asked)
    shared = _of_stroke(motion) if isinstance(motion, Stroke) else _of_force(motion, asked.force)
    return (*first, *shared)


def _of_stroke(motion: Stroke) -> list[Figure]:
    times = motion.closing_time(np.array(WIDTHS))
    return [
        Figure(
            f"time within {width:g} mm of dead centre", 2.0 * float(time), "s",
            f"tips at most {width:g} mm further apart",
        )
        for width, time in zip(WIDTHS, times, strict=True)
    ]  # fmt: skip


def _of_force(motion: ForcePulse, force: float) -> list[Figure]:
    peak = motion.time[motion.force >= motion.force.max()]
    at = f"to {force / 1e3:g} kN"
    return [
        Figure("time to peak", float(peak[0] - motion.time[0]), "s", at),
        Figure("time at peak", float(peak[-1] - peak[0]), "s"),
        Figure("release time", float(motion.time[-1] - peak[-1]), "s"),
        Figure(
            "contact time",
            float(motion.time[-1] - motion.time[0]),
            "s",
            f"from first to last force, {at}",
        ),
    ]


def _of_rotary(profile: PressProfile, press: Press, asked: Asked) -> list[Figure]:
    if not isinstance(profile, RotaryProfile) or not isinstance(press, RotaryPress):
        raise TypeError("a rotary profile makes a rotary press")
    speed = asked.speed
    note = f"one punch, {VELOCITY_TRAVEL:g} mm before its deepest point"
    figures = [
        Figure("dwell time", press.main.dwell_time(speed), "s", "head flat under the main roller"),
        Figure("punch velocity", press.main.punch_velocity(VELOCITY_TRAVEL, speed), "mm/s", note),
        Figure("output", profile.output(speed), "1/h"),
    ]
    if profile.feeder_arc is not None:
        feed = arc_time(profile.feeder_arc, speed)
        figures.append(Figure("time under the feeder", feed, "s"))
    if profile.roller_spacing is not None:
        between = arc_time(profile.roller_spacing, speed)
        figures.append(Figure("time between the rollers", between, "s"))
    # Both tips move alike, so they are open by twice what the upper one has yet to go.
    opening = None if profile.penetration is None else 2.0 * profile.penetration
    return figures + _in_the_die(press.main.stroke(speed), profile.penetration, opening)


def _of_eccentric(profile: PressProfile, press: Press, asked: Asked) -> list[Figure]:
    if not isinstance(profile, EccentricProfile) or not isinstance(press, EccentricPress):
        raise TypeError("an eccentric profile makes an eccentric press")
    motion = press.motion(asked.force, Setting(speed=asked.speed))
    velocity = press.punch_velocity(VELOCITY_TRAVEL, asked.speed)
    note = f"upper punch, {VELOCITY_TRAVEL:g} mm before its deepest point"
    return [
        Figure("punch velocity", velocity, "mm/s", note),
        Figure("output", asked.speed * 60.0, "1/h"),
        *_in_the_die(motion, profile.penetration, profile.penetration),
    ]


def _in_the_die(motion: Stroke, penetration: float | None, opening: float | None) -> list[Figure]:
    """Return how long the upper tip closes the die, where the profile says how deep it goes."""
    if penetration is None or opening is None:
        return []
    time = 2.0 * float(motion.closing_time(np.array(opening)))
    return [Figure("upper tip in the die", time, "s", f"{penetration:g} mm deep at dead centre")]


OWN_FIGURES: dict[type[PressProfile], Callable[[PressProfile, Press, Asked], list[Figure]]] = {
    RotaryProfile: _of_rotary,
    EccentricProfile: _of_eccentric,
}
"""Figures that only one kind of press has; the others follow from its motion."""
