"""What the keys of a press make together: deflection, room on the turret, times, shares."""

from __future__ import annotations

from math import inf, pi, sin, tan
from typing import TYPE_CHECKING

from scaleup.model.profile_ranges import MEMORY, OURS, PRACTICE, RANGES, STANDARDS
from scaleup.model.proportions import Proportion
from scaleup.model.sense import Sense

if TYPE_CHECKING:
    from scaleup.model.press import (
        EccentricProfile,
        HydraulicProfile,
        PressProfile,
        RotaryProfile,
        Stated,
    )

MOST_GIVE = 4.0
"""mm by which a press may give way at its force limit: by as much as tips close on a usual tablet
(a judgement of this program)."""
USUAL_GIVE = 1.0
"""mm up to which the give is small against that (a judgement of this program)."""


def _give(press: PressProfile) -> float | None:
    return None if press.stiffness is None else press.greatest_force / press.stiffness


def _ejection_share(press: PressProfile) -> float | None:
    limit = press.ejection_limit
    return None if limit is None else limit / press.greatest_force


def _gap_of_fill(press: PressProfile) -> float | None:
    """Return the widest gap in mm between the depths of the fill cams, none where they join."""
    ranges = sorted((each.min, each.max) for each in press.fill)
    reached, widest = ranges[0][0] if ranges else 0.0, 0.0
    for low, high in ranges:
        widest, reached = max(widest, low - reached), max(reached, high)
    return widest or None


EVERY_PRESS: tuple[Proportion[PressProfile], ...] = (
    Proportion(
        "stiffness",
        "a deflection at the force limit",
        Sense(
            "mm", "mm", (0, MOST_GIVE), (0, USUAL_GIVE), OURS,
            "tips close by some 4 mm on the powder, of which the give of the press is a small part",
        ),
        _give,
        "Check the force limit and the stiffness, with their units.",
    ),
    Proportion(
        "ejection_limit",
        "a ratio to the force limit",
        Sense("", "1", (0, inf), (0, 1), OURS, "tablets are pushed out with less than they take"),
        _ejection_share,
        "Check both limits, with their units.",
    ),
    Proportion(
        "fill",
        "a gap between the fill cams",
        Sense("mm", "mm", (0, inf), (0, 0), OURS, "cams overlap, unless one is not at hand"),
        _gap_of_fill,
        "A tablet whose fill depth lies in the gap cannot be made.",
    ),
)  # fmt: skip


def _strokes(press: HydraulicProfile) -> float | None:
    return None if press.pump is None else press.force_limit / press.pump.force_per_stroke


def _loading_time(press: HydraulicProfile) -> float:
    """Return the time in s to the force limit."""
    if press.pump is not None:
        strokes = press.force_limit / press.pump.force_per_stroke
        return strokes * (press.pump.stroke_time + press.pump.pause)
    return press.force_limit / (press.loading_rate or inf)


HYDRAULIC: tuple[Proportion[HydraulicProfile], ...] = (
    Proportion(
        "pump.force_per_stroke",
        "a number of strokes to the force limit",
        Sense("", "1", (1, 500), (2, 100), OURS, "a hand pumps a few to some ten times"),
        _strokes,
        "Check the force limit and the force of a stroke, with their units.",
    ),
    Proportion(
        "loading_rate",
        "a time to the force limit",
        Sense("s", "s", (0.001, 86400), (0.1, 600), OURS, "a press loads in seconds to minutes"),
        _loading_time,
        "Check the loading, with its units.",
    ),
    Proportion(
        "release_time",
        "a ratio to the time of loading",
        Sense("", "1", (0, inf), (0, 1), OURS, "letting go is no slower than loading"),
        lambda press: press.release_time / _loading_time(press),
    ),
)

ECCENTRIC: tuple[Proportion[EccentricProfile], ...] = (
    Proportion(
        "link_length",
        "a ratio to the crank radius",
        Sense("", "1", (1, inf), (3, inf), MEMORY, "a connecting rod is several cranks long"),
        lambda press: press.link_length / press.crank_radius,
    ),
    Proportion(
        "penetration",
        "a ratio to the stroke, twice the crank radius",
        Sense("", "1", (0, 1), (0, 0.5), OURS, "the tip leaves the die, for the feed shoe to pass"),
        lambda press: (
            None if press.penetration is None else press.penetration / (2.0 * press.crank_radius)
        ),
    ),
)


def stated_circle(stated: Stated) -> float:
    """Return the pitch circle in mm of a stated dwell time: ``head_flat / sin(omega t_d / 2)``."""
    return stated.head_flat / sin(stated.speed * pi / 60.0 * stated.dwell_time)


def _unmeasured_circle(press: RotaryProfile) -> float | None:
    if press.pitch_circle is not None or press.stated is None:
        return None
    return stated_circle(press.stated)


def circle_of(press: RotaryProfile) -> float | None:
    """Return the pitch circle in mm, measured or from a stated dwell time."""
    return press.pitch_circle or _unmeasured_circle(press)


def station_distance(circle: float, stations: int) -> float:
    """Return how far in mm the axes of neighbouring punches are apart on a circle in mm.

    >>> round(station_distance(380.0, 90), 2)
    13.26
    """
    return circle * sin(pi / stations) if stations > 1 else circle


LEAST_WALL = 0.5
"""mm of metal between neighbouring dies (common practice)."""


def least_circle(standard: str, stations: int) -> float:
    """Return the least pitch circle in mm on which so many dies of a standard find room.

    >>> round(station_distance(least_circle("B", 19), 19), 2)
    30.66
    """
    die = STANDARDS[standard].die if standard in STANDARDS else 0.0
    return (die + LEAST_WALL) / station_distance(1.0, stations)


def _wall_of_dies(press: RotaryProfile) -> float | None:
    """Return the metal in mm between the dies of the largest standard that the press takes."""
    circle = circle_of(press)
    dies = [STANDARDS[each].die for each in press.accepts if each in STANDARDS]
    if circle is None or not dies:
        return None
    return station_distance(circle, press.stations) - max(dies)


def _roller_share(press: RotaryProfile) -> float | None:
    circle, radius = circle_of(press), press.main_roller.radius
    return None if circle is None or radius is None else radius / circle


def _room_of_rollers(press: RotaryProfile) -> float | None:
    """Return by how many mm the smaller roller stays short of where the two rollers would meet.

    The rollers are discs that touch the pitch circle; their planes cross at
    ``pitch radius * tan(angle / 2)`` from each centre, and both discs reach that line only where
    both radii exceed it. A press with two compressions in a turn has the rollers of the other
    side as neighbours as well.
    """
    circle, main, pre = circle_of(press), press.main_roller.radius, press.pre_roller
    if circle is None or main is None or pre is None or press.roller_spacing is None:
        return None
    side = 2.0 * pi / press.tablets_per_station_per_turn
    angle = min(press.roller_spacing, abs(side - press.roller_spacing))
    return circle / 2.0 * tan(angle / 2.0) - min(main, pre.radius)


def _arcs(press: RotaryProfile) -> float | None:
    if press.feeder_arc is None or press.roller_spacing is None:
        return None
    return (press.feeder_arc + press.roller_spacing) * press.tablets_per_station_per_turn


def _line_speed(press: RotaryProfile) -> float | None:
    circle = circle_of(press)
    return None if circle is None else circle * pi * press.speed.max / 60.0


def _pre_share(press: RotaryProfile) -> float | None:
    pre = press.pre_roller
    return None if pre is None else pre.force_limit / press.force_limit


ROTARY: tuple[Proportion[RotaryProfile], ...] = (
    Proportion(
        "stated.dwell_time",
        "a pitch circle by the stated head flat, dwell time and speed",
        RANGES["pitch_circle"],
        _unmeasured_circle,
        "Check the three, with their units.",
    ),
    Proportion(
        "stations",
        "a wall between the dies of the largest tooling that fits",
        Sense(
            "mm", "mm", (LEAST_WALL, inf), (3, inf), PRACTICE,
            "dies of B, BB and D are 30.16, 24.0 and 38.1 mm across (from memory)",
        ),
        _wall_of_dies,
        "Check stations, pitch_circle, which is a diameter, and accepts.",
    ),
    Proportion(
        "main_roller.radius",
        "a ratio to pitch_circle",
        Sense("", "1", (0, 1), (0, 0.6), OURS, "a radius given for a diameter doubles it"),
        _roller_share,
        "pitch_circle is a diameter, a roller's radius a radius.",
    ),
    Proportion(
        "roller_spacing",
        "room between the rollers",
        Sense(
            "mm", "mm", (0, inf), (10, inf), OURS,
            "planes of rollers cross at pitch radius times tan(angle/2), which only one may reach",
        ),
        _room_of_rollers,
        "Check the radii, the spacing and pitch_circle, which is a diameter.",
    ),
    Proportion(
        "feeder_arc",
        "an arc of feeder and rollers together, for each turn,",
        Sense("deg", "rad", (0, 360), (0, 340), OURS, "they stand side by side around the turret"),
        _arcs,
        "Check both angles.",
    ),
    Proportion(
        "speed.max",
        "a speed of the dies",
        Sense("m/s", "mm/s", (0, 12), (0, 4), MEMORY, "dies run at up to 2 or 3 m/s"),
        _line_speed,
        "Check the fastest speed and pitch_circle.",
    ),
    Proportion(
        "pre_roller.force_limit",
        "a ratio to the limit of the main roller",
        Sense("", "1", (0, inf), (0, 1), MEMORY, "precompression is the lighter one, or as strong"),
        _pre_share,
    ),
)  # fmt: skip
