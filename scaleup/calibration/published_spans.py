"""Between which figures published materials lie: for doubting a unit, never for a fit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Grade = Literal["seen", "from memory", "a judgement of this program"]


@dataclass(frozen=True)
class Span:
    """The span of one figure over published materials, and the room left around it."""

    what: str
    unit: str
    low: float
    high: float
    room: float
    """Factor by which a figure may lie outside before it is doubted: this project's judgement."""
    grade: Grade
    source: str

    @property
    def least(self) -> float:
        """Return the least figure that is not doubted."""
        return self.low / self.room

    @property
    def most(self) -> float:
        """Return the greatest figure that is not doubted."""
        return self.high * self.room


MEMORY: Grade = "from memory"
OURS: Grade = "a judgement of this program"

SPANS: dict[str, Span] = {
    "pressure": Span(
        "highest compression pressure", "MPa", 30.0, 500.0, 1.5, MEMORY, "tabletting practice"
    ),
    "yield": Span(
        "apparent yield pressure", "MPa", 30.0, 1000.0, 1.7, MEMORY,
        "paracetamol 34 to 46 (seen); calcium carbonate some 600, anhydrous phosphate to 950",
    ),
    "strength": Span(
        "strength for each 100 MPa of pressure", "MPa", 0.2, 8.0, 1.8, MEMORY,
        "cellulose 8.7 at solid fraction 0.85 (Akseli et al. 2011, seen)",
    ),
    "solid-strength": Span(
        "strength at no porosity", "MPa", 1.0, 30.0, 2.0, MEMORY, "Ryshkewitch-Duckworth fits"
    ),
    "porosity-exponent": Span(
        "exponent of strength over porosity", "1", 4.0, 20.0, 2.5, MEMORY,
        "Ryshkewitch-Duckworth fits",
    ),
    "target": Span(
        "strength of the reference over the target", "1", 0.33, 5.0, 2.0, OURS,
        "a target is set near what the tablet has",
    ),
    "recovery": Span(
        "thickness over in-die thickness", "1", 1.005, 1.20, 1.04, MEMORY, "axial recovery"
    ),
    "ejection-stress": Span(
        "ejection stress", "MPa", 0.2, 10.0, 3.0, MEMORY,
        "above 5 MPa is linked with problems (common practice)",
    ),
    "ejection-share": Span(
        "ejection force over compression force", "1", 0.002, 0.1, 1.2, MEMORY,
        "usually below a tenth",
    ),
    "fill": Span(
        "loose fill over true density", "1", 0.2, 0.5, 1.8, MEMORY, "in general above 0.15"
    ),
    "true-density": Span(
        "true density", "mg/mm^3", 1.1, 2.9, 1.6, MEMORY, "blends of organic and mineral powders"
    ),
    "shortest-hold": Span(
        "shortest hold", "s", 0.1, 60.0, 2.0, OURS, "no bench press steers a shorter one"
    ),
    "longest-hold": Span("longest hold", "s", 0.1, 600.0, 2.0, OURS, "bench practice"),
    "rise": Span(
        "force over loading rate", "s", 0.1, 60.0, 2.0, OURS, "bench presses load in seconds"
    ),
}  # fmt: skip
"""By the code of a figure. The grade is that of the span; a source in brackets has its own."""

SOFTEST = (0.9, 42.0)
"""``ln(1/(1 - SF))`` of an ejected tablet is at most ``0.9 + P/42 MPa``: 0.96 at 100 MPa, where the
softest plastic blends have 0.93 (from memory), and 0.74 at 20 MPa, where a cellulose has 0.55."""
HARDEST = (0.35, 700.0)
"""It is at least ``0.35 + P/700 MPa``: 0.39 at 100 MPa, where phosphates have 0.55 (from
memory)."""
