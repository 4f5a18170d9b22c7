"""Check values of the terms between lab and plant."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from scaleup.calibration.plant.shear import ShearCurve
from scaleup.model.transfer_terms import Blending
from scaleup.powder.hardening import Heckel
from scaleup.powder.law import Powder
from scaleup.powder.shear import strength_after_shear
from scaleup.powder.wall_friction import mean_pressure_share, wall_friction

TABLE = tomllib.loads(
    Path(__file__).with_name("transfer_terms.toml").read_text(encoding="utf-8"),
    parse_float=Decimal,
)
SHEAR, FRICTION, CURVATURE = TABLE["shear"], TABLE["friction"], TABLE["curvature"]
LOSS, RATE = float(SHEAR["loss"]), float(SHEAR["rate"])
Printed = Callable[[Decimal | int], object]


def blender(row: dict[str, Decimal]) -> Blending:
    return Blending(
        volume=float(row["volume"]) * 1e6,
        headspace=float(SHEAR["headspace"]),
        revolutions=int(SHEAR["turns"]),
    )


@pytest.mark.parametrize("row", SHEAR["row"], ids=lambda row: f"{row['volume']} L")
def test_shear_of_a_blender_and_what_it_leaves(row: dict[str, Decimal], printed: Printed) -> None:
    shear = blender(row).shear
    assert shear is not None
    assert shear == printed(row["K"])
    assert strength_after_shear(shear, LOSS, RATE) == printed(row["phi"])


def test_the_larger_blender_over_the_smaller(printed: Printed) -> None:
    """The factor that a curve of runs puts on the strength of the production blend."""
    large, small = (blender(row).shear for row in SHEAR["row"])
    assert small is not None
    curve = ShearCurve(np.array([LOSS]), np.array([RATE]), small, 3)
    assert np.exp(curve.log_strength(np.array([large])))[0] == printed(SHEAR["ratio"])


@pytest.mark.parametrize("sides", ["one", "two"])
def test_mean_pressure_in_the_powder(sides: str, printed: Printed) -> None:
    size = float(FRICTION["height"]), float(FRICTION["diameter"])
    share = mean_pressure_share(float(FRICTION["mu_kappa"]), *size, sides)
    assert share == printed(FRICTION[f"{sides}_sided"])


def test_the_friction_comes_back_from_the_force_below() -> None:
    """``F_lower = F exp(-4 mu kappa H / D)``."""
    height, diameter = float(FRICTION["height"]), float(FRICTION["diameter"])
    given = float(FRICTION["mu_kappa"])
    lower = 12000.0 * np.exp(-4.0 * given * height / diameter)
    assert wall_friction(12000.0, lower, height, diameter) == pytest.approx(given, rel=1e-12)


@pytest.mark.parametrize("row", CURVATURE["row"], ids=lambda row: f"c {row['change']}")
def test_pressure_two_decades_below_the_middle_dwell(
    row: dict[str, Decimal], printed: Printed
) -> None:
    one = np.ones(1)
    powder = Powder(
        Heckel(100.0 * one, 0.6 * one),
        float(CURVATURE["exponent"]) * one,
        500.0 * one,
        one,
        float(row["change"]) * one,
    )
    state = 80.0 * one
    there = powder.peak_pressure(state, 10.0 ** float(CURVATURE["decades"]) * one)
    assert (there / powder.peak_pressure(state, one))[0] == printed(row["ratio"])
