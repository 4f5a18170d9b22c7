"""The hardening forms against printed digits, Lambert's W and the usual plots."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.special import lambertw

from scaleup.arrays import Array
from scaleup.powder.hardening import Hardening, Heckel, Kawakita, KuentzLeuenberger

HERE = Path(__file__).parent


def one(value: float) -> Array:
    return np.array([value])


def solid_fraction(form: Hardening, pressure: float | Array) -> Array:
    found: Array = -np.expm1(-form.densification(np.asarray(pressure, dtype=float)))
    return found


def test_kuentz_leuenberger_prints_the_digits(
    printed: Callable[[Decimal | int], object],
) -> None:
    source = tomllib.loads(
        (HERE / "kuentz_leuenberger.toml").read_text(encoding="utf-8"), parse_float=Decimal
    )
    critical = float(source["critical_porosity"])
    form = KuentzLeuenberger(
        one(critical / float(source["susceptibility"])), -np.log(one(critical))
    )
    for row in source["row"]:
        found = float(solid_fraction(form, one(float(row["pressure"])))[0])
        assert found == printed(row["solid_fraction"])
    named = {name: float(values[0]) for name, values, _ in form.named()}
    assert named == pytest.approx({"C": 0.005, "eps_c": 0.7})


def test_kuentz_leuenberger_is_lamberts_function() -> None:
    """scipy's Lambert W, its branch 0, over eight decades of pressure."""
    load: Array = np.geomspace(1e-6, 50.0, 400)
    form = KuentzLeuenberger(np.full(400, 130.0), np.full(400, 0.5))
    argument: Array = -np.exp(-1.0 - load)
    remaining = -lambertw(argument.tolist()).real
    assert form.densification(130.0 * load) == pytest.approx(0.5 - np.log(remaining), abs=1e-12)


def test_kuentz_leuenberger_obeys_its_defining_equation() -> None:
    critical, susceptibility = 0.62, 0.0043
    form = KuentzLeuenberger(np.full(50, critical / susceptibility), np.full(50, -np.log(critical)))
    pressure = np.linspace(1.0, 600.0, 50)
    porosity = np.exp(-form.densification(pressure))
    given = (porosity - critical - critical * np.log(porosity / critical)) / susceptibility
    assert given == pytest.approx(pressure, rel=1e-10)


def test_kawakita_is_a_straight_line_of_pressure_over_reduction() -> None:
    """``P/C = P/a + 1/(a b)`` with the reduction of volume C, as it is usually plotted."""
    porosity, b = 0.55, 0.013
    loose = 1.0 - porosity
    form = Kawakita(np.full(30, 1.0 / (b * loose)), np.full(30, -np.log(porosity)))
    pressure = np.linspace(5.0, 400.0, 30)
    reduction = 1.0 - loose / solid_fraction(form, pressure)
    slope, intercept = np.polyfit(pressure, pressure / reduction, 1)
    assert 1.0 / slope == pytest.approx(porosity, rel=1e-9)
    assert slope / intercept == pytest.approx(b, rel=1e-9)


def test_a_bent_form_follows_quasi_static_cellulose_closer_than_a_straight_line() -> None:
    """Porosities of 0.6 down to 0.07 in one published table; Heckel bends at the loose end."""
    rows = tomllib.loads((HERE / "cellulose_density.toml").read_text(encoding="utf-8"))["row"]
    pressure = np.array([row["pressure"] for row in rows])
    dense = np.array([row["solid_fraction"] for row in rows])

    def misfit(build: Callable[[float, float], Hardening], start: tuple[float, float]) -> float:
        def off(x: Array) -> Array:
            found: Array = solid_fraction(build(float(x[0]), float(x[1])), pressure) - dense
            return found

        return float(np.sqrt(np.mean(least_squares(off, start).fun ** 2)))

    straight = misfit(lambda a, b: Heckel(one(np.exp(a)), one(b)), (4.0, 0.5))
    bent = misfit(lambda a, b: KuentzLeuenberger(one(np.exp(a)), one(np.exp(b))), (4.0, -1.0))
    assert bent < 0.01
    assert bent < 0.4 * straight
