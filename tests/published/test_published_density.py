"""The density table of a microcrystalline cellulose and what it refits to."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import linregress

TABLE = tomllib.loads(
    Path(__file__).with_name("cellulose_density.toml").read_text(encoding="utf-8"),
    parse_float=Decimal,
)
Printed = Callable[[Decimal], object]
Column = NDArray[np.float64]
Fit = Callable[[Column, Column], Column]


def _between(fit: str) -> tuple[Column, Column]:
    low, high = TABLE[fit]["from"], TABLE[fit]["to"]
    rows = [row for row in TABLE["row"] if low <= row["solid_fraction"] <= high]
    return (
        np.array([float(row["pressure"]) for row in rows]),
        np.array([float(row["solid_fraction"]) for row in rows]),
    )


def heckel(pressure: Column, fraction: Column) -> Column:
    """Return yield pressure, rearrangement and R² of the least-squares line."""
    line = linregress(pressure, -np.log(1 - fraction))
    return np.array([1 / line.slope, line.intercept, line.rvalue**2])


def kawakita(pressure: Column, fraction: Column) -> Column:
    """Return a, 1/b and R² of the least-squares line of P/C against P."""
    shrinkage = 1 - float(TABLE["kawakita"]["start_density"]) / fraction
    line = linregress(pressure, pressure / shrinkage)
    return np.array([1 / line.slope, line.intercept / line.slope, line.rvalue**2])


CASES = [
    (heckel, ["yield_pressure", "rearrangement", "r_squared"]),
    (kawakita, ["a", "one_over_b", "r_squared"]),
]


def _slack_of_rounded_pressures(fit: Fit, pressure: Column, fraction: Column) -> Column:
    """Return how far the constants can move while every pressure still rounds to the table's."""
    centre = fit(pressure, fraction)
    moves = [
        np.abs(fit(pressure + step, fraction) - centre) for step in 0.005 * np.eye(pressure.size)
    ]
    total: Column = np.sum(moves, axis=0)
    return total


@pytest.mark.parametrize(("fit", "names"), CASES)
def test_refit_of_the_table_as_printed(fit: Fit, names: list[str], printed: Printed) -> None:
    constants = fit(*_between(fit.__name__))
    for value, name in zip(constants, names, strict=True):
        assert value == printed(TABLE[fit.__name__]["as_printed"][name]), name


@pytest.mark.parametrize(("fit", "names"), CASES)
def test_quoted_constants_differ_by_no_more_than_rounding(fit: Fit, names: list[str]) -> None:
    """The quoted constants come from pressures before they were rounded to two decimals."""
    pressure, fraction = _between(fit.__name__)
    slack = _slack_of_rounded_pressures(fit, pressure, fraction)
    for value, name, play in zip(fit(pressure, fraction), names, slack, strict=True):
        quoted = TABLE[fit.__name__][name]
        half_a_unit = 0.5 * 10.0 ** quoted.as_tuple().exponent
        assert abs(value - float(quoted)) <= half_a_unit + play, name


def test_refit_yield_pressure_is_that_of_an_independent_measurement() -> None:
    """Akseli et al. 2011: 80 and 85 MPa, unlubricated and lubricated, within a tenth."""
    independent = TABLE["independent"]
    measured = [
        float(independent[name]["yield_pressure"]) for name in ("unlubricated", "lubricated")
    ]
    refit = heckel(*_between("heckel"))[0]
    assert 0.9 * min(measured) < refit < 1.1 * max(measured)
