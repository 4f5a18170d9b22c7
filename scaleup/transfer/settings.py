"""Everything to set on the production press at one operating point, and the tablet it gives."""

from __future__ import annotations

from dataclasses import dataclass, fields

from scaleup.arrays import Array
from scaleup.model.estimate import Estimate, drawn, exactly, unavailable
from scaleup.model.study import ProductionSide
from scaleup.presses.profile_figures import VELOCITY_TRAVEL
from scaleup.presses.rotary import RotaryPress
from scaleup.sentence import Words
from scaleup.short_repr import short_repr
from scaleup.transfer.filling import fill_depth
from scaleup.transfer.operating_point import OperatingPoint


@short_repr
@dataclass(frozen=True)
class Settings:
    """What is set on a press, and what follows for the pulse."""

    main_pressure: Estimate
    main_force: Estimate
    precompression_force: Estimate
    turret_speed: Estimate
    output: Estimate
    fill_depth: Estimate
    tip_separation: Estimate
    dwell_time: Estimate
    effective_dwell: Estimate
    time_above_90: Estimate
    contact_time: Estimate
    punch_velocity: Estimate
    strain_rate: Estimate


@short_repr
@dataclass(frozen=True)
class Tablet:
    """What the tablet is."""

    weight: Estimate
    solid_fraction: Estimate
    thickness: Estimate
    tensile_strength: Estimate
    breaking_force: Estimate
    ejection_force: Estimate


LOW_WALL = "the tablet's wall is too low for the equation of strength of its shape"
NO_EJECTION = "fewer than two lab runs have an ejection force"
NO_STRENGTH = "the lab runs have too few breaking forces for a strength curve"
UNITS = {
    "main_pressure": "MPa",
    "main_force": "N",
    "precompression_force": "N",
    "turret_speed": "rpm",
    "output": "1/h",
    "fill_depth": "mm",
    "tip_separation": "mm",
    "dwell_time": "s",
    "effective_dwell": "s",
    "time_above_90": "s",
    "contact_time": "s",
    "punch_velocity": "mm/s",
    "strain_rate": "1/s",
    "weight": "mg",
    "solid_fraction": "1",
    "thickness": "mm",
    "tensile_strength": "MPa",
    "breaking_force": "N",
    "ejection_force": "N",
}
"""Unit of every setting and every figure of a tablet."""


def machine_settings(
    production: ProductionSide, press: RotaryPress, speed: Estimate
) -> dict[str, Estimate]:
    """Return the settings that follow from geometry and speed alone."""
    if speed.value is None:
        raise ValueError("a setting has a speed")
    return {
        "turret_speed": speed,
        "output": speed.times(production.output(1.0), "1/h"),
        "dwell_time": exactly(press.main.dwell_time(speed.value), "s"),
        "punch_velocity": exactly(press.main.punch_velocity(VELOCITY_TRAVEL, speed.value), "mm/s"),
    }


def settings_at(point: OperatingPoint, speed: Estimate, pressure: Estimate) -> Settings:
    """Return all settings of an operating point; speed and pressure with the bands needed."""
    process, pulse = point.process, point.pulse
    area = process.charge.tip_area
    no_pre = unavailable("N", _no_precompression(process.production))
    return Settings(
        main_pressure=pressure,
        main_force=pressure.times(area, "N"),
        precompression_force=pressure.times(area * process.pre_share, "N")
        if process.pre_share > 0.0 and process.press.pre is not None
        else no_pre,
        fill_depth=fill_depth(process.filling, process.charge.weight, process.side.tip),
        tip_separation=drawn(pulse.separation, "mm"),
        effective_dwell=drawn(point.effective_dwell, "s"),
        time_above_90=drawn(pulse.time_above_90, "s"),
        contact_time=drawn(pulse.contact_time, "s"),
        strain_rate=drawn(pulse.strain_rate, "1/s"),
        **machine_settings(process.production, process.press, speed),
    )


def _no_precompression(production: ProductionSide) -> str:
    if production.press.profile.pre_roller is None:
        return "this press has no precompression roller"
    return "the study asks for no precompression"


def tablet_at(point: OperatingPoint, weight: Estimate) -> Tablet:
    """Return the tablet that an operating point gives."""
    return Tablet(
        weight=weight,
        solid_fraction=drawn(point.solid_fraction, "1"),
        thickness=drawn(point.thickness, "mm"),
        tensile_strength=_drawn_or_not(point.strength, "MPa", NO_STRENGTH),
        breaking_force=breaking_force_of(point.breaking_force),
        ejection_force=_drawn_or_not(point.ejection_force, "N", NO_EJECTION),
    )


def breaking_force_of(draws: Array | None) -> Estimate:
    """Return a breaking force drawn in N, or why there is none."""
    return unavailable("N", NO_STRENGTH) if draws is None else drawn(draws, "N", absent=LOW_WALL)


def _drawn_or_not(draws: Array | None, unit: str, reason: str) -> Estimate:
    return unavailable(unit, reason) if draws is None else drawn(draws, unit)


def no_settings(reason: Words, **known: Estimate) -> Settings:
    """Return settings of which only those given are known."""
    return Settings(**_filled(Settings, reason, known))


def no_tablet(reason: Words, **known: Estimate) -> Tablet:
    """Return a tablet of which only the figures given are known."""
    return Tablet(**_filled(Tablet, reason, known))


def _filled(
    of: type[Settings | Tablet], reason: Words, known: dict[str, Estimate]
) -> dict[str, Estimate]:
    return {
        field.name: known.get(field.name, unavailable(UNITS[field.name], reason))
        for field in fields(of)
    }
