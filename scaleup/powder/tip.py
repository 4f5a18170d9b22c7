"""The shape of a tablet as its tooling gives it: areas, volumes, and how it breaks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.model.tooling import ToolingProfile
from scaleup.powder.charge import Charge
from scaleup.powder.strength import (
    breaking_force_elongated,
    breaking_force_round_convex,
    breaking_force_round_flat,
    convex_equation_holds,
    strength_elongated,
    strength_round_convex,
    strength_round_flat,
)

Breaking = Callable[[Array, float, Array, Array], Array]
"""Strength in MPa of a force in N, or back, with width, thickness and wall height in mm."""


def _flat(strength: Callable[..., Array]) -> Breaking:
    return lambda force, width, thickness, wall: strength(force, width, thickness)  # noqa: ARG005


BREAKING: dict[str, tuple[Breaking, Breaking]] = {
    "round flat": (_flat(strength_round_flat), _flat(breaking_force_round_flat)),
    "round convex": (strength_round_convex, breaking_force_round_convex),
    "elongated": (strength_elongated, breaking_force_elongated),
}


@dataclass(frozen=True)
class Tip:
    """One tip, lengths in mm."""

    shape: str
    width: float
    """Diameter, or the short axis."""
    length: float
    """Diameter, or the long axis."""
    area: float
    perimeter: float
    cup_depth: float
    cup_volume: float

    def charge(self, weight: float, true_density: float) -> Charge:
        """Return a mass of powder in mg between two of these tips."""
        return Charge(weight, true_density, self.area, self.cup_volume)

    def wall(self, thickness: Array) -> Array:
        """Return the wall height in mm of a tablet of this overall thickness."""
        return thickness - 2.0 * self.cup_depth

    def thickness(self, wall: Array) -> Array:
        """Return the overall thickness in mm of a tablet of this wall height."""
        return wall + 2.0 * self.cup_depth

    def volume(self, thickness: Array, width: float) -> Array:
        """Return the volume in mm³ of a tablet whose width was measured."""
        swell = (width / self.width) ** 2
        return (self.area * self.wall(thickness) + 2.0 * self.cup_volume) * swell

    def strength(self, force: Array, thickness: Array, width: float | None = None) -> Array:
        """Return the tensile strength in MPa at a breaking force in N."""
        strength, _ = BREAKING[self.shape]
        return strength(force, width or self.width, thickness, self.wall(thickness))

    def breaking_force(self, strength: Array, thickness: Array) -> Array:
        """Return the breaking force in N at a tensile strength in MPa.

        Not-a-number where the wall is too low for the equation of the shape.
        """
        _, breaking = BREAKING[self.shape]
        wall = self.wall(thickness)
        if self.shape == "round flat":
            return breaking(strength, self.width, thickness, wall)
        holds = convex_equation_holds(self.width, thickness, wall)
        stands_in = self.thickness(np.full_like(wall, self.width))
        thickness = np.where(holds, thickness, stands_in)
        force = breaking(strength, self.width, thickness, self.wall(thickness))
        return np.where(holds, force, np.nan)


def tip_from(tooling: ToolingProfile) -> Tip:
    """Return the tip of a tooling profile.

    Raises
    ------
    ValueError
        If the profile has neither a diameter nor both a width and a length.

    Examples
    --------
    >>> from scaleup.io.library import find_tooling
    >>> round(tip_from(find_tooling("b-flat-10").profile).area, 2)
    78.54
    """
    round_tip = tooling.diameter is not None
    width = tooling.diameter if round_tip else tooling.width
    length = tooling.diameter if round_tip else tooling.length
    if width is None or length is None:
        raise ValueError("a tooling profile has a diameter, or a width and a length")
    return Tip(
        tooling.shape,
        width,
        length,
        tooling.tip_area,
        tooling.perimeter,
        tooling.cup_depth,
        tooling.cup_volume,
    )
