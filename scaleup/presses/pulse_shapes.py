"""The two ways in which a press can prescribe a compression.

Every press kind comes down to one of them: it moves the tips along a path and the powder answers
with a force (`Stroke`), or it drives the force and the tips follow (`ForcePulse`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from scaleup.arrays import Array


@dataclass(frozen=True)
class Stroke:
    """A path of the tips through dead centre, the same on the way in and on the way out.

    Attributes
    ----------
    opening
        Distance in mm by which the tips are further apart than at dead centre, for an array of
        times in s counted from dead centre.
    closing_time
        Time in s before dead centre at which the opening has the given value in mm.
    flat_time
        Half of the time in s for which the tips stand still at dead centre.
    """

    opening: Callable[[Array], Array]
    closing_time: Callable[[Array], Array]
    flat_time: float


@dataclass(frozen=True)
class ForcePulse:
    """A force against time, linear between its points.

    Attributes
    ----------
    time
        Increasing times in s, shape (n,).
    force
        Force in N at those times, shape (n,).
    """

    time: Array
    force: Array

    def share(self) -> Array:
        """Return the force as a share of its peak, shape (n,)."""
        share: Array = self.force / self.force.max()
        return share


Motion = Stroke | ForcePulse
