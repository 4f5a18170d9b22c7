"""How far a press gives way, from a record without powder: die empty, or a steel slug in it.

The tips then stay where they are while the gauge goes on closing: the position falls by the force
over the stiffness, ``position = distance - F/k``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.pulses.block import Shape

USED = (0.2, 1.0)
"""Part of the peak that the line is fitted over: below, play closes and cups bed in."""
LEAST_SAMPLES = 8
STEEL = 210e3
"""Young's modulus of steel in MPa, a handbook value (from memory)."""


@dataclass(frozen=True)
class Stiffness:
    """What a record without powder says about the press."""

    compliance: float
    """mm/N, by which the tips give way; the slug's own shortening taken off."""
    compliance_error: float
    """Two standard errors, from the differences between compressions or, of one, of its line."""
    offset: float
    """mm, what the gauge reads, at no force, with the tips at the slug's thickness."""
    bend: float
    """Largest departure of a sample from the line, as a share of the whole deflection."""
    compressions: int


def stiffness_of(shapes: list[Shape], slug: float = 0.0, slug_area: float = 0.0) -> Stiffness:
    """Return the stiffness that compressions without powder show.

    Parameters
    ----------
    shapes
        Compressions with a position.
    slug
        Thickness in mm of the steel slug, 0 if the tips met each other.
    slug_area
        Cross-section in mm² of the slug; its shortening ``F L/(E A)`` is taken off.

    Raises
    ------
    ValueError
        If no compression has a position that closes as the force rises.
    """
    lines = [fitted for each in shapes if (fitted := _line(each)) is not None]
    if not lines:
        raise ValueError("no compression with a position that closes as the force rises")
    slopes = np.array([line[0] for line in lines])
    own = slug / (STEEL * slug_area) if slug > 0.0 and slug_area > 0.0 else 0.0
    error = (
        2.0 * float(slopes.std(ddof=1)) / np.sqrt(slopes.size)
        if slopes.size > 2
        else 2.0 * float(max(line[2] for line in lines))
    )
    return Stiffness(
        float(slopes.mean()) - own,
        float(error),
        float(np.mean([line[1] for line in lines])) - slug,
        float(max(line[3] for line in lines)),
        len(lines),
    )


def _line(shape: Shape) -> tuple[float, float, float, float] | None:
    """Return slope, position at no force, standard error of the slope, and bend of one loading."""
    if shape.position is None:
        return None
    top = int(shape.force.argmax())
    peak = float(shape.force[top])
    low, high = USED
    used = np.flatnonzero(shape.force[: top + 1] >= low * peak)
    used = used[(shape.force[used] <= high * peak) & np.isfinite(shape.position[used])]
    if used.size < LEAST_SAMPLES:
        return None
    force, position = shape.force[used], shape.position[used]
    terms = np.column_stack([np.ones(used.size), -force])
    (offset, slope), *_ = np.linalg.lstsq(terms, position, rcond=None)
    rest: Array = position - terms @ np.array([offset, slope])
    spread = float(np.sqrt(np.sum(rest**2) / (used.size - 2)))
    error = spread / float(np.sqrt(np.sum((force - force.mean()) ** 2)))
    if slope <= 3.0 * error:
        return None
    return float(slope), float(offset), error, float(np.abs(rest).max() / (slope * peak))
