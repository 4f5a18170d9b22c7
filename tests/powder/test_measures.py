"""Figures read off a solved pulse, each on a pulse whose figure is known exactly."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from scaleup.arrays import Array
from scaleup.powder.charge import Charge
from scaleup.powder.measures import (
    closing_strain_rate,
    crossings,
    effective_dwell_of,
    interpolated_peak,
)


def logs(pressure: Array) -> Array:
    """Return the logarithm as the solver gives it, none at all as next to none."""
    return np.log(np.maximum(pressure, 1e-9))


UNEVEN = np.array([0.0, 0.9, 1.5, 1.8, 2.6, 3.9, 4.4, 5.0])


@given(top=st.floats(0.95, 4.3), height=st.floats(50.0, 300.0), bend=st.floats(0.5, 3.0))
def test_the_peak_of_a_parabola_is_its_own_wherever_it_is_sampled(
    top: float, height: float, bend: float
) -> None:
    """Uneven samples, two draws: the second twice the first."""
    one = height - bend * (UNEVEN - top) ** 2
    peak = interpolated_peak(UNEVEN, logs(np.column_stack([one, 2.0 * one])))
    rise = np.max(one) - np.minimum(*(one[np.argmax(one) + shift] for shift in (-1, 1)))
    gain = height - np.max(one)
    if gain < 0.25 * rise:
        assert peak == pytest.approx([height, 2.0 * height], rel=1e-9)
    else:
        assert peak[0] == pytest.approx(np.max(one) + 0.25 * rise)


def test_a_peak_gains_at_most_a_quarter_of_the_step_to_its_lower_neighbour() -> None:
    """A corner between two steep flanks is no parabola."""
    time = np.array([0.0, 1.0, 1.01, 3.0])
    corner = np.array([[0.0], [99.0], [100.0], [20.0]])
    assert interpolated_peak(time, logs(corner)) == pytest.approx([120.0])
    straight = np.array([[0.0], [100.0], [100.0], [0.0]])
    assert 100.0 <= interpolated_peak(np.arange(4.0), logs(straight))[0] <= 125.0


def test_a_pulse_without_a_bend_has_its_highest_sample_as_peak() -> None:
    flat = np.full((5, 1), 80.0)
    assert interpolated_peak(np.arange(5.0), logs(flat)) == pytest.approx([80.0], rel=1e-12)


@pytest.mark.parametrize("top", [0, 1, 2, 4, 5, 6])
def test_a_peak_may_be_next_to_either_end(top: int) -> None:
    """Its neighbours are those that there are; the peak is no less than any sample within."""
    pressure = 100.0 - 5.0 * (np.arange(7.0) - top) ** 2
    peak = interpolated_peak(np.arange(7.0), logs(pressure[:, None]))
    inside = 1 if top == 0 else 5 if top == 6 else top
    assert peak[0] >= pressure[inside] * (1.0 - 1e-12)
    if 1 <= top <= 5:
        assert peak == pytest.approx([100.0])


@given(m=st.floats(0.005, 0.12), steep=st.floats(0.1, 4.0), hold=st.floats(0.1, 2.0))
def test_effective_dwell_of_a_pulse_with_a_straight_logarithm(
    m: float, steep: float, hold: float
) -> None:
    """Up by e^steep in 1 s, held, down in 2 s: hold + (1 + 2) m/steep (1 - e^(-steep/m))."""
    time = np.array([0.0, 0.6, 1.0, 1.0 + hold, 2.0 + hold, 3.0 + hold])
    log = np.array([-steep, -0.4 * steep, 0.0, 0.0, -0.5 * steep, -steep])
    log_pressure = np.log(150.0) + np.column_stack([log, log])
    dwell = effective_dwell_of(time, log_pressure, np.array([150.0, 165.0]), np.full(2, m))
    exact = hold + 3.0 * m / steep * -np.expm1(-steep / m)
    assert dwell[0] == pytest.approx(exact, rel=1e-6)
    assert dwell[1] == pytest.approx(exact * 1.1 ** (-1.0 / m), rel=1e-6)


@given(slope=st.floats(-2.9, -0.0), m=st.floats(0.01, 0.1))
def test_a_nearly_flat_logarithm_loses_no_digits(slope: float, m: float) -> None:
    """On either side of where the trapezium takes over."""
    fall = 10.0**slope * m
    time = np.array([0.0, 1.0])
    pressure = np.array([[100.0], [100.0 * np.exp(-fall)]])
    dwell = effective_dwell_of(time, np.log(pressure), np.array([100.0]), np.array([m]))
    exact, _ = quad(lambda t: np.exp(-fall * t / m), 0.0, 1.0, epsabs=1e-13)
    assert dwell[0] == pytest.approx(exact, rel=2e-7)


def test_levels_are_crossed_on_the_straight_line_between_samples() -> None:
    time = np.array([0.0, 1.0, 3.0, 4.0, 6.0])
    pressure = np.array([[0.0, 10.0], [40.0, 30.0], [100.0, 90.0], [80.0, 100.0], [20.0, 0.0]])
    level = np.array([70.0, 60.0])
    first, last = crossings(time, pressure, level)
    assert first == pytest.approx([2.0, 2.0])
    assert last == pytest.approx([4.0 + 1.0 / 3.0, 4.8])


@given(
    rows=st.integers(3, 12),
    draws=st.integers(1, 6),
    seed=st.integers(0, 10_000),
    level=st.floats(0.0, 1.0),
)
def test_peaks_and_crossings_are_those_of_every_draw_alone(
    rows: int, draws: int, seed: int, level: float
) -> None:
    """Pulses of any shape, with equal samples among them, whether the level is reached or not."""
    time = np.arange(float(rows))
    pulses = np.random.default_rng(seed).integers(1, 5, (rows, draws)) / 4.0
    levels = np.full(draws, level)
    first, last = crossings(time, pulses, levels)
    peaks = interpolated_peak(time, logs(pulses))
    for draw, pulse in enumerate(pulses.T):
        assert interpolated_peak(time, logs(pulse[:, None])) == pytest.approx([peaks[draw]])
        top = min(max(int(pulse.argmax()), 1), rows - 2)
        assert peaks[draw] >= pulse[top] * (1.0 - 1e-12)
        reached = np.flatnonzero(pulse >= level)
        if reached.size:
            assert reached[0] - 1 <= first[draw] <= reached[0]
            assert reached[-1] <= last[draw] <= reached[-1] + 1


def test_a_level_that_is_crossed_more_than_once_counts_from_first_to_last() -> None:
    time = np.arange(7.0)
    pressure = np.array([0.0, 60.0, 40.0, 60.0, 40.0, 60.0, 0.0])[:, None]
    level = np.array([50.0])
    first, last = crossings(time, pressure, level)
    assert first == pytest.approx([50.0 / 60.0])
    assert last == pytest.approx([5.0 + 10.0 / 60.0])


def test_a_pulse_that_begins_or_ends_above_a_level_is_crossed_at_its_end() -> None:
    time, level = np.arange(3.0), np.array([50.0])
    falling = np.array([[90.0], [60.0], [10.0]])
    assert crossings(time, falling, level)[0] == pytest.approx([0.0])
    assert crossings(time, falling[::-1], level)[1] == pytest.approx([2.0])
    held = np.full((3, 1), 80.0)
    assert np.ravel(crossings(time, held, level)) == pytest.approx([0.0, 2.0])


def test_strain_rate_is_that_of_the_logarithm() -> None:
    """From 8 to 4 mm in 0.02 s: ln 2 / 0.02 s."""
    wide, narrow = np.array([8.0, 8.0]), np.array([4.0, -1.0])
    rate = closing_strain_rate(wide, narrow, np.array(0.02))
    assert rate == pytest.approx([np.log(2.0) / 0.02, np.log(8.0 / 1e-3) / 0.02])
    assert closing_strain_rate(narrow, wide, np.array(0.02))[1] < 0.0


@given(level=st.floats(0.3, 4.0), cup=st.floats(0.0, 40.0))
def test_a_charge_between_cups_and_its_inverse(level: float, cup: float) -> None:
    """The solid's share of flat gap and both cups is the solid fraction."""
    charge = Charge(400.0, 1.55, 78.54, cup)
    apart = charge.separation(np.array([level]))
    volume = apart * 78.54 + 2.0 * cup
    assert 400.0 / 1.55 / volume == pytest.approx([1.0 - np.exp(-level)])
    assert charge.densification(apart) == pytest.approx([level])
    step = 1e-6
    numeric = (charge.separation(np.array([level - step])) - charge.separation(
        np.array([level + step]))) / (2.0 * step)  # fmt: skip
    assert charge.spread(np.array([level])) == pytest.approx(numeric, rel=1e-5)
    assert charge.pore_free_separation == pytest.approx((400.0 / 1.55 - 2.0 * cup) / 78.54)
