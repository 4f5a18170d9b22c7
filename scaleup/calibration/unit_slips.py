"""Which column, taken in another unit, would make the figures of a study those of a powder."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from scaleup.calibration.plausibility import Numbers, figures


@dataclass(frozen=True)
class Slip:
    """One column or key taken in a wrong unit; values times ``ratio`` would be right."""

    column: str
    ratio: float
    story: str


Scale = Callable[[Numbers, float], Numbers]

SCALES: dict[str, tuple[str, Scale]] = {
    "force": ("force", lambda n, r: replace(
        n, pressure=n.pressure * r, ejection_share=n.ejection_share / r, rise=n.rise * r)),
    "breaking force": ("force", lambda n, r: replace(
        n, strength=n.strength * r, target=n.target * r)),
    "ejection force": ("force", lambda n, r: replace(
        n, ejection_share=n.ejection_share * r, ejection_stress=n.ejection_stress * r)),
    "every force": ("force", lambda n, r: replace(
        n, pressure=n.pressure * r, strength=n.strength * r, target=n.target * r,
        ejection_stress=n.ejection_stress * r, rise=n.rise * r)),
    "thickness": ("length", lambda n, r: replace(
        n, solid=n.solid / r, strength=n.strength / r, recovery=n.recovery * r,
        ejection_stress=n.ejection_stress / r)),
    "in-die thickness": ("length", lambda n, r: replace(n, recovery=n.recovery / r)),
    "fill depth": ("length", lambda n, r: replace(n, fill=n.fill / r)),
    "tip diameter": ("length", lambda n, r: replace(
        n, pressure=n.pressure / r**2, solid=n.solid / r**2, strength=n.strength / r,
        ejection_stress=n.ejection_stress / r, fill=n.fill / r**2)),
    "weight": ("mass", lambda n, r: replace(n, solid=n.solid * r, fill=n.fill * r)),
    "true density": ("density", lambda n, r: replace(
        n, solid=n.solid / r, fill=n.fill / r, true_density=n.true_density * r)),
    "hold": ("time", lambda n, r: replace(n, hold=n.hold * r)),
    "loading rate": ("rate", lambda n, r: replace(n, rise=n.rise / r)),
    "target": ("force", lambda n, r: replace(n, target=n.target / r)),
}  # fmt: skip
"""What a column or key measures, and what follows from it; the cups of a tip are left out."""

STORIES: dict[str, dict[float, str]] = {
    "force": {
        9.807: "kgf taken for N, or tf for kN", 10.0: "daN taken for N",
        4.448: "lbf taken for N", 1000.0: "kN taken for N", 2.205: "lb taken for kg",
    },
    "length": {25.4: "inches taken for mm", 10.0: "cm taken for mm", 1000.0: "mm taken for um"},
    "mass": {1000.0: "g taken for mg", 2.205: "lb taken for kg"},
    "density": {1000.0: "kg/m^3 taken for g/cm^3", 10.0: "a decimal point misplaced"},
    "time": {60.0: "min taken for s", 1000.0: "s taken for ms"},
    "rate": {60.0: "kN/s taken for kN/min", 9.807: "kgf/s taken for N/s", 1000.0: "kN taken for N"},
}  # fmt: skip
"""The usual ratios of each kind, and what they come from; the inverse is the story turned round."""


def slips(numbers: Numbers) -> tuple[Slip, ...]:
    """Return the single slips of a unit that would bring every figure into its span.

    Columns come by how near the middle of the spans the best of their ratios leads, and the ratios
    of one column in the order of `STORIES`, since several are too near each other to be told apart.
    """
    explaining = []
    for column in SCALES:
        ways = list(_ways(numbers, column))
        if ways:
            explaining.append((min(off for off, _ in ways), [slip for _, slip in ways]))
    explaining.sort(key=lambda each: each[0])
    return tuple(slip for _, ways in explaining for slip in ways)


def _ways(numbers: Numbers, column: str) -> Iterator[tuple[float, Slip]]:
    """Yield the slips of one column, each with how far off the middles it leaves the figures."""
    kind, scale = SCALES[column]
    for ratio, story in _ratios(kind):
        tried = figures(scale(numbers, ratio))
        if all(each.inside for each in tried):
            yield sum(each.off**2 for each in tried), Slip(column, ratio, story)


def _ratios(kind: str) -> Iterator[tuple[float, str]]:
    for ratio, story in STORIES[kind].items():
        yield ratio, story
        yield 1.0 / ratio, f"the inverse of {story}"
