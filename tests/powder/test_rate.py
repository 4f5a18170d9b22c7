"""Effective dwell and what it gives: exactness, limits and consistency."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import quad

from scaleup.equations import (
    effective_dwell,
    plastic_densification,
    pressure_ratio,
    rate_exponent,
)

EXPONENTS = st.floats(0.0, 0.5)
DURATIONS = st.floats(1e-4, 100.0)
RAMP_HOLD_RAMP = [0.0, 150.0, 150.0, 0.0]


@given(DURATIONS, DURATIONS, DURATIONS, EXPONENTS)
def test_ramp_hold_ramp_has_its_closed_form(
    up: float, hold: float, down: float, exponent: float
) -> None:
    dwell = effective_dwell(np.cumsum([0.0, up, hold, down]), RAMP_HOLD_RAMP, exponent)
    assert dwell == pytest.approx(hold + (up + down) * exponent / (1 + exponent), rel=1e-9)


@given(st.lists(st.floats(0.05, 1.0), min_size=3, max_size=8), st.floats(0.02, 0.5))
def test_exact_between_samples(shares: list[float], exponent: float) -> None:
    """Against adaptive quadrature of the interpolated pulse."""
    times = np.arange(len(shares), dtype=float)
    pressure = 200.0 * np.array(shares)
    total, _ = quad(
        lambda t: (np.interp(t, times, pressure) / pressure.max()) ** (1 / exponent),
        0.0,
        times[-1],
        points=times[1:-1],
        epsabs=1e-10,
        limit=200,
    )
    assert effective_dwell(times, pressure, exponent) == pytest.approx(total, rel=1e-7, abs=1e-9)


@given(
    st.lists(st.floats(0.0, 1.0), min_size=2, max_size=6),
    st.floats(0.0, 1.0),
    st.floats(0.005, 0.5),
)
def test_a_sample_on_the_line_changes_nothing(
    shares: list[float], where: float, exponent: float
) -> None:
    times = np.arange(len(shares) + 1, dtype=float)
    pressure = np.array([*shares, 1.0])
    cut = times[-1] * (0.001 + 0.998 * where)
    if np.min(np.abs(times - cut)) < 1e-6:
        return
    place = int(np.searchsorted(times, cut))
    finer = np.insert(pressure, place, np.interp(cut, times, pressure))
    refined = effective_dwell(np.insert(times, place, cut), finer, exponent)
    assert refined == pytest.approx(effective_dwell(times, pressure, exponent), rel=1e-9)


@given(st.floats(1e-12, 1e-3), st.floats(0.001, 0.5))
def test_a_nearly_flat_top_loses_no_digits(drop: float, exponent: float) -> None:
    """A fall by a small share costs ``drop/(2 m)`` to first order, ``drop²/m²/6`` at second."""
    dwell = effective_dwell([0.0, 1.0], [100.0, 100.0 * (1.0 - drop)], exponent)
    steep = drop / exponent
    assert 1.0 - steep / 2 - 1e-12 <= dwell <= 1.0 - steep / 2 + steep**2 / 6 + 1e-12


@pytest.mark.parametrize("exponent", [1e-3, 1e-6, 1e-12, 1e-200, 1e-305, 5e-324])
def test_tiny_exponents_neither_overflow_nor_lose_the_hold(exponent: float) -> None:
    dwell = effective_dwell([0.0, 0.1, 0.6, 0.7], RAMP_HOLD_RAMP, exponent)
    assert dwell == pytest.approx(0.5 + 0.2 * exponent, rel=1e-6)


def test_without_rate_only_time_at_the_peak_counts() -> None:
    time = [0.0, 1.0, 3.0, 4.0, 6.0, 9.0, 10.0]
    pressure = [0.0, 100.0, 100.0, 50.0, 50.0, 100.0, 100.0]
    assert effective_dwell(time, pressure, 0.0) == 3.0
    assert effective_dwell([0.0, 1.0, 2.0], [0.0, 100.0, 0.0], 0.0) == 0.0


@given(st.floats(1e-3, 1e3), st.floats(1e-3, 1e3), EXPONENTS)
def test_only_the_shape_of_the_pulse_counts(scale: float, stretch: float, m: float) -> None:
    time, pressure = np.array([0.0, 1.0, 2.0, 4.0]), np.array([3.0, 80.0, 100.0, 20.0])
    once = effective_dwell(time, pressure, m)
    assert effective_dwell(stretch * time, scale * pressure, m) == pytest.approx(stretch * once)
    reverse = effective_dwell(4.0 - time[::-1], pressure[::-1], m)
    assert reverse == pytest.approx(once, rel=1e-12)


def test_draws_lie_along_the_last_axis() -> None:
    time = np.array([0.0, 0.01, 0.03, 0.05])
    pulses = np.array([[0.0, 0.0], [90.0, 140.0], [100.0, 150.0], [0.0, 10.0]])
    exponents = np.array([0.02, 0.1])
    both = effective_dwell(time, pulses, exponents)
    apart = [effective_dwell(time, pulses[:, i], exponents[i]) for i in range(2)]
    assert both == pytest.approx(apart, rel=1e-14)
    times = np.stack([time, 2 * time], axis=1)
    assert effective_dwell(times, pulses, 0.02)[1] == pytest.approx(
        2 * effective_dwell(time, pulses[:, 1], 0.02)
    )
    one_pulse = effective_dwell(time, pulses[:, 0], exponents)
    assert one_pulse.shape == (2,)
    assert one_pulse[1] > one_pulse[0]


def test_a_pulse_of_many_draws_is_the_same_as_one_by_one() -> None:
    """Many draws are worked on some samples at a time."""
    rng = np.random.default_rng(5)
    time = np.cumsum(rng.uniform(0.5, 1.5, 37))
    pressure = np.sin(np.linspace(0.05, 3.0, 37))[:, None] * rng.uniform(0.9, 1.1, (37, 4000))
    exponents = rng.uniform(0.01, 0.1, 4000)
    every = effective_dwell(time, pressure, exponents)
    for draw in (0, 1234, 3999):
        alone = effective_dwell(time, pressure[:, draw], exponents[draw])
        assert every[draw] == pytest.approx(alone, rel=1e-12)


@pytest.mark.parametrize(
    ("time", "pressure", "message"),
    [
        ([0.0, 1.0, 1.0], [0.0, 1.0, 0.0], "time must be increasing from sample to sample"),
        ([0.0, 2.0, 1.0], [0.0, 1.0, 0.0], "time must be increasing from sample to sample"),
        ([0.0, 1.0], [0.0, -1.0], "pressure must be 0 or more, found -1"),
        ([0.0, 1.0], [0.0, 0.0], "peak pressure must be above 0"),
        ([0.0, 1.0], [0.0, 1.0, 0.0], "the same number of samples"),
        ([0.0], [1.0], "at least two"),
        ([0.0, 1.0], [0.0, float("nan")], "pressure must be a finite number"),
    ],
)
def test_what_is_no_pulse_is_refused(
    time: list[float], pressure: list[float], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        effective_dwell(time, pressure, 0.05)


def test_negative_exponents_are_refused() -> None:
    with pytest.raises(ValueError, match="rate_exponent must be 0 or more"):
        effective_dwell([0.0, 1.0], [0.0, 1.0], -0.01)
    with pytest.raises(ValueError, match="rate_exponent must be 0 or more"):
        plastic_densification(100.0, 1.0, 100.0, -0.01)
    with pytest.raises(ValueError, match="rate_exponent must be 0 or more"):
        pressure_ratio(1.0, 1.0, -0.01)


@pytest.mark.parametrize("dwell", [0.0, 1e-300, 0.01, 1e6])
def test_without_rate_the_law_is_heckel(dwell: float) -> None:
    """80 MPa on a yield pressure of 64 MPa is 1.25, whatever the dwell."""
    assert plastic_densification(80.0, dwell, 64.0, 0.0) == 1.25


def test_a_small_exponent_nears_heckel() -> None:
    q = plastic_densification(80.0, 0.01, 64.0, np.array([1e-3, 1e-6, 1e-9, 1e-12]))
    distance = np.abs(q - 1.25)
    assert np.all(np.diff(distance) < 0.0)
    assert distance[-1] < 1e-10


@given(st.floats(1.0, 500.0), DURATIONS, st.floats(1.0, 100.0), EXPONENTS)
def test_more_dwell_never_weakens(
    pressure: float, dwell: float, longer: float, exponent: float
) -> None:
    before = plastic_densification(pressure, dwell, 100.0, exponent)
    assert plastic_densification(pressure, longer * dwell, 100.0, exponent) >= before


@given(st.floats(1.0, 500.0), DURATIONS, DURATIONS, EXPONENTS)
def test_pressure_ratio_leaves_the_same_tablet(
    pressure: float, here: float, there: float, exponent: float
) -> None:
    q = plastic_densification(pressure, here, 100.0, exponent)
    paid = pressure * pressure_ratio(here, there, exponent)
    assert plastic_densification(paid, there, 100.0, exponent) == pytest.approx(q, rel=1e-12)


@given(DURATIONS, DURATIONS, DURATIONS, EXPONENTS)
def test_pressure_ratios_chain(a: float, b: float, c: float, exponent: float) -> None:
    """There and back is no change, and a way over a third press is the direct way."""
    direct = pressure_ratio(a, c, exponent)
    assert pressure_ratio(a, b, exponent) * pressure_ratio(b, c, exponent) == pytest.approx(direct)
    assert pressure_ratio(a, a, exponent) == 1.0


def test_no_dwell_counts_only_where_rate_does() -> None:
    assert pressure_ratio(0.0, 1.0, 0.0) == 1.0
    with pytest.raises(ValueError, match="dwell_to must be above 0, found 0"):
        pressure_ratio(1.0, 0.0, 0.05)
    assert plastic_densification(100.0, 0.0, 100.0, 0.05) == 0.0
    assert plastic_densification(0.0, 1.0, 100.0, 0.05) == 0.0


def _grow(q: float, pressure: float, duration: float, m: float) -> float:
    """Step the rate form of the law with a classical Runge-Kutta scheme."""

    def rate(state: float) -> float:
        growth: float = m / (1 + m) * (pressure / (100.0 * state)) ** (1 / m)
        return growth

    steps = 20_000
    h = duration / steps
    for _ in range(steps):
        k1 = rate(q)
        k2 = rate(q + h * k1 / 2)
        k3 = rate(q + h * k2 / 2)
        k4 = rate(q + h * k3)
        q += h * (k1 + 2 * k2 + 2 * k3 + k4) / 6
    return q


def test_effective_dwells_of_two_pulses_add_up_in_the_rate_form() -> None:
    """Two holds at 120 MPa, one after the other, do as much as one of their total time."""
    m = 0.25
    first = plastic_densification(120.0, 0.2, 100.0, m)
    stepped = _grow(float(first), 120.0, 0.3, m)
    assert stepped == pytest.approx(plastic_densification(120.0, 0.5, 100.0, m), rel=1e-9)


@pytest.mark.parametrize(
    ("sensitivity", "slow", "fast", "relative_to", "message"),
    [
        (1.0, 0.033, 300.0, "fast", "sensitivity must be below 1 when relative to fast"),
        (-0.1, 0.033, 300.0, "slow", "sensitivity must be 0 or more"),
        (0.2, 300.0, 0.033, "fast", "fast must be a higher speed than slow"),
        (0.2, 300.0, 300.0, "fast", "fast must be a higher speed than slow"),
        (0.2, 0.0, 300.0, "fast", "slow must be above 0"),
        (0.2, 0.033, 300.0, "mean", 'relative_to must be "fast" or "slow", found "mean"'),
    ],
)
def test_impossible_sensitivities_are_refused(
    sensitivity: float, slow: float, fast: float, relative_to: str, message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        rate_exponent(sensitivity, slow, fast, relative_to)


def test_sensitivity_relative_to_slow_has_no_upper_bound() -> None:
    """A yield pressure that doubles over one decade: lg 2."""
    assert rate_exponent(1.0, 1.0, 10.0, relative_to="slow") == pytest.approx(0.30103, abs=5e-6)
    assert rate_exponent(0.5, 1.0, 10.0) == pytest.approx(0.30103, abs=5e-6)


def test_exponents_of_a_table_at_once() -> None:
    table: NDArray[np.float64] = rate_exponent(np.array([0.0, 0.2, 0.4]), 0.033, 300.0)
    assert table[0] == 0.0
    assert np.all(np.diff(table) > 0.0)
