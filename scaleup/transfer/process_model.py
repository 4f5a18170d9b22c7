"""A production press with its tooling and the fitted powder: what it makes at a setting."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from scaleup.arrays import Array, Places
from scaleup.calibration.fit import Fit
from scaleup.calibration.logged_pulses import NO_LOGS, PressLogs
from scaleup.calibration.observations import Side
from scaleup.calibration.plant.plant import Plant
from scaleup.calibration.plant.pulse import measured_pulse
from scaleup.model.study import ProductionSide, Study
from scaleup.powder.charge import Charge
from scaleup.powder.precompression import precompression_counts
from scaleup.presses.rotary import RotaryPress
from scaleup.short_repr import short_repr
from scaleup.transfer.filling import Filling
from scaleup.transfer.logged_figures import LoggedFigures
from scaleup.transfer.operating_point import OperatingPoint, shown_of
from scaleup.transfer.pulse_map import Domain, PulseMap, pulse_map

HEADROOM = 1.15
"""The map reaches this far beyond the largest pressure any limit allows."""
DENSEST = 5.0
"""D of the ejected tablet, a solid fraction of 0.993, above which the law claims nothing."""
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
class ProcessModel:
    """One production press, its tooling, a tablet weight and a fitted powder."""

    production: ProductionSide
    side: Side
    charge: Charge
    fit: Fit
    plant: Plant
    """What lies between the lab and this press."""
    filling: Filling | None
    """Loose powder as this press fills it; None if no depth was recorded."""
    reference_pressure: float
    """MPa."""
    exact_speed: float
    """rpm, at which the map is solved; between this and the press's own range it is carried."""
    logs: PressLogs = NO_LOGS
    """What is logged of this press."""

    @property
    def press(self) -> RotaryPress:
        """Return the press; a production press is a rotary one."""
        return rotary(self.side)

    @property
    def force_limit(self) -> float:
        """Return the least of main roller limit and tip rating in N."""
        rating = self.production.tooling.profile.tip_force_rating
        roller = self.production.press.profile.force_limit
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
        return pulse_map(self.press, self.fit.powder, self.charge, self.pre_share, self._domain())

    def _domain(self) -> Domain:
        top = self.force_limit / self.charge.tip_area
        hardening = self.fit.powder.hardening
        solid = float(np.min(hardening.static_pressure(np.full(self.fit.powder.draws, DENSEST))))
        high = max(min(HEADROOM * top, solid), HEADROOM * self.reference_pressure)
        low = LOWEST * self.reference_pressure
        return Domain(low, self.reference_pressure, high, self._speeds())

    def effective_dwell(self, pressure: Array, speed: float) -> Array:
        """Return the effective dwell in s at pressures in MPa and a speed in rpm.

        That of the geometry, which `map` has, and what logs of the press say of it. Shapes are
        those of `PulseMap.effective_dwell`.
        """
        dwell = self.map.effective_dwell(pressure, speed)
        result: Array = dwell * np.exp(self.plant.log_dwell(pressure, speed))
        return result

    def mapped(self, pressure: float) -> float:
        """Return a pressure in MPa, or the nearest that the map holds for."""
        return float(np.clip(pressure, self.map.floor, self.map.ceiling))

    @cached_property
    def log_ratios(self) -> Array:
        """Return ln of each logged dwell over that of the geometry, shape (logs, draws).

        Both are of the main pulse alone, at the log's own pressure and speed. A speed outside those
        of the map has the pulse of the nearest, with its times as one over the speed.
        """
        solved, powder = self._main_pulse_alone, self.fit.powder
        slowest, fastest = solved.speeds
        rows = []
        for log in self.logs.logs:
            pressure = np.asarray(self.mapped(log.pressure))
            near = float(np.clip(log.speed, slowest, fastest))
            rows.append(solved.effective_dwell(pressure, near) * near / log.speed)
        result: Array = np.log(self.logs.dwell(powder.rate_exponent) / np.array(rows))
        return result

    @property
    def _main_pulse_alone(self) -> PulseMap:
        """Return the map without precompression, which is the same where that adds no dwell."""
        if not precompression_counts(self.fit.powder, self.pre_share):
            return self.map
        return pulse_map(self.press, self.fit.powder, self.charge, 0.0, self._domain())

    @property
    def shown(self) -> Places:
        """Return which draws whole pulses are solved for."""
        return shown_of(self.fit.powder.draws)

    @cached_property
    def logged_figures(self) -> LoggedFigures | None:
        """Return the logs held against the geometry; None where nothing is logged."""
        return LoggedFigures.of(self) if self.logs.logs else None

    def with_measured_pulse(self) -> ProcessModel:
        """Return the same with what its logs say of its pulse; the same if it has none."""
        if not self.logs.logs:
            return self
        evidence = self.fit.plant
        score = evidence.scores.of(f"pulse of {self.production.press.id}")
        score = score if evidence.which is None else score[evidence.which]
        term = measured_pulse(self.logs.logs, self.log_ratios, score)
        return self.with_plant(Plant((*self.plant.terms, term)))

    @property
    def speeds_covered(self) -> tuple[float, float]:
        """Return the slowest and the fastest speed in rpm that the map covers."""
        limits = self.production.press.profile.speed
        return min(limits.min, self.exact_speed), max(limits.max, self.exact_speed)

    def _speeds(self) -> tuple[float, ...]:
        low, high = self.speeds_covered
        inner = self.exact_speed
        if inner <= low * 1.1 or inner >= high / 1.1:
            inner = float(np.sqrt(low * high))
        return tuple(sorted({low, inner, high}))

    def of_weight(self, weight: float) -> ProcessModel:
        """Return the same press for a tablet of a slightly other weight in mg, with the same map.

        A few per cent of weight leave the effective dwell at a pressure as it is (the tests hold
        it against solved pulses).
        """
        return self.with_map(replace(self, charge=replace(self.charge, weight=weight)))

    def with_map(self, other: ProcessModel) -> ProcessModel:
        """Return another model with the map of this one, which must hold for it."""
        other.__dict__["map"] = self.map
        if "logged_figures" in self.__dict__:
            other.__dict__["logged_figures"] = self.logged_figures
        return other

    def with_plant(self, plant: Plant) -> ProcessModel:
        """Return the same press with other terms between it and the lab, with the same map."""
        return self.with_map(replace(self, plant=plant))

    @cached_property
    def by_the_law(self) -> ProcessModel:
        """Return the same press with nothing between it and the lab but the law and its pulse."""
        return self.with_plant(self.plant.of_the_pulse)

    def chosen(self, which: Places) -> ProcessModel:
        """Return the same press with some of the draws, their places rising."""
        other = replace(self, fit=self.fit.chosen(which), plant=self.plant.chosen(which))
        other.__dict__["map"] = self.map.chosen(which)
        return other

    def at(self, pressure: Array | float, speed: float) -> OperatingPoint:
        """Return what the press makes at a main pressure in MPa and a turret speed in rpm.

        The lab's own pressure is asked about again and again: its points are kept.
        """
        if isinstance(pressure, float) and pressure == self.reference_pressure:
            return self._at_reference.setdefault(speed, self._point(pressure, speed))
        return self._point(pressure, speed)

    def _point(self, pressure: Array | float, speed: float) -> OperatingPoint:
        return OperatingPoint(self, speed, np.asarray(pressure, dtype=np.float64))

    @cached_property
    def _at_reference(self) -> dict[float, OperatingPoint]:
        return {}


def production_charge(study: Study, side: Side, reference_weight: float) -> Charge:
    """Return the charge of one production tablet: the target weight, else the reference's."""
    weight = study.target.weight or reference_weight
    return side.tip.charge(weight, study.blend.true_density)
