"""Watt & Armstrong 2008: what a press does under load and in time."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from decimal import Decimal
from math import pi, radians
from pathlib import Path
from types import ModuleType

import pytest
from scipy.optimize import brentq

from scaleup.equations import axial_shortening, crank_angle, crank_travel, series_stiffness

TABLE = tomllib.loads(
    Path(__file__).with_name("watt_armstrong_machine.toml").read_text(encoding="utf-8"),
    parse_float=Decimal,
)


def test_barrel_under_load(printed: Callable[[Decimal | int], object]) -> None:
    row = TABLE["barrel"]
    force, length = float(row["force"]), float(row["length"])
    shortening = axial_shortening(force, length, float(row["diameter"]), float(row["modulus"]))
    assert 1000 * shortening == printed(row["shortening"])
    assert 1e6 * shortening / length == printed(row["microstrain"])


def test_barrel_by_its_printed_area() -> None:
    """A rod of 1 mm² per mm² of the printed area: independent of the diameter's square."""
    row = TABLE["barrel"]
    area = float(row["area"])
    unit_diameter = (4 / pi) ** 0.5
    one = axial_shortening(1.0, 1.0, unit_diameter, 1.0)
    whole = axial_shortening(float(row["force"]), 1.0, float(row["diameter"]), 1.0)
    assert one == pytest.approx(1.0, rel=1e-12)
    assert float(row["force"]) / whole == pytest.approx(area, abs=0.05)


def test_roller_assemblies_in_series(printed: Callable[[Decimal], object]) -> None:
    row = TABLE["rollers"]
    both = series_stiffness(float(row["upper"]), float(row["lower"]))
    assert both / 1000 == printed(row["in_series"])


@pytest.mark.parametrize("rod_over_crank", [3.0, 8.0, 30.0])
def test_time_of_an_eccentric_punch_in_the_die(
    rod_over_crank: float, printed: Callable[[Decimal | int], object]
) -> None:
    """Timing only: the crank that stands 5.0 mm above bottom at this angle, for any rod."""
    row = TABLE["eccentric"]
    half_turn_share = radians(float(row["bottom"]) - float(row["angle"]))
    depth = float(row["depth"])
    crank = brentq(
        lambda e: crank_travel(half_turn_share, e, rod_over_crank * e) - depth, 1.0, 100.0
    )
    inside = 2 * crank_angle(depth, crank, rod_over_crank * crank)
    assert inside * 180 / pi == printed(row["turn_in_die"])
    assert 100 * inside / (2 * pi) == printed(row["share_in_die"])
    assert inside / (2 * pi) * 60 / float(row["speed"]) == printed(row["time_in_die"])


@pytest.mark.slow
def test_pressure_peaks_before_the_centre(radau_twin: ModuleType) -> None:
    """Müller & Caspar 1984: with travel left, about 20 µm for cellulose and 10 µm for lactose.

    Their press and tablets are not described, so the order and the order of magnitude are what
    can be checked: powders of the published rate exponents on an invented 40 rev/min press.
    """
    published = TABLE["peak_before_centre"]
    motion = radau_twin.rotary(410, 125, 15.875, 9.525, 40)
    charge = radau_twin.Charge(400, 1.55, pi * 25)
    left = {}
    for name, yield_pressure, exponent in (("cellulose", 86, 0.054), ("lactose", 170, 0.0194)):
        powder = radau_twin.Powder(yield_pressure, 0.62, exponent, 600)
        pulse = radau_twin.compress(motion, powder, charge, separation=3.75)
        assert pulse.peak_time < 0.0
        left[name] = 1000 * motion.opening(pulse.peak_time)
        assert published[name] / 4 < left[name] < published[name] * 4
    assert left["cellulose"] > left["lactose"]
