"""A rotary press: two rollers push both punches together under the main roller.

Roller contact after Rippie & Danielson, J Pharm Sci 70 (1981) 476; both punches move equally.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.errors import Fault, InputError
from scaleup.model.press import RotaryProfile
from scaleup.model.tooling import ToolingProfile
from scaleup.presses.compliance import series_compliance
from scaleup.presses.data_sheet import roller_geometry
from scaleup.presses.dwell import dwell_time
from scaleup.presses.press import Setting, speed_settings
from scaleup.presses.pulse_shapes import Stroke
from scaleup.presses.travel import punch_travel, punch_velocity

RADIANS_PER_SECOND = 2.0 * np.pi / 60.0
"""One rpm."""


def arc_time(arc: float, speed: float) -> float:
    """Return for how many s a die is within an arc in rad at a turret speed in rpm.

    >>> round(arc_time(np.pi / 2.0, 30.0), 6)
    0.5
    """
    return arc / (speed * RADIANS_PER_SECOND)


REACHED = 0.98
"""Share of the way up a roller at which a punch is taken to meet it at the earliest."""


@dataclass(frozen=True)
class RollerContact:
    """One pair of rollers with the punch heads that pass between them, lengths in mm."""

    pitch_circle: float
    roller_radius: float
    head_edge_radius: float
    head_flat: float

    def closing_angle(self, opening: Array) -> Array:
        """Return the turret angle in rad before dead centre at which the tips are this open."""
        reach = self.roller_radius + self.head_edge_radius
        drop = np.clip(np.asarray(opening) / 2.0, 0.0, REACHED * reach)
        across = np.sqrt(drop * (2.0 * reach - drop)) + self.head_flat / 2.0
        angle: Array = np.arcsin(np.minimum(2.0 * across / self.pitch_circle, 1.0))
        return angle

    def rim_opening(self, head_diameter: float) -> float:
        """Return the opening in mm above which the roller meets the rim of the punch head.

        Contact stays on the head's edge radius while ``u/R <= (r_head - flat/2)/r2``; beyond it
        the path of the tips is not the one computed here.
        """
        reach = self.roller_radius + self.head_edge_radius
        share = (head_diameter - self.head_flat) / (2.0 * self.head_edge_radius)
        if share >= 1.0:
            return 2.0 * reach
        return 2.0 * reach * (1.0 - float(np.sqrt(1.0 - share * share)))

    def stroke(self, speed: float) -> Stroke:
        """Return the path of the tips at a turret speed in rpm."""
        omega = speed * RADIANS_PER_SECOND

        def opening(time: Array) -> Array:
            travel = punch_travel(
                omega * time,
                self.pitch_circle,
                self.roller_radius,
                self.head_edge_radius,
                self.head_flat,
            )
            return 2.0 * np.asarray(travel)

        def closing_time(distance: Array) -> Array:
            return self.closing_angle(distance) / omega

        return Stroke(opening, closing_time, flat_time=self.dwell_time(speed) / 2.0)

    def dwell_time(self, speed: float) -> float:
        """Return the time in s for which the head flat is under the roller."""
        return float(dwell_time(self.head_flat, self.pitch_circle, speed))

    def punch_velocity(self, distance: float, speed: float) -> float:
        """Return the velocity in mm/s of one punch that far in mm before its deepest point."""
        angle = float(self.closing_angle(np.array(2.0 * distance)))
        velocity = punch_velocity(
            angle,
            self.pitch_circle,
            self.roller_radius,
            self.head_edge_radius,
            self.head_flat,
            speed,
        )
        return float(velocity)


@dataclass(frozen=True)
class RotaryPress:
    """A rotary press with its tooling fitted."""

    main: RollerContact
    pre: RollerContact | None
    compliance: float

    def motion(self, force: float, setting: Setting) -> Stroke:  # noqa: ARG002  a press interface
        """Return the path of the tips under the main roller; the same for every force."""
        return self.main.stroke(_speed(setting))

    def precompression(self, setting: Setting) -> Stroke | None:
        """Return the path of the tips under the precompression roller."""
        return None if self.pre is None else self.pre.stroke(_speed(setting))


def _speed(setting: Setting) -> float:
    if setting.speed is None:
        raise ValueError("a rotary press compresses at a speed: give one")
    return setting.speed


def press(profile: RotaryProfile, tooling: ToolingProfile) -> RotaryPress:
    """Return the rotary press of a profile with this tooling.

    Raises
    ------
    InputError
        If the tooling has no head flat or no head edge radius, or the stated values no geometry.

    Examples
    --------
    >>> from scaleup.io.library import find_press, find_tooling
    >>> fitted = press(find_press("rotary-mid-19").profile, find_tooling("b-flat-10").profile)
    >>> round(fitted.main.dwell_time(45.0) * 1e3, 2)
    12.72
    """
    if tooling.head_flat is None or tooling.head_edge_radius is None:
        raise InputError(
            Fault(
                tooling.name,
                "head_flat, head_edge_radius",
                "no punch head",
                'both, from the tooling drawing, such as "9.5 mm" and "15.9 mm"',
                "A rotary press works on the punch head; it is never assumed from a letter.",
            )
        )
    pitch, roller = roller_geometry(profile, tooling.head_edge_radius)
    main = RollerContact(pitch, roller, tooling.head_edge_radius, tooling.head_flat)
    pre = profile.pre_roller
    return RotaryPress(
        main=main,
        pre=None
        if pre is None
        else RollerContact(pitch, pre.radius, tooling.head_edge_radius, tooling.head_flat),
        compliance=series_compliance(profile.stiffness, tooling, punches=2),
    )


def settings(profile: RotaryProfile) -> tuple[Setting, ...]:
    """Return the slowest, a middle and the fastest turret speed.

    Examples
    --------
    >>> from scaleup.io.library import find_press
    >>> [each.speed for each in settings(find_press("rotary-mid-19").profile)]
    [10.0, 27.0, 75.0]
    """
    return speed_settings(profile.speed.min, profile.speed.max)
