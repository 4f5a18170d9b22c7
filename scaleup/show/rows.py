"""The rows of the comparison: which figures, in which order, with which label and unit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from scaleup.units_shown import UnitShown, column_unit

Part = Literal["settings", "tablet"]
CORE = {"kN": "N", "kN/s": "N/s", "ms": "s", "1000/h": "1/h"}
"""Unit of a row: its core unit, where they differ."""


@dataclass(frozen=True)
class RowSpec:
    """One figure of settings or tablet as it is shown."""

    part: Part
    field: str
    label: str
    unit: str
    """The unit the figure is usually read in."""
    factor: float = 1.0
    """What one core unit is in that unit."""

    @property
    def shown(self) -> UnitShown:
        """Return the unit shown: the usual one, or the one that the user asked for."""
        return column_unit(CORE.get(self.unit, self.unit), UnitShown(self.unit, self.factor))

    @property
    def heading(self) -> str:
        """Return label and unit."""
        return f"{self.label}, {self.shown.name}" if self.unit else self.label


MEANINGS = (
    "fill depth: from the die face down to the edge of the lower tip, whose cup is filled as well",
    "contact time: from first to last touch of the tips and the powder, as precompression left it",
    "strain rate: mean of d ln(tip distance)/dt as the pressure rises from 10 to 90 % of its peak",
)
"""What the figures mean whose names do not say it."""

Groups = tuple[tuple[str, tuple[RowSpec, ...]], ...]

GROUPS: Groups = (
    (
        "to set",
        (
            RowSpec("settings", "main_pressure", "main pressure", "MPa"),
            RowSpec("settings", "main_force", "main force", "kN", 1e-3),
            RowSpec("settings", "precompression_force", "precompression", "kN", 1e-3),
            RowSpec("settings", "turret_speed", "speed", "rpm"),
            RowSpec("settings", "fill_depth", "fill depth", "mm"),
            RowSpec("settings", "tip_separation", "tip separation", "mm"),
        ),
    ),
    (
        "the pulse",
        (
            RowSpec("settings", "dwell_time", "dwell time", "ms", 1e3),
            RowSpec("settings", "effective_dwell", "effective dwell", "ms", 1e3),
            RowSpec("settings", "time_above_90", "time above 90 %", "ms", 1e3),
            RowSpec("settings", "contact_time", "contact time", "ms", 1e3),
            RowSpec("settings", "punch_velocity", "punch velocity*", "mm/s"),
            RowSpec("settings", "strain_rate", "strain rate", "1/s"),
            RowSpec("settings", "output", "output", "1000/h", 1e-3),
        ),
    ),
    (
        "the tablet",
        (
            RowSpec("tablet", "weight", "weight", "mg"),
            RowSpec("tablet", "solid_fraction", "solid fraction", ""),
            RowSpec("tablet", "thickness", "thickness", "mm"),
            RowSpec("tablet", "tensile_strength", "strength", "MPa"),
            RowSpec("tablet", "breaking_force", "breaking force", "N"),
            RowSpec("tablet", "ejection_force", "ejection force", "N"),
        ),
    ),
)
