"""What the keys of tooling make together: tips in their barrels, cups, heads, ratings."""

from __future__ import annotations

from math import inf, pi, sqrt
from typing import TYPE_CHECKING

from scaleup.model.profile_ranges import MEMORY, OURS, PRACTICE, STANDARDS
from scaleup.model.proportions import Proportion
from scaleup.model.sense import Sense

if TYPE_CHECKING:
    from scaleup.model.tooling import ToolingProfile


def _barrel(tooling: ToolingProfile) -> float | None:
    """Return the barrel's diameter in mm, as stated or that of the standard."""
    standard = STANDARDS.get(tooling.standard)
    return tooling.barrel_diameter or (None if standard is None else standard.barrel)


def _tip_in_barrel(tooling: ToolingProfile) -> float | None:
    barrel = _barrel(tooling)
    return None if barrel is None else tooling.long_axis / barrel


def _barrel_of_standard(tooling: ToolingProfile) -> float | None:
    standard, barrel = STANDARDS.get(tooling.standard), tooling.barrel_diameter
    return None if standard is None or barrel is None else barrel / standard.barrel


def _flat_pressure(tooling: ToolingProfile) -> float | None:
    return None if tooling.cup_volume > 0.0 else _rated_pressure(tooling)


def _cupped_pressure(tooling: ToolingProfile) -> float | None:
    return _rated_pressure(tooling) if tooling.cup_volume > 0.0 else None


def _rated_pressure(tooling: ToolingProfile) -> float | None:
    rating = tooling.tip_force_rating
    return None if rating is None else rating / tooling.tip_area


def _area_share(tooling: ToolingProfile) -> float | None:
    if tooling.stated_area is None:
        return None
    short, long = tooling.short_axis, tooling.long_axis
    return tooling.stated_area / (short * (long - short) + pi * short**2 / 4.0)


def _perimeter_share(tooling: ToolingProfile) -> float | None:
    """Return the stated perimeter over that of a circle with the area of the tip."""
    if tooling.stated_perimeter is None:
        return None
    return tooling.stated_perimeter / (2.0 * sqrt(pi * tooling.tip_area))


def _box_share(tooling: ToolingProfile) -> float | None:
    if tooling.stated_perimeter is None:
        return None
    return tooling.stated_perimeter / (2.0 * (tooling.short_axis + tooling.long_axis))


def _cup_depth(tooling: ToolingProfile) -> float | None:
    return tooling.cup_depth / (tooling.short_axis / 2.0) if tooling.cup_depth else None


def _cup_volume(tooling: ToolingProfile) -> float | None:
    if not tooling.cup_depth:
        return None
    return tooling.cup_volume / (tooling.tip_area * tooling.cup_depth)


def _head_slope(tooling: ToolingProfile) -> float | None:
    head, flat, edge = tooling.head_diameter, tooling.head_flat, tooling.head_edge_radius
    if head is None or flat is None or edge is None:
        return None
    return (head - flat) / 2.0 / edge


def _head_over_barrel(tooling: ToolingProfile) -> float | None:
    barrel, head = _barrel(tooling), tooling.head_diameter
    return None if barrel is None or head is None else head / barrel


def _shortening(tooling: ToolingProfile) -> float | None:
    barrel, length, modulus = tooling.barrel_diameter, tooling.punch_length, tooling.modulus
    rating = tooling.tip_force_rating
    if barrel is None or length is None or modulus is None or rating is None:
        return None
    return rating * length / (modulus * pi * barrel**2 / 4.0)


_RATING = "Check the rated tip force on the drawing, with its unit, and the size of the tip."

PROPORTIONS: tuple[Proportion[ToolingProfile], ...] = (
    Proportion(
        "barrel_diameter",
        "a tip over its barrel",
        Sense("", "1", (0, 1), (0.03, 1), PRACTICE, "a tip is turned from its barrel"),
        _tip_in_barrel,
        "Check the size of the tip, and barrel_diameter or the standard.",
    ),
    Proportion(
        "barrel_diameter",
        "a ratio to the barrel of its standard",
        Sense("", "1", (0, inf), (0.97, 1.03), MEMORY, "barrels of B and BB are 19 mm, of D 25.4"),
        _barrel_of_standard,
        "Check barrel_diameter and standard.",
    ),
    Proportion(
        "tip_force_rating",
        "a rated pressure on a flat tip",
        Sense(
            "MPa", "MPa", (10, 3000), (50, 1500), MEMORY, "hardened steels yield at about 2 GPa"
        ),
        _flat_pressure,
        _RATING,
    ),
    Proportion(
        "tip_force_rating",
        "a rated pressure on a cupped tip",
        Sense(
            "MPa", "MPa", (10, 2000), (50, 1000), MEMORY, "the rim of a cup carries less"
        ),
        _cupped_pressure,
        _RATING,
    ),
    Proportion(
        "tip_area",
        "a ratio to the area of the shape",
        Sense("", "1", (0.5, 1.3), (0.95, 1.05), OURS, "the sizes give the area"),
        _area_share,
        "Leave tip_area out where the sizes give it.",
    ),
    Proportion(
        "perimeter",
        "a ratio to the perimeter of a circle of the same area",
        Sense("", "1", (0.98, inf), (0.98, inf), "exact", "a circle has the least; rounded"),
        _perimeter_share,
        "Leave perimeter out where the sizes give it.",
    ),
    Proportion(
        "perimeter",
        "a ratio to the perimeter of the box around the tip",
        Sense("", "1", (0, 1.02), (0, 1.02), "exact", "no shape without dents has more"),
        _box_share,
        "Leave perimeter out where the sizes give it.",
    ),
    Proportion(
        "cup_depth",
        "a ratio to half the short axis",
        Sense("", "1", (0, 1), (0, 0.7), OURS, "a ball has 1, deep cups half of it"),
        _cup_depth,
        "Give the depth of one cup.",
    ),
    Proportion(
        "cup_volume",
        "a ratio to tip area times cup depth",
        Sense("", "1", (0, 1), (0.33, 0.9), OURS, "a cone has a third, a shallow cap a half"),
        _cup_volume,
        "Give the volume of one cup.",
    ),
    Proportion(
        "head_edge_radius",
        "a width of the rounded edge over its radius",
        Sense("", "1", (0, inf), (0, 1), OURS, "an arc reaches sideways by its radius at most"),
        _head_slope,
        "Check head_diameter, head_flat and head_edge_radius.",
    ),
    Proportion(
        "head_diameter",
        "a ratio to the barrel",
        Sense("", "1", (0, inf), (1, 2.5), MEMORY, "a punch hangs in its guide by its head"),
        _head_over_barrel,
    ),
    Proportion(
        "modulus",
        "a shortening of the punch at the rated tip force",
        Sense("mm", "mm", (0, 2), (0, 0.4), OURS, "punches give way by some hundredths of a mm"),
        _shortening,
        "Check modulus, barrel_diameter, punch_length and the rating, with their units.",
    ),
)  # fmt: skip
"""What is held of tooling; a tip may be a little more or less than its outline."""
