"""The strength curve at points worked out by hand, its inverse, and how it is drawn from runs."""

from __future__ import annotations

import numpy as np
import pytest

from scaleup.arrays import Flags
from scaleup.calibration.makers import Makers
from scaleup.calibration.strength_curve import (
    FEEDER_BELIEF,
    LEAST_SLOPE,
    LineBelief,
    StrengthCurve,
    draw_ejection_line,
    draw_lines,
    draw_strength_curve,
)

CURVE = StrengthCurve(np.array([10.0, 12.0]), np.array([8.0, 6.0]), np.array([1.0, 0.9]), True)


def test_a_tenth_of_pores_takes_a_tenth_of_the_exponent() -> None:
    """10 e^-0.8 and 12 e^-0.6; the feeder takes a tenth of the second."""
    solid = np.full(2, 0.9)
    assert CURVE.strength(solid) == pytest.approx([4.49329, 6.58574], rel=1e-5)
    assert CURVE.in_production(solid) == pytest.approx([4.49329, 5.92717], rel=1e-5)


def test_the_solid_fraction_of_a_strength() -> None:
    """Half of the strength of the solid takes ln 2 / b of pores; more than it, more than 1."""
    assert CURVE.solid_fraction(5.0)[0] == pytest.approx(1.0 - 0.693147 / 8.0)
    assert CURVE.solid_fraction(6.0)[1] == pytest.approx(1.0 - 0.693147 / 6.0)
    assert CURVE.solid_fraction(11.0)[0] > 1.0 > CURVE.solid_fraction(11.0)[1]


def test_lines_from_few_runs_agree_with_integration_on_a_grid() -> None:
    """Four runs of unlike weight beside a belief that counts, summed over (c_0, c_1, ln scatter).

    The usual scatter is 0.08, worth three runs; a coefficient's belief is as much wider than stated
    as the scatter is than usual, which makes the posterior an exact one.
    """
    x, weights = np.array([-0.2, -0.15, -0.1, -0.05]), np.array([0.5, 1.5, 1.2, 0.8])
    y, belief = np.array([0.9, 1.1, 1.75, 1.9]), LineBelief((2.2, 5.0), (0.25, 2.0))
    c_0, c_1 = np.linspace(1.0, 3.6, 131)[:, None, None], np.linspace(-9, 22, 131)[None, :, None]
    log_scatter = np.linspace(np.log(0.02), np.log(0.8), 90)
    scatter = np.exp(log_scatter)
    squares = sum(
        w * (c_0 + c_1 * at - value) ** 2 for at, value, w in zip(x, y, weights, strict=True)
    )
    beliefs = sum(
        ((c - centre) / spread) ** 2
        for c, centre, spread in zip((c_0, c_1), belief.centre, belief.spread, strict=True)
    )
    log_weight = (
        -0.5 * squares / scatter**2
        - 0.5 * beliefs * (0.08 / scatter) ** 2
        - 0.5 * 3.0 * (0.08 / scatter) ** 2
        - (4.0 + 2.0 + 3.0) * log_scatter
    )
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()

    rows = np.repeat(x[:, None], 60_000, axis=1)
    rng = np.random.default_rng(5)
    drawn, scatters = draw_lines(np.stack([np.ones_like(rows), rows]), y, weights, belief, rng)
    for values, grid, axes in (
        (drawn[0], c_0.ravel(), (1, 2)),
        (drawn[1], c_1.ravel(), (0, 2)),
        (np.log(scatters), log_scatter, (0, 1)),
    ):
        share = weight.sum(axis=axes)
        mean = float(share @ grid)
        deviation = float(np.sqrt(share @ (grid - mean) ** 2))
        assert values.mean() == pytest.approx(mean, abs=0.03 * deviation)
        assert values.std() == pytest.approx(deviation, rel=0.03)
    middle = weight.sum(axis=2)
    together = np.einsum("ij,i,j->", middle, c_0.ravel(), c_1.ravel())
    apart = (middle.sum(axis=1) @ c_0.ravel()) * (middle.sum(axis=0) @ c_1.ravel())
    assert np.cov(drawn)[0, 1] == pytest.approx(together - apart, rel=0.05)


def drawn_from(produced: Flags, factor: float, slope: float = 9.0) -> StrengthCurve:
    """Return the curve of 24 runs on 10 exp(-slope (1 - SF)), those in production times a factor.

    The second half of the draws sees every tablet denser by 0.02, as a fit may.
    """
    solid = np.linspace(0.72, 0.9, 24)
    strength = 10.0 * np.exp(-slope * (1.0 - solid)) * np.where(produced, factor, 1.0)
    seen = np.repeat(solid[:, None], 400, axis=1)
    seen[:, 200:] += 0.02
    weights, rng = np.ones(24), np.random.default_rng(3)
    makers = Makers(24, "production" if produced.all() else "lab")
    if produced.any() and not produced.all():
        makers = Makers(24, "lab", {"production": produced})
    believed = dict.fromkeys(makers.others, FEEDER_BELIEF)
    drawn = draw_strength_curve(seen, strength, weights, makers, None, believed, rng)
    assert drawn.scatter.shape == (400,)
    if slope > 0.0:
        assert np.median(drawn.scatter) < 0.04  # none was put in; the usual one is worth three runs
    return drawn.curve


def test_both_kinds_of_runs_give_one_curve_and_the_factor_between_them() -> None:
    curve = drawn_from(np.arange(24) % 3 == 0, 0.8)
    assert curve.feeder_known
    assert np.mean(curve.feeder) == pytest.approx(0.8, rel=0.01)
    assert np.mean(curve.porosity_exponent) == pytest.approx(9.0, rel=0.03)
    assert np.mean(curve.strength_of_solid[:200]) == pytest.approx(10.0, rel=0.03)
    assert np.mean(curve.strength_of_solid[200:]) == pytest.approx(10.0 * np.exp(-0.18), rel=0.03)
    assert np.mean(curve.in_production(np.full(400, 0.85))[:200]) == pytest.approx(
        8.0 * np.exp(-9.0 * 0.15), rel=0.02
    )


@pytest.mark.parametrize("kind", [True, False], ids=["production alone", "lab alone"])
def test_one_kind_of_runs_knows_no_factor(kind: bool) -> None:
    curve = drawn_from(np.full(24, kind), 1.0)
    assert not curve.feeder_known
    assert np.all(curve.feeder == 1.0)
    assert np.mean(curve.porosity_exponent) == pytest.approx(9.0, rel=0.03)


def test_a_curve_that_falls_is_kept_above_the_least_slope() -> None:
    """It is turned about the middle of the runs, so their strength stays what was measured."""
    curve = drawn_from(np.zeros(24, dtype=bool), 1.0, slope=-5.0)
    assert np.all(curve.porosity_exponent == LEAST_SLOPE)
    at_middle = curve.strength(np.full(400, 0.81))[:200]
    assert np.mean(at_middle) == pytest.approx(10.0 * np.exp(5.0 * 0.19), rel=0.02)


def test_ejection_stress_grows_with_a_power_of_the_pressure() -> None:
    pressure = np.geomspace(50.0, 300.0, 12)
    rng = np.random.default_rng(2)
    line = draw_ejection_line(pressure, 0.03 * pressure**0.8, np.ones(12), 500, rng)
    assert np.mean(line.exponent) == pytest.approx(0.8, abs=0.02)
    assert np.mean(line.stress(np.full(500, 200.0))) == pytest.approx(0.03 * 200.0**0.8, rel=0.02)
