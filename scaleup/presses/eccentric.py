"""An eccentric press: a crank drives the upper punch alone; it never stands still.

Slider-crank motion after Armstrong et al. 1983.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.model.press import EccentricProfile
from scaleup.model.tooling import ToolingProfile
from scaleup.presses.compliance import series_compliance
from scaleup.presses.press import Setting, speed_settings
from scaleup.presses.pulse_shapes import Stroke
from scaleup.presses.travel import crank_travel, crank_velocity


@dataclass(frozen=True)
class EccentricPress:
    """An eccentric press with its tooling fitted, lengths in mm."""

    crank_radius: float
    link_length: float
    compliance: float

    def motion(self, force: float, setting: Setting) -> Stroke:  # noqa: ARG002  a press interface
        """Return the path of the upper tip; the same for every force.

        Raises
        ------
        ValueError
            If the setting has no speed.
        """
        if setting.speed is None:
            raise ValueError("an eccentric press compresses at a speed: give one")
        omega = setting.speed * 2.0 * np.pi / 60.0

        def opening(time: Array) -> Array:
            return np.asarray(crank_travel(omega * time, self.crank_radius, self.link_length))

        def closing_time(distance: Array) -> Array:
            return self.closing_angle(distance) / omega

        return Stroke(opening, closing_time, flat_time=0.0)

    def closing_angle(self, opening: Array) -> Array:
        """Return the crank angle in rad before dead centre at which the tip is this far up.

        The cosine rule in the triangle of crank, link and punch, whose third side is
        ``e + L - y``.
        """
        e, link = self.crank_radius, self.link_length
        side = e + link - np.minimum(np.asarray(opening), 2.0 * e)
        cosine = (e * e + side * side - link * link) / (2.0 * e * side)
        angle: Array = np.arccos(np.clip(cosine, -1.0, 1.0))
        return angle

    def punch_velocity(self, distance: float, speed: float) -> float:
        """Return the velocity in mm/s of the upper punch so many mm before its deepest point."""
        angle = float(self.closing_angle(np.array(distance)))
        return float(crank_velocity(angle, self.crank_radius, self.link_length, speed))

    def precompression(self, setting: Setting) -> None:
        """Return nothing: an eccentric press has no precompression."""


def press(profile: EccentricProfile, tooling: ToolingProfile) -> EccentricPress:
    """Return the eccentric press of a profile with this tooling.

    Examples
    --------
    >>> from scaleup.io.library import find_press, find_tooling
    >>> fitted = press(find_press("lab-eccentric").profile, find_tooling("lab-flat-10").profile)
    >>> fitted.crank_radius
    20.0
    """
    return EccentricPress(
        profile.crank_radius,
        profile.link_length,
        series_compliance(profile.stiffness, tooling, punches=2),
    )


def settings(profile: EccentricProfile) -> tuple[Setting, ...]:
    """Return the slowest, a middle and the fastest stroke rate.

    Examples
    --------
    >>> from scaleup.io.library import find_press
    >>> [each.speed for each in settings(find_press("lab-eccentric").profile)]
    [20.0, 40.0, 80.0]
    """
    return speed_settings(profile.speed.min, profile.speed.max)
