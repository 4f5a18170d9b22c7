"""The production press with its tooling and the fitted powder: what it makes at a setting."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from scaleup.arrays import Array, Places
from scaleup.calibration.fit import Fit
from scaleup.calibration.observations import Side
from scaleup.model.study import ProductionSide, Study
from scaleup.powder.charge import Charge
from scaleup.powder.compression import Pulse, compress
from scaleup.powder.tablet import elastic_recovery
from scaleup.presses.press import Setting
from scaleup.presses.rotary import RotaryPress
from scaleup.short_repr import short_repr
from scaleup.transfer.filling import Filling
from scaleup.transfer.pulse_map import PulseMap, Span, pulse_map

HEADROOM = 1.15
"""The map reaches this far beyond the largest pressure any limit allows."""
DENSEST = 5.0
"""D of the ejected tablet, a solid fraction of 0.993, above which the law claims nothing."""
SHOWN_TOLERANCE = 1e-4
"""Share by which the peak of a pulse that is shown may miss the pressure dialled."""
SHOWN_DRAWS = 800
"""Draws that the whole pulse is solved for; ends of bands need no more."""
LOWEST = 0.15
"""The map begins at this share of the lab's pressure."""


def rotary(side: Side) -> RotaryPress:
    """Return the press of the production side, which a study takes only if it is a rotary one.

    Raises
    ------
    TypeError
        If it is of another kind.
    """
    if not isinstance(side.press, RotaryPress):
        raise TypeError("a production press is a rotary press")
    return side.press


@short_repr
@dataclass(frozen=True)
class Line:
    """One production press, its tooling, a tablet weight and a fitted powder."""

    production: ProductionSide
    side: Side
    charge: Charge
    fit: Fit
    filling: Filling | None
    """Loose powder as this press fills it; None if no depth was recorded."""
    reference_pressure: float
    """MPa."""
    asked_speed: float
    """rpm."""

    @property
    def press(self) -> RotaryPress:
        """Return the press; a production press is a rotary one."""
        return rotary(self.side)

    @property
    def force_limit(self) -> float:
        """Return the least of main roller limit and tip rating in N."""
        rating = self.production.tooling.model.tip_force_rating
        roller = self.production.press.model.force_limit
        return roller if rating is None else min(roller, rating)

    @property
    def top(self) -> float:
        """Return the highest pressure in MPa that main roller, tips and the map allow."""
        return min(self.force_limit / self.charge.tip_area, self.map.ceiling)

    @property
    def pre_share(self) -> float:
        """Return the precompression force as a share of the main force."""
        return self.production.precompression or 0.0

    @cached_property
    def map(self) -> PulseMap:
        """Return the map of every pressure and speed the press allows, solved when first asked."""
        top = self.force_limit / self.charge.tip_area
        hardening = self.fit.powder.hardening
        solid = float(np.min(hardening.static_pressure(np.full(self.fit.powder.draws, DENSEST))))
        high = max(min(HEADROOM * top, solid), HEADROOM * self.reference_pressure)
        low = LOWEST * self.reference_pressure
        span = Span(low, self.reference_pressure, high, self._speeds())
        return pulse_map(self.press, self.fit.powder, self.charge, self.pre_share, span)

    def _speeds(self) -> tuple[float, ...]:
        limits = self.production.press.model.speed
        low = min(limits.min, self.asked_speed)
        high = max(limits.max, self.asked_speed)
        inner = self.asked_speed
        if inner <= low * 1.1 or inner >= high / 1.1:
            inner = float(np.sqrt(low * high))
        return tuple(sorted({low, inner, high}))

    def of_weight(self, weight: float) -> Line:
        """Return the same line for a tablet of a slightly other weight in mg, with the same map.

        A few per cent of weight leave the effective dwell at a pressure as it is (the tests hold
        it against solved pulses).
        """
        return self.with_map(replace(self, charge=replace(self.charge, weight=weight)))

    def with_map(self, other: Line) -> Line:
        """Return another line with the map of this one, which must hold for it."""
        other.__dict__["map"] = self.map
        return other

    def chosen(self, which: Places) -> Line:
        """Return the same line with some of the draws, their places rising."""
        other = replace(self, fit=self.fit.chosen(which))
        other.__dict__["map"] = self.map.chosen(which)
        return other

    def at(self, pressure: Array | float, speed: float) -> OperatingPoint:
        """Return what the press makes at a main pressure in MPa and a turret speed in rpm."""
        return OperatingPoint(self, speed, np.asarray(pressure, dtype=np.float64))


@short_repr
@dataclass(frozen=True)
class OperatingPoint:
    """Pressure and speed of a line; every figure drawn has shape (draws,).

    Figures of the whole pulse (`pulse`, `recovery`) have one value for each draw `shown`.
    """

    line: Line
    speed: float
    """rpm."""
    dialled: Array
    """The main pressure in MPa: one for all draws, one for each, or a column of shape (n, 1) of
    which every draw sees every one; figures then have shape (n, draws)."""

    @property
    def draws(self) -> int:
        """Return the number of draws."""
        return self.line.fit.powder.draws

    @cached_property
    def pressure(self) -> Array:
        """Return the main pressure in MPa."""
        shape = np.broadcast_shapes(self.dialled.shape, (self.draws,))
        return np.broadcast_to(self.dialled, shape).copy()

    @cached_property
    def effective_dwell(self) -> Array:
        """Return the effective dwell in s."""
        return self.line.map.effective_dwell(self.dialled, self.speed)

    @cached_property
    def static_pressure(self) -> Array:
        """Return the state of the powder in MPa."""
        return self.line.fit.powder.static_pressure(self.dialled, self.effective_dwell)

    @cached_property
    def shown(self) -> Places:
        """Return which draws the whole pulse is solved for: evenly many of all."""
        even = np.linspace(0, self.draws - 1, min(self.draws, SHOWN_DRAWS))
        return np.unique(even.astype(np.intp))

    @cached_property
    def pulse(self) -> Pulse:
        """Return the whole pulse of the draws shown; a tablet needs only the dwell of the map."""
        line = self.line
        return compress(
            line.press,
            line.fit.powder.chosen(self.shown),
            line.charge,
            self.pressure[self.shown],
            Setting(speed=self.speed),
            line.pre_share,
            SHOWN_TOLERANCE,
            self.effective_dwell[self.shown],
        )

    @property
    def force(self) -> Array:
        """Return the main force in N."""
        return self.pressure * self.line.charge.tip_area

    @property
    def pre_force(self) -> Array:
        """Return the precompression force in N."""
        return self.force * self.line.pre_share

    @cached_property
    def solid_fraction(self) -> Array:
        """Return the solid fraction of the ejected tablet."""
        return self.line.fit.powder.solid_fraction(self.static_pressure)

    @cached_property
    def wall(self) -> Array:
        """Return the wall height in mm of the ejected tablet."""
        return self.line.charge.wall(self.solid_fraction)

    @property
    def cup_fill(self) -> Array:
        """Return the least volume of the powder under load over that of both cups.

        At 1 the tips meet. Only tips with cups have it.
        """
        powder, charge = self.line.fit.powder, self.line.charge
        level = powder.hardening.densification(self.static_pressure)
        share = self.line.map.elastic_share(self.dialled, self.speed)
        separation = charge.separation(level + share * self.pressure / powder.elastic)
        return separation / charge.cup_height + 1.0

    @property
    def tip_separation(self) -> Array:
        """Return the distance in mm between the tip edges at dead centre, to set without load.

        That under load less the give of press and punches; below 0 the tips of an empty die would
        be pressed into each other. Under load pores are left to ``(1 - SF) exp(-P/K)`` of the
        volume, peak and final state taken to meet.
        """
        powder, charge, give = self.line.fit.powder, self.line.charge, self.line.side.press
        pores = (1.0 - self.solid_fraction) * np.exp(-self.pressure / powder.elastic)
        under_load = charge.solid_height / (1.0 - pores) - charge.cup_height
        return under_load - give.compliance * self.force

    @property
    def thickness(self) -> Array:
        """Return the overall thickness in mm of the ejected tablet."""
        return self.line.side.tip.thickness(self.wall)

    @cached_property
    def strength(self) -> Array | None:
        """Return the tensile strength in MPa, if the runs have one."""
        curve = self.line.fit.strength
        return None if curve is None else curve.in_production(self.solid_fraction)

    @property
    def breaking_force(self) -> Array | None:
        """Return the breaking force in N, if the runs have one."""
        if self.strength is None:
            return None
        return self.line.side.tip.breaking_force(self.strength, self.thickness)

    @property
    def ejection_stress(self) -> Array | None:
        """Return the ejection stress in MPa, if the runs have one."""
        line = self.line.fit.ejection
        return None if line is None else line.stress(self.pressure)

    @property
    def ejection_force(self) -> Array | None:
        """Return the ejection force in N: stress times perimeter times wall height."""
        stress = self.ejection_stress
        return None if stress is None else stress * self.line.side.tip.perimeter * self.wall

    @property
    def recovery(self) -> Array:
        """Return the axial elastic recovery of the draws shown, of the overall thickness."""
        tip = self.line.side.tip
        return elastic_recovery(tip.thickness(self.pulse.in_die), self.thickness[self.shown])


def production_charge(study: Study, side: Side, reference_weight: float) -> Charge:
    """Return the charge of one production tablet: the target weight, else the reference's."""
    weight = study.target.weight or reference_weight
    return side.tip.charge(weight, study.blend.true_density)
