"""Equations given quantities: converted from any unit, refused where they measure other things."""

from __future__ import annotations

import inspect
from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pint import Quantity, UnitRegistry

from scaleup import equations
from scaleup.arrays import Array
from scaleup.equations import dwell_time, effective_dwell, solid_fraction, strength_round_flat
from scaleup.formula import Formula
from scaleup.io.units import registry

UNITS: UnitRegistry[Any] = UnitRegistry()

OTHERS = {
    "mm": ("m", "cm", "inch", "um"),
    "mm^3": ("cm^3", "ml", "m^3"),
    "N": ("kN", "lbf", "kgf", "mN"),
    "MPa": ("Pa", "psi", "bar", "N/mm^2", "kN/cm^2"),
    "s": ("ms", "min", "h"),
    "mg": ("g", "kg", "grain"),
    "mg/mm^3": ("g/cm^3", "kg/m^3", "g/ml"),
    "rpm": ("turn/second", "rad/s", "deg/ms", "revolution/hour"),
    "mm/s": ("m/s", "um/s", "inch/minute"),
    "N/mm": ("kN/mm", "MN/m", "lbf/inch"),
    "rad": ("deg", "mrad", "turn"),
    "1": ("percent", "dimensionless", "mm/m"),
}
"""Core unit: units to give it in, written out here on their own."""
ARGUMENTS: dict[str, dict[str, float | list[float]]] = {
    "axial_shortening": {"force": 4e4, "length": 101.4, "diameter": 19.0, "modulus": 2.1e5},
    "axial_stiffness": {"length": 101.4, "diameter": 19.0, "modulus": 2.1e5},
    "blend_true_density": {"shares": [0.7, 0.3], "densities": [1.55, 1.2]},
    "breaking_force_elongated": {"strength": 1.5, "width": 8.0, "thickness": 5.0, "wall": 3.0},
    "breaking_force_round_convex": {
        "strength": 1.5, "diameter": 10.0, "thickness": 5.0, "wall": 3.0,
    },
    "breaking_force_round_flat": {"strength": 1.5, "diameter": 10.0, "thickness": 4.0},
    "convex_cup_volume": {"depth": 1.2, "radius": 5.0},
    "crank_angle": {"travel": 1.35, "crank_radius": 20.0, "link_length": 160.0},
    "crank_travel": {"angle": 0.35, "crank_radius": 20.0, "link_length": 160.0},
    "crank_velocity": {"angle": 0.35, "crank_radius": 20.0, "link_length": 160.0, "speed": 60.0},
    "dwell_time": {"head_flat": 9.525, "pitch_circle": 410.0, "speed": 40.0},
    "dwell_time_arc": {"head_flat": 9.525, "pitch_circle": 410.0, "speed": 40.0},
    "effective_dwell": {
        "time": [0.0, 0.1, 0.6, 0.7], "pressure": [0.0, 150.0, 150.0, 0.0], "rate_exponent": 0.05,
    },
    "ejection_stress": {"force": 300.0, "perimeter": 31.4, "wall": 3.0},
    "elastic_recovery": {"in_die": 4.0, "ejected": 4.2},
    "mean_pressure_share": {"friction": 0.08, "height": 4.0, "width": 10.0},
    "plastic_densification": {
        "pressure": 150.0, "effective_dwell": 0.0065, "yield_pressure": 100.0,
        "rate_exponent": 0.05,
    },
    "pressure_ratio": {"dwell_from": 0.02, "dwell_to": 0.01, "rate_exponent": 0.054},
    "punch_angle": {
        "travel": 2.0, "pitch_circle": 410.0, "roller_radius": 125.0, "head_edge_radius": 15.9,
        "head_flat": 9.5,
    },
    "punch_travel": {
        "angle": 0.1, "pitch_circle": 410.0, "roller_radius": 125.0, "head_edge_radius": 15.9,
        "head_flat": 9.5,
    },
    "punch_velocity": {
        "angle": 0.1, "pitch_circle": 410.0, "roller_radius": 125.0, "head_edge_radius": 15.9,
        "head_flat": 9.5, "speed": 40.0,
    },
    "rate_exponent": {"sensitivity": 0.2, "slow": 0.033, "fast": 300.0},
    "series_stiffness": {"stiffness": [8.6e4, 5.2e4]},
    "solid_fraction": {"weight": 300.0, "volume": 235.6, "true_density": 1.54},
    "strength_after_shear": {"shear": 233.04, "loss": 0.4, "rate": 0.004},
    "strength_elongated": {"force": 100.0, "width": 8.0, "thickness": 5.0, "wall": 3.0},
    "strength_round_convex": {"force": 100.0, "diameter": 10.0, "thickness": 5.0, "wall": 3.0},
    "strength_round_flat": {"force": 100.0, "diameter": 10.0, "thickness": 4.0},
    "turret_speed_for_dwell": {"head_flat": 9.525, "pitch_circle": 410.0, "dwell": 0.011},
    "wall_friction": {"upper": 12000.0, "lower": 10560.0, "height": 4.0, "width": 10.0},
}  # fmt: skip
"""Every equation with numbers it holds for, in core units."""


def formula(name: str) -> Formula:
    found = getattr(equations, name)
    assert isinstance(found, Formula)
    return found


def answered(found: Formula, arguments: Mapping[str, Any]) -> Any:
    """Return the answer; many parts are given one by one."""
    kind = inspect.signature(found.function).parameters
    if any(each.kind is each.VAR_POSITIONAL for each in kind.values()):
        (parts,) = arguments.values()
        return found(*parts)
    return found(**arguments)


def quantity(value: float | list[float], core: str, other: str) -> Quantity[Any]:
    written = "dimensionless" if core == "1" else core
    return UNITS.Quantity(np.array(value, dtype=float)[()], written).to(other)


def test_every_equation_is_tried() -> None:
    assert set(ARGUMENTS) == set(equations.__all__)


@pytest.mark.parametrize("name", equations.__all__)
@given(data=st.data())
def test_any_unit_gives_the_answer_of_the_core_unit(name: str, data: st.DataObject) -> None:
    found, plain = formula(name), ARGUMENTS[name]
    told = answered(found, plain)
    some = {}
    for argument, value in plain.items():
        core = data.draw(st.sampled_from(found.units[argument]))
        other = data.draw(st.sampled_from((*OTHERS[core], None)))
        some[argument] = value if other is None else quantity(value, core, other)
    np.testing.assert_allclose(answered(found, some), told, rtol=1e-10)
    assert not hasattr(answered(found, some), "units")


@pytest.mark.parametrize(
    ("name", "argument"), [(name, each) for name, given in ARGUMENTS.items() for each in given]
)
def test_what_measures_something_else_is_refused_by_name(name: str, argument: str) -> None:
    found, plain = formula(name), ARGUMENTS[name]
    for wrong in ("3 kelvin", "2 mm^5", "1 deg" if "1" in found.units[argument] else "1 ampere"):
        value: Any = UNITS.Quantity(wrong)
        bad = [value, value] if isinstance(plain[argument], list) else value
        with pytest.raises(ValueError, match=f"^{argument} must be a plain number in .* found"):
            answered(found, {**plain, argument: bad})


def test_a_head_flat_in_cm_has_the_dwell_of_its_mm() -> None:
    flat: Any = UNITS.Quantity("0.9525 cm")
    circle: Any = UNITS.Quantity("410 mm")
    speed: Any = UNITS.Quantity("40 rpm")
    assert 1000.0 * dwell_time(flat, circle, speed) == pytest.approx(11.0933, abs=5e-5)


@pytest.mark.parametrize("units", [UNITS, registry()], ids=["usual", "ours"])
@pytest.mark.parametrize("text", ["2400 rpm", "40 Hz", "2400/min", "40/s"])
def test_a_turn_is_a_turn_whatever_the_library_counts(units: UnitRegistry[Any], text: str) -> None:
    speed: Any = units.Quantity(text)
    assert dwell_time(9.525, 410.0, speed) == pytest.approx(dwell_time(9.525, 410.0, 2400.0))


def test_a_pulse_may_be_told_as_force() -> None:
    force = UNITS.Quantity(np.array([0.0, 10.0, 10.0, 0.0]), "kN")
    time = UNITS.Quantity(np.array([0.0, 100.0, 600.0, 700.0]), "ms")
    assert effective_dwell(time, force, 0.25) == pytest.approx(0.54)


def test_quantities_in_a_list_or_an_array_of_objects_keep_their_units() -> None:
    each: list[Any] = [UNITS.Quantity("1 cm"), UNITS.Quantity("12 mm"), 11.0]
    objects = np.empty(3, dtype=object)
    objects[:] = each
    expected = strength_round_flat(100.0, [10.0, 12.0, 11.0], 4.0)
    lists: list[Any] = [each, tuple(each), objects]
    for several in lists:
        np.testing.assert_allclose(strength_round_flat(100.0, several, 4.0), expected)
    nested: Any = [[UNITS.Quantity("1 cm")], [12.0]]
    assert strength_round_flat(100.0, nested, 4.0).shape == (2, 1)


class Unconvertible:
    """What says its unit and cannot be asked for another."""

    units = "mm"

    def __float__(self) -> float:
        return 9.525


class Labelled(Unconvertible):
    """What converts to something that has no magnitude."""

    def to(self, _: str) -> Labelled:
        return self


class OtherName:
    """A quantity as another library has them, which numpy would take for its number."""

    unit = "cm"

    def __float__(self) -> float:
        return 0.9525


@pytest.mark.parametrize("kind", [Unconvertible, Labelled, OtherName])
def test_a_unit_that_cannot_be_converted_is_never_dropped(kind: type[Any]) -> None:
    with pytest.raises(ValueError, match="head_flat must be a plain number in mm or a quantity"):
        dwell_time(kind(), 410.0, 40.0)
    with pytest.raises(ValueError, match="head_flat must be a plain number in mm or a quantity"):
        dwell_time([9.5, kind()], 410.0, 40.0)


def test_a_nonsense_number_is_refused_after_conversion_too() -> None:
    with pytest.raises(ValueError, match="weight must be a finite number"):
        solid_fraction(UNITS.Quantity(float("nan"), "g"), 235.6, 1.54)


def test_an_equation_declares_every_number() -> None:
    def half(whole: Array) -> Array:
        return whole / 2.0

    with pytest.raises(TypeError, match="half: every argument that is a number has one unit"):
        Formula(half, {})
