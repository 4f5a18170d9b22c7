"""The range of sense of every quantity of a press or tooling profile, by its key.

Beyond ``can`` a profile is at fault; beyond ``usual`` it is doubtful. Both are round numbers that
leave room, meant to catch a slip of a unit or of a digit; where they come from is their grade.
"""

from __future__ import annotations

from dataclasses import dataclass

from scaleup.model.sense import Grade, Sense

MEMORY: Grade = "from memory"
PRACTICE: Grade = "common practice"
OURS: Grade = "a judgement of this program"


def _mm(can: tuple[float, float], usual: tuple[float, float], why: str) -> Sense:
    return Sense("mm", "mm", can, usual, MEMORY, why)


def _force(least: float, most: float, usual: tuple[float, float], why: str) -> Sense:
    return Sense("kN", "N", (least, most), usual, MEMORY, why)


def _turret_speed(why: str) -> Sense:
    return Sense("rpm", "rpm", (0.1, 300), (1, 150), MEMORY, why)


def _loading_rate(why: str) -> Sense:
    return Sense("kN/s", "N/s", (0.001, 2000), (0.05, 100), MEMORY, why)


_PRESS_FORCE = "tablet presses are built for a few kN to some 100 kN"
_CAM = "a die is filled a few mm to a few cm deep"
_STROKE_RATE = Sense(
    "strokes/min", "rpm", (0.1, 600), (1, 200), MEMORY, "crank presses make up to some 100 a minute"
)  # fmt: skip
_ROLLER = _mm((10, 500), (30, 200), "a compression roller is a hand to two hands across")
_HEAD_FLAT = _mm((1, 60), (4, 25), "head flats are about 10 mm, 13 mm on large punches")
_TIP = _mm((0.5, 100), (2, 30), "tablets are 2 to 30 mm across")

RANGES: dict[str, Sense] = {
    # every press
    "force_limit": _force(0.5, 2000, (2, 200), _PRESS_FORCE),
    "stiffness": Sense(
        "kN/mm", "N/mm", (5, 5000), (20, 1000), MEMORY,
        "two roller assemblies of a thesis have 52 and 86 kN/mm, whole frames 50 to 500",
    ),
    "ejection_limit": _force(0.05, 500, (0.5, 30), "a tablet is pushed out with some 100 N"),
    "force_accuracy": Sense(
        "%", "1", (0.05, 30), (0.2, 10), MEMORY, "calibrated cells read within 1 or 2 %"
    ),
    "fill.min": _mm((0, 150), (0, 40), _CAM),
    "fill.max": _mm((0.5, 150), (2, 40), _CAM),
    # hydraulic
    "loading_rate": _loading_rate("a motor loads in a second to minutes"),
    "loading_rates": _loading_rate("a motor loads in a second to minutes"),
    "pump.force_per_stroke": _force(0.01, 200, (0.1, 20), "a hand pumps a few kN with a stroke"),
    "pump.stroke_time": Sense("s", "s", (0.02, 60), (0.2, 5), OURS, "a hand moves a lever"),
    "pump.pause": Sense("s", "s", (0, 600), (0, 10), OURS, "a hand goes back"),
    "release_time": Sense(
        "s", "s", (0.001, 600), (0.005, 10), OURS, "a valve opens, or a hand opens it"
    ),
    "hold.min": Sense("s", "s", (0, 86400), (0, 60), OURS, "presses hold for seconds to minutes"),
    "hold.max": Sense("s", "s", (0, 86400), (0, 3600), OURS, "presses hold for seconds to minutes"),
    # eccentric
    "crank_radius": _mm((2, 300), (5, 80), "the stroke, twice the radius, is some cm"),
    "link_length": _mm((5, 3000), (50, 1000), "a connecting rod is several cranks long"),
    "stroke_rate": _STROKE_RATE,
    "eccentric.penetration": _mm((0.2, 30), (1, 15), "an upper tip enters the die by some mm"),
    # rotary
    "pitch_circle": _mm((40, 2000), (80, 1000), "turrets are a few dm across"),
    "roller.radius": _ROLLER,
    "roller.force_limit": _force(0.5, 2000, (2, 200), _PRESS_FORCE),
    "roller_spacing": Sense(
        "deg", "rad", (5, 355), (25, 180), OURS, "two rollers stand beside each other on the turret"
    ),
    "feeder_arc": Sense("deg", "rad", (2, 330), (15, 180), OURS, "a feeder covers a sector"),
    "feeder.hold_up": Sense(
        "kg", "mg", (0.001, 100), (0.05, 10), OURS, "a feeder holds about 1 kg"
    ),
    "feeder.paddle_diameter": _mm((20, 1000), (60, 400), "paddles are a hand to two hands across"),
    "feeder.paddle_speed": Sense(
        "rpm", "rpm", (0.5, 500), (5, 150), OURS, "paddles turn about once a second"
    ),
    "rotary.penetration": _mm((0.2, 20), (1, 8), "an upper tip enters the die by 2 to 6 mm"),
    "turret_speed": _turret_speed("turrets turn up to some 100 times a minute"),
    "stated.dwell_time": Sense(
        "ms", "s", (0.2, 20000), (2, 500), OURS, "a flat of 10 mm on a turret of a few dm"
    ),
    "stated.punch_velocity": Sense(
        "mm/s", "mm/s", (1, 5000), (10, 1000), OURS, "a punch closes by a few mm in some 10 ms"
    ),
    "stated.at_travel": _mm((0.1, 20), (0.5, 5), "velocities hold 1 to 3 mm before the centre"),
    # tooling
    "diameter": _TIP,
    "width": _TIP,
    "length": _TIP,
    "cup_depth": _mm((0.02, 50), (0.1, 8), "cups are tenths of a mm to a few mm deep"),
    "cup_volume": Sense(
        "mm^3", "mm^3", (0.01, 1e5), (0.5, 2000), MEMORY, "a cup as wide as a tablet"
    ),
    "tip_area": Sense("mm^2", "mm^2", (0.2, 1e4), (3, 700), MEMORY, "tablets are 2 to 30 mm wide"),
    "perimeter": _mm((1.5, 400), (6, 100), "tablets are 2 to 30 mm across"),
    "head_flat": _HEAD_FLAT,
    "head_edge_radius": _mm((1, 100), (5, 30), "heads are rounded with 8 to 20 mm"),
    "head_diameter": _mm((5, 100), (18, 45), "heads are 25 mm across, 32 mm on large punches"),
    "barrel_diameter": _mm((2, 150), (10, 60), "barrels are 19 mm across, 25 mm on large punches"),
    "punch_length": _mm((10, 600), (40, 250), "most punches are about 134 mm long"),
    "modulus": Sense(
        "GPa", "MPa", (50, 1000), (180, 720), MEMORY, "steels have 190 to 220, carbides 500 to 700"
    ),
    "tip_force_rating": _force(0.05, 2000, (1, 250), "tips are rated for some kN to 200 kN"),
}  # fmt: skip
"""Key, with its table or its kind where the key alone is not enough: what it can be."""


@dataclass(frozen=True)
class Standard:
    """Sizes of the punches and dies of one tooling standard, in mm."""

    die: float
    barrel: float


STANDARDS = {
    "B": Standard(die=30.16, barrel=19.0),
    "BB": Standard(die=24.0, barrel=19.0),
    "D": Standard(die=38.1, barrel=25.4),
}
"""Common practice, from memory; other standards are taken as their profiles have them."""
