"""The law of one pulse: what follows from it without solving for a path of the tips."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from scaleup.arrays import Array
from scaleup.powder.hardening import Heckel
from scaleup.powder.law import Powder

Y, A = 150.0, 0.7


def powder(m: float, tested: float = 0.0, curvature: float = 0.0) -> Powder:
    one = np.ones(1)
    return Powder(Heckel(Y * one, A * one), m * one, 500.0 * one, tested * one, curvature * one)


def of(value: float) -> Array:
    return np.array([value])


@pytest.mark.parametrize("m", [0.02, 0.05, 0.1])
def test_the_closed_line_is_the_integrated_rate(m: float) -> None:
    """A triangle of pressure through the rate form, by an explicit Runge-Kutta method."""
    rise, peak, start = 0.03, 180.0, 0.4

    def pressure(time: float) -> float:
        return peak * (1.0 - abs(time / rise - 1.0))

    def rate(time: float, state: Array) -> Array:
        flow: Array = m / (1.0 + m) * Y * (pressure(time) / state) ** (1.0 / m)
        return flow

    first = start * rise
    head = Y * ((pressure(first) / Y) * (first * m / (1.0 + m)) ** m) ** (1.0 / (1.0 + m))
    solved = solve_ivp(
        rate, (first, 2.0 * rise), [head], method="LSODA", rtol=1e-9, atol=1e-12, max_step=1e-4
    )
    dwell = 2.0 * rise * m / (1.0 + m)
    assert powder(m).static_pressure(of(peak), of(dwell))[0] == pytest.approx(
        solved.y[0, -1], rel=1e-5
    )


@given(
    m=st.floats(0.0, 0.15),
    pressure=st.floats(10.0, 500.0),
    dwell=st.floats(1e-4, 100.0),
    tested=st.floats(1e-3, 10.0),
    curvature=st.floats(-0.6, 0.6),
)
def test_the_pressure_for_a_state_is_the_law_inverted(
    m: float, pressure: float, dwell: float, tested: float, curvature: float
) -> None:
    of_law = powder(m, tested, curvature)
    state = of_law.static_pressure(of(pressure), of(dwell))
    assert of_law.peak_pressure(state, of(dwell)) == pytest.approx(pressure, rel=1e-10)


def test_equal_pressure_and_dwell_make_the_same_tablet_whatever_the_speed_of_before() -> None:
    """Two pulses of 0.25 s each leave what one of 0.5 s does; half the time leaves less."""
    law = powder(0.06)
    whole = law.solid_fraction_after(of(120.0), of(0.5))
    half = law.solid_fraction_after(of(120.0), of(0.25))
    assert half[0] < whole[0]
    paid = law.solid_fraction_after(of(120.0 * 2.0**0.06), of(0.25))
    assert paid == pytest.approx(whole, rel=1e-12)


def test_without_rate_the_tablet_is_heckels_at_any_dwell() -> None:
    """Heckel 1961: ``ln(1/(1 - SF)) = A + P/Y``."""
    for dwell in (0.0, 1e-3, 10.0):
        solid = powder(0.0).solid_fraction_after(of(150.0), of(dwell))
        assert np.log(1.0 / (1.0 - solid)) == pytest.approx(1.7)


def test_two_decades_below_the_middle_dwell() -> None:
    """m 0.03, c 0.25 a decade: ``10^(0.03 (2 - 0.25 * 2))`` of pressure, 1.1482 with c 0."""
    for curvature, ratio in ((0.25, 1.1092), (0.0, 1.1482)):
        law = powder(0.03, tested=0.5, curvature=curvature)
        state = law.static_pressure(of(100.0), of(0.5))
        assert law.peak_pressure(state, of(0.5e-2)) == pytest.approx(100.0 * ratio, abs=5e-3)


def test_decades_are_counted_from_the_shortest_tested_dwell() -> None:
    one = np.ones(1)
    law = Powder(Heckel(Y * one, A * one), 0.04 * one, one, 1.0 * one, 0.2 * one, 10.0 * one)
    assert law.decades_beyond(of(1e-2)) == pytest.approx(2.0)
    assert law.decades_beyond(of(2.0)) == 0.0
    assert law.decades_from_middle(of(1.0)) == pytest.approx(-1.0)


def test_draws_are_counted_and_chosen() -> None:
    m = np.array([0.02, 0.04, 0.06])
    one = np.ones(3)
    three = Powder(Heckel(Y * one, A * one), m, 500.0 * one, one, one)
    assert three.draws == 3
    some = three.chosen(np.array([0, 2]))
    assert some.draws == 2
    assert some.rate_exponent.tolist() == [0.02, 0.06]


def test_where_the_exponent_is_used_up_the_dwell_stops_mattering() -> None:
    """Half lost for each decade down: nothing is left after two, ``10^(-m (2 - 1))`` there."""
    fading = powder(0.04, tested=1.0, curvature=0.5)
    assert fading.dwell_factor(of(0.1)) == pytest.approx(10.0 ** (-0.04 * 0.75))
    for decades in (2.0, 2.5, 4.0):
        assert fading.dwell_factor(of(10.0**-decades)) == pytest.approx(10.0**-0.04)
    longer = powder(0.04, tested=1.0, curvature=-0.5)
    assert longer.dwell_factor(of(1e3)) == pytest.approx(10.0**0.04)


@pytest.mark.parametrize(
    ("curvature", "dwell", "exponent"),
    [(-0.25, 1e-2, 0.06), (0.25, 10.0, 0.05), (0.25, 0.1, 0.03), (0.5, 1e-3, 0.0)],
)
def test_the_exponent_at_a_dwell(curvature: float, dwell: float, exponent: float) -> None:
    """``m (1 + c l)``, never below 0; it is the slope of ln(dwell factor) over ln(dwell)."""
    law = powder(0.04, tested=1.0, curvature=curvature)
    assert law.exponent_at(of(dwell)) == pytest.approx(exponent)
    rise = np.log(law.dwell_factor(of(dwell * 1.001)) / law.dwell_factor(of(dwell / 1.001)))
    assert rise / (2.0 * np.log(1.001)) == pytest.approx(exponent, abs=1e-6)


@given(
    m=st.floats(0.0, 0.1),
    curvature=st.floats(-1.0, 1.0),
    decades=st.floats(-3.0, 3.0),
    more=st.floats(0.0, 0.5),
)
def test_more_dwell_never_weakens_whatever_the_exponent_does(
    m: float, curvature: float, decades: float, more: float
) -> None:
    law = powder(m, tested=1.0, curvature=curvature)
    short = law.static_pressure(of(150.0), of(10.0**decades))
    long = law.static_pressure(of(150.0), of(10.0 ** (more + decades)))
    assert long[0] >= short[0] * (1.0 - 1e-12)


@given(density=st.floats(0.75, 3.0))
def test_a_hardening_curve_its_slope_and_its_inverse(density: float) -> None:
    curve = Heckel(of(Y), of(A))
    state = curve.static_pressure(of(density))
    assert curve.densification(state) == pytest.approx(density, rel=1e-12)
    rise = curve.densification(state + 0.5) - curve.densification(state - 0.5)
    assert curve.slope(state) == pytest.approx(rise, rel=1e-9)
