"""What is in the die: a mass of powder between two tips of a given shape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array


@dataclass(frozen=True)
class Charge:
    """A mass of powder in a die.

    Attributes
    ----------
    weight
        mg.
    true_density
        mg/mm³.
    tip_area
        Projected area of a tip in mm².
    cup_volume
        Volume of one cup in mm³, 0 for a flat tip.
    """

    weight: float
    true_density: float
    tip_area: float
    cup_volume: float = 0.0

    @property
    def solid_height(self) -> float:
        """Return the height in mm that the pore-free powder would take in a flat die."""
        return self.weight / (self.true_density * self.tip_area)

    @property
    def cup_height(self) -> float:
        """Return the height in mm of a flat layer with the volume of both cups."""
        return 2.0 * self.cup_volume / self.tip_area

    @property
    def pore_free_separation(self) -> float:
        """Return the distance in mm between the tip edges at which no pore would be left."""
        return self.solid_height - self.cup_height

    def densification(self, separation: Array) -> Array:
        """Return ``D = ln(1/(1 - SF))`` with the tip edges this many mm apart."""
        return self.densification_with(separation - self.pore_free_separation)

    def densification_with(self, room: Array) -> Array:
        """Return D with room for pores: the mm by which the tips are apart beyond pore-free."""
        result: Array = np.log1p(self.solid_height / room)
        return result

    def separation(self, densification: Array) -> Array:
        """Return the distance in mm between the tip edges at which the powder has this D."""
        result: Array = self.solid_height / -np.expm1(-densification) - self.cup_height
        return result

    def spread(self, densification: Array) -> Array:
        """Return by how many mm the tips are further apart for each unit of D less."""
        room = -np.expm1(-densification)
        result: Array = self.solid_height * (1.0 - room) / (room * room)
        return result

    def wall(self, solid_fraction: Array) -> Array:
        """Return the wall height in mm of the ejected tablet, its width being the die's."""
        result: Array = self.solid_height / solid_fraction - self.cup_height
        return result
