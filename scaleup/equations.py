"""The single equations of the package, each a small function of floats or arrays.

Lengths are in mm, forces in N, pressures and strengths in MPa, times in s, weights in mg,
densities in mg/mm³ (g/cm³), turret and crank speeds in turns per minute, angles in rad. Floats
give a float, arrays broadcast and give an array; what cannot be is refused with a ValueError.
A quantity of a units library is converted to these units, the result is a plain number in them.

>>> from scaleup.equations import dwell_time
>>> dwell_time(head_flat=9.525, pitch_circle=410, speed=[40, 80])
array([0.0110933, 0.0055467])
"""

from __future__ import annotations

from scaleup.powder.rate import (
    effective_dwell,
    plastic_densification,
    pressure_ratio,
    rate_exponent,
)
from scaleup.powder.shear import strength_after_shear
from scaleup.powder.strength import (
    breaking_force_elongated,
    breaking_force_round_convex,
    breaking_force_round_flat,
    strength_elongated,
    strength_round_convex,
    strength_round_flat,
)
from scaleup.powder.tablet import (
    blend_true_density,
    convex_cup_volume,
    ejection_stress,
    elastic_recovery,
    solid_fraction,
)
from scaleup.powder.wall_friction import mean_pressure_share, wall_friction
from scaleup.presses.deflection import axial_shortening, axial_stiffness, series_stiffness
from scaleup.presses.dwell import dwell_time, dwell_time_arc, turret_speed_for_dwell
from scaleup.presses.travel import (
    crank_angle,
    crank_travel,
    crank_velocity,
    punch_angle,
    punch_travel,
    punch_velocity,
)

__all__ = [
    "axial_shortening",
    "axial_stiffness",
    "blend_true_density",
    "breaking_force_elongated",
    "breaking_force_round_convex",
    "breaking_force_round_flat",
    "convex_cup_volume",
    "crank_angle",
    "crank_travel",
    "crank_velocity",
    "dwell_time",
    "dwell_time_arc",
    "effective_dwell",
    "ejection_stress",
    "elastic_recovery",
    "mean_pressure_share",
    "plastic_densification",
    "pressure_ratio",
    "punch_angle",
    "punch_travel",
    "punch_velocity",
    "rate_exponent",
    "series_stiffness",
    "solid_fraction",
    "strength_after_shear",
    "strength_elongated",
    "strength_round_convex",
    "strength_round_flat",
    "turret_speed_for_dwell",
    "wall_friction",
]
