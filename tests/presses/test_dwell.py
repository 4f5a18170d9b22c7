"""Dwell time of a rotary press: limits and inverse."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scaleup.equations import dwell_time, dwell_time_arc, punch_travel, turret_speed_for_dwell

FLATS = st.floats(1.0, 30.0)
CIRCLES = st.floats(100.0, 2000.0)
SPEEDS = st.floats(1.0, 200.0)


@given(FLATS, CIRCLES, SPEEDS)
def test_speed_for_dwell_inverts_dwell(flat: float, circle: float, speed: float) -> None:
    dwell = dwell_time(flat, circle, speed)
    assert turret_speed_for_dwell(flat, circle, dwell) == pytest.approx(speed, rel=1e-12)


@given(FLATS, CIRCLES, SPEEDS)
def test_punch_rises_when_the_dwell_is_over(flat: float, circle: float, speed: float) -> None:
    """Half a dwell from dead centre is the edge of the flat in the punch's own kinematics."""
    half_angle = dwell_time(flat, circle, speed) / 2 * speed / 60 * 2 * 3.141592653589793
    assert punch_travel(0.999 * half_angle, circle, 125, 16, flat) == 0.0
    assert punch_travel(1.001 * half_angle, circle, 125, 16, flat) > 0.0


@given(FLATS, CIRCLES, SPEEDS)
def test_arc_form_is_short_by_a_sixth_of_the_ratio_squared(
    flat: float, circle: float, speed: float
) -> None:
    """asin(x)/x = 1 + x²/6 + 3x⁴/40 + ...: the arc is always the shorter, by little."""
    ratio = flat / circle
    excess = dwell_time(flat, circle, speed) / dwell_time_arc(flat, circle, speed) - 1
    assert ratio**2 / 6 - 1e-12 < excess < ratio**2 / 6 + ratio**4 / 10 + 1e-12


def test_the_whole_turn_is_the_bound() -> None:
    """A flat as wide as the pitch circle would be under the roller for half a turn."""
    assert dwell_time(409.999999, 410, 60) == pytest.approx(0.5, rel=1e-3)


@pytest.mark.parametrize(
    ("flat", "circle", "speed", "message"),
    [
        (410, 410, 40, "head_flat must be smaller than the pitch circle"),
        (0, 410, 40, "head_flat must be above 0"),
        (-9.525, 410, 40, "head_flat must be above 0"),
        (9.525, 0, 40, "pitch_circle must be above 0"),
        (9.525, 410, 0, "must be above 0, found 0"),
    ],
)
def test_impossible_presses_are_refused(
    flat: float, circle: float, speed: float, message: str
) -> None:
    for equation in (dwell_time, dwell_time_arc, turret_speed_for_dwell):
        with pytest.raises(ValueError, match=message):
            equation(flat, circle, speed)
