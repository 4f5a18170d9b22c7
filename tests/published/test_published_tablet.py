"""Strength, density and ejection stress of tablets worked out by hand."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from decimal import Decimal
from math import pi
from pathlib import Path

import pytest

from scaleup.equations import (
    blend_true_density,
    breaking_force_round_flat,
    ejection_stress,
    solid_fraction,
    strength_elongated,
    strength_round_convex,
    strength_round_flat,
)

TABLE = tomllib.loads(
    Path(__file__).with_name("tablet.toml").read_text(encoding="utf-8"), parse_float=Decimal
)
Printed = Callable[[Decimal | int], object]


def _numbers(table: str, *keys: str) -> list[float]:
    return [float(TABLE[table][key]) for key in keys]


def test_flat_tablet(printed: Printed) -> None:
    strength = strength_round_flat(*_numbers("flat", "force", "diameter", "thickness"))
    assert strength == printed(TABLE["flat"]["strength"])


def test_force_that_breaks_a_flat_tablet(printed: Printed) -> None:
    force = breaking_force_round_flat(*_numbers("flat_back", "strength", "diameter", "thickness"))
    assert force == printed(TABLE["flat_back"]["force"])


def test_convex_tablet(printed: Printed) -> None:
    numbers = _numbers("convex", "force", "diameter", "thickness", "wall")
    assert strength_round_convex(*numbers) == printed(TABLE["convex"]["strength"])
    assert strength_elongated(*numbers) == printed(TABLE["convex"]["elongated_strength"])


def test_convex_equation_does_not_hold_for_a_flat_tablet(printed: Printed) -> None:
    diameter, thickness = _numbers("flat_by_convex_equation", "diameter", "thickness")
    convex = strength_round_convex(100.0, diameter, thickness, wall=thickness)
    flat = strength_round_flat(100.0, diameter, thickness)
    apart = 100 * (1 - convex / flat)
    assert apart == printed(TABLE["flat_by_convex_equation"]["apart_percent"])


def test_solid_fraction(printed: Printed) -> None:
    weight, diameter, thickness, density = _numbers(
        "solid_fraction", "weight", "diameter", "thickness", "true_density"
    )
    fraction = solid_fraction(weight, pi * diameter**2 / 4 * thickness, density)
    assert fraction == printed(TABLE["solid_fraction"]["solid_fraction"])


def test_true_density_of_a_blend(printed: Printed) -> None:
    row = TABLE["blend"]
    density = blend_true_density(
        [float(share) for share in row["shares"]], [float(value) for value in row["densities"]]
    )
    assert density == printed(row["true_density"])


def test_ejection_stress(printed: Printed) -> None:
    force, diameter, wall = _numbers("ejection", "force", "diameter", "wall")
    assert ejection_stress(force, pi * diameter, wall) == printed(TABLE["ejection"]["stress"])


def test_pressure_is_force_over_the_projected_area(printed: Printed) -> None:
    """A flat tablet as thick as half its radius has the same force per stress as its face."""
    force, diameter = _numbers("pressure", "force", "diameter")
    assert strength_round_flat(force, diameter, diameter / 2) == pytest.approx(
        float(TABLE["pressure"]["pressure"]), abs=0.005
    )
