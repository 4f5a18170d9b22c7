"""Figures of a study that every powder has, each held against the span of published materials."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.observations import Observation
from scaleup.calibration.published_spans import HARDEST, SOFTEST, SPANS
from scaleup.model.study import Study

SPREAD = 1.5
"""Ratio of pressures from which a slope over pressure is looked at (this project's judgement)."""
POROSITIES = 0.05
"""Range of solid fractions from which a slope over porosity is looked at (likewise)."""
NEAR = 1.1
"""Runs within this ratio of the highest, or of the lowest, pressure are taken together."""


@dataclass(frozen=True)
class Numbers:
    """What every run says, arrays of shape (runs,) with not-a-number where it says nothing."""

    pressure: Array
    """MPa."""
    solid: Array
    strength: Array
    """MPa."""
    ejection_share: Array
    ejection_stress: Array
    """MPa."""
    fill: Array
    """Of the true density."""
    recovery: Array
    """Thickness over in-die thickness."""
    hold: Array
    """s, of the runs that are held."""
    rise: Array
    """s."""
    target: float
    """Strength of the reference over what is asked."""
    true_density: float


@dataclass(frozen=True)
class Figure:
    """One figure with the span it is held against."""

    code: str
    what: str
    value: float
    unit: str
    least: float
    most: float
    source: str

    @property
    def inside(self) -> bool:
        """Return whether the figure is within its span."""
        return self.least <= self.value <= self.most

    @property
    def off(self) -> float:
        """Return how far from the middle of its span it lies, 1 at an end, on a scale of ratios."""
        if self.value <= 0.0:
            return np.inf
        low, high = np.log(self.least), np.log(self.most)
        return float(abs(np.log(self.value) - 0.5 * (low + high)) / (0.5 * (high - low)))


def numbers_of(study: Study, seen: tuple[Observation, ...], reference: str = "") -> Numbers:
    """Return the figures of the lab runs of a study, of the production runs if there are no others.

    ``reference`` names the runs that the target is held against; all if none is named.
    """
    lab = tuple(each for each in seen if each.run.press == "lab") or seen
    density = study.blend.true_density

    def column(read: Callable[[Observation], float | None]) -> Array:
        values = [read(each) for each in lab]
        return np.array([np.nan if value is None else value for value in values], dtype=np.float64)

    force = column(lambda each: each.run.force)
    in_die = column(lambda each: each.run.in_die_thickness)
    hold = column(lambda each: each.setting.hold)
    return Numbers(
        pressure=column(lambda each: each.pressure),
        solid=column(lambda each: each.solid_fraction),
        strength=column(lambda each: each.strength),
        ejection_share=column(lambda each: each.run.ejection_force) / force,
        ejection_stress=column(lambda each: each.ejection_stress),
        fill=column(lambda each: each.fill_density) / density,
        recovery=column(lambda each: each.run.thickness) / in_die,
        hold=np.where(hold > 0.0, hold, np.nan),
        rise=force / column(lambda each: each.setting.loading_rate),
        target=_over_target(study, lab, reference),
        true_density=density,
    )


def _over_target(study: Study, lab: tuple[Observation, ...], reference: str) -> float:
    """Return the strength of the reference over the target, not-a-number without either."""
    target = study.target
    runs = [each for each in lab if each.run.name == reference] or list(lab)
    if target.breaking_force is not None:
        values, wanted = [each.run.breaking_force for each in runs], target.breaking_force
    elif target.strength is not None:
        values, wanted = [each.strength for each in runs], target.strength
    else:
        return np.nan
    known = [value for value in values if value is not None]
    return float(np.median(known)) / wanted if known else np.nan


def figures(numbers: Numbers) -> tuple[Figure, ...]:
    """Return every figure that the runs allow, each with its span."""
    plain = (_figure(code, value) for code, value in _plain(numbers) if not np.isnan(value))
    return (*plain, *_solid_fractions(numbers))


def _figure(code: str, value: float) -> Figure:
    span = SPANS[code]
    source = f"{span.low:g} to {span.high:g} {span.grade} ({span.source})"
    return Figure(code, span.what, value, span.unit, span.least, span.most, source)


def _plain(numbers: Numbers) -> Iterator[tuple[str, float]]:
    yield "pressure", float(np.max(numbers.pressure, initial=0.0)) or np.nan
    yield "yield", _yield_pressure(numbers)
    yield "strength", 100.0 * _middle(numbers.strength / numbers.pressure)
    yield from zip(("solid-strength", "porosity-exponent"), _strength_line(numbers), strict=True)
    yield "target", numbers.target
    yield "recovery", _middle(numbers.recovery)
    yield "ejection-stress", _middle(numbers.ejection_stress)
    yield "ejection-share", _middle(numbers.ejection_share)
    yield "fill", _middle(numbers.fill)
    yield "true-density", numbers.true_density
    holds = numbers.hold[np.isfinite(numbers.hold)]
    yield "shortest-hold", float(holds.min()) if holds.size else np.nan
    yield "longest-hold", float(holds.max()) if holds.size else np.nan
    yield "rise", _middle(numbers.rise)


def _middle(values: Array) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size else np.nan


def _yield_pressure(numbers: Numbers) -> float:
    """Return the inverse slope of ``ln(1/(1 - SF))`` over pressure, as of a straight line."""
    known = np.isfinite(numbers.solid) & (numbers.solid < 1.0)
    pressure = numbers.pressure[known]
    if pressure.size < 2 or pressure.max() < SPREAD * pressure.min():
        return np.nan
    slope = np.polyfit(pressure, -np.log1p(-numbers.solid[known]), 1)[0]
    return float(1.0 / slope) if slope > 0.0 else np.nan


def _strength_line(numbers: Numbers) -> tuple[float, float]:
    """Return strength in MPa at no porosity, and the exponent over porosity."""
    known = np.isfinite(numbers.solid) & (numbers.strength > 0.0)
    solid = numbers.solid[known]
    if solid.size < 3 or np.ptp(solid) < POROSITIES:
        return np.nan, np.nan
    slope, ground = np.polyfit(solid - 1.0, np.log(numbers.strength[known]), 1)
    return float(np.exp(ground)), float(slope) if slope > 0.0 else np.nan


def _solid_fractions(numbers: Numbers) -> Iterator[Figure]:
    """Yield the solid fraction at the lowest and at the highest pressure."""
    known = np.isfinite(numbers.solid)
    pressure, solid = numbers.pressure[known], numbers.solid[known]
    if not pressure.size:
        return
    for which, chosen in (
        ("lowest", pressure <= pressure.min() * NEAR),
        ("highest", pressure >= pressure.max() / NEAR),
    ):
        at = float(np.median(pressure[chosen]))
        least, most = (
            float(-np.expm1(-(start + at / scale))) for start, scale in (HARDEST, SOFTEST)
        )
        yield Figure(
            f"solid-fraction-{which}",
            f"solid fraction at {at:.3g} MPa",
            float(np.median(solid[chosen])),
            "1",
            least,
            most,
            "0.55 for phosphates to 0.93 for soft plastic blends at 100 MPa, from memory",
        )


def outside(numbers: Numbers) -> tuple[Figure, ...]:
    """Return the figures no published material has, the furthest out first."""
    out = [each for each in figures(numbers) if not each.inside]
    return tuple(sorted(out, key=lambda each: -each.off))
