"""Punch travel and velocity: limits, symmetry, derivative and inverse."""

from __future__ import annotations

from math import pi, radians

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from scaleup.equations import (
    crank_angle,
    crank_travel,
    crank_velocity,
    punch_angle,
    punch_travel,
    punch_velocity,
)

HEAD = (410.0, 125.0, 15.875, 9.525)
CRANK = (20.0, 160.0)
TURRET_ANGLES = st.floats(-0.65, 0.65)
CRANK_ANGLES = st.floats(-2 * pi, 2 * pi)


def _slope(before: float, after: float, step: float) -> float:
    return (after - before) / (2 * step)


@given(TURRET_ANGLES.filter(lambda angle: abs(abs(angle) - 0.0232337) > 1e-4))
def test_punch_velocity_is_the_derivative_of_travel(angle: float) -> None:
    step, omega = 1e-6, 2 * pi * 40 / 60
    slope = _slope(punch_travel(angle - step, *HEAD), punch_travel(angle + step, *HEAD), step)
    assert punch_velocity(angle, *HEAD, 40) == pytest.approx(omega * slope, rel=1e-5, abs=1e-6)


@given(CRANK_ANGLES, st.floats(1.05, 50.0))
def test_crank_velocity_is_the_derivative_of_travel(angle: float, rod: float) -> None:
    step, lengths = 1e-6, (20.0, 20.0 * rod)
    slope = _slope(crank_travel(angle - step, *lengths), crank_travel(angle + step, *lengths), step)
    velocity = crank_velocity(angle, *lengths, 60)
    assert velocity == pytest.approx(2 * pi * slope, rel=1e-5, abs=1e-4)


@given(TURRET_ANGLES)
def test_travel_puts_the_head_edge_on_the_roller(angle: float) -> None:
    """Centres of roller and head edge are ``r1 + r2`` apart, found by root search."""
    circle, roller, edge, flat = HEAD
    aside = circle / 2 * abs(np.sin(angle)) - flat / 2
    if aside <= 0.0:
        assert punch_travel(angle, *HEAD) == 0.0
        return
    height = brentq(lambda z: np.hypot(aside, roller + edge - z) - roller - edge, 0, 141)
    assert punch_travel(angle, *HEAD) == pytest.approx(height, rel=1e-9, abs=1e-9)


@given(TURRET_ANGLES)
def test_the_way_out_mirrors_the_way_in(angle: float) -> None:
    assert punch_travel(-angle, *HEAD) == punch_travel(angle, *HEAD)
    assert punch_velocity(-angle, *HEAD, 40) == -punch_velocity(angle, *HEAD, 40)


@given(st.floats(1e-6, 100.0))
def test_punch_angle_inverts_travel(travel: float) -> None:
    assert punch_travel(punch_angle(travel, *HEAD), *HEAD) == pytest.approx(travel, rel=1e-8)


@given(st.floats(0.0, 40.0), st.floats(1.05, 50.0))
def test_crank_angle_inverts_travel(travel: float, rod: float) -> None:
    lengths = (20.0, 20.0 * rod)
    angle = crank_angle(travel, *lengths)
    assert 0.0 <= angle <= pi
    assert crank_travel(angle, *lengths) == pytest.approx(travel, rel=1e-9, abs=1e-12)


def test_crank_stroke() -> None:
    """The stroke is twice the crank radius; a long rod makes the motion a cosine."""
    assert crank_travel(pi, *CRANK) == pytest.approx(40.0, rel=1e-12)
    assert crank_travel(pi / 2, 20.0, 1e9) == pytest.approx(20.0, rel=1e-6)
    assert crank_velocity(pi / 2, 20.0, 160.0, 60) == pytest.approx(2 * pi * 20, rel=1e-12)


@given(CRANK_ANGLES)
def test_crank_travel_closes_the_triangle(angle: float) -> None:
    """The rod's length, from the positions of its two ends."""
    pin = CRANK[0] * np.array([np.sin(angle), -np.cos(angle)])
    punch = np.array([0.0, crank_travel(angle, *CRANK) - CRANK[0] - CRANK[1]])
    assert np.linalg.norm(punch - pin) == pytest.approx(CRANK[1], rel=1e-12)


def test_a_tiny_travel_keeps_its_digits() -> None:
    """For small angles travel is ``e (1 + e/L) angle²/2``, and on a pointed head quadratic too."""
    angle = 1e-7
    assert crank_travel(angle, *CRANK) == pytest.approx(20 * 1.125 * angle**2 / 2, rel=1e-9)
    pointed = punch_travel(angle, 410.0, 125.0, 15.875, 0.0)
    assert pointed == pytest.approx((205 * angle) ** 2 / (2 * 140.875), rel=1e-9)


@pytest.mark.parametrize(
    ("angle", "head", "message"),
    [
        (radians(50), HEAD, "angle must be small enough for the head to touch the roller"),
        (radians(100), (80.0, 125.0, 15.0, 9.5), "angle must be within 90 degrees"),
        (0.0, (410.0, 125.0, 15.875, 410.0), "head_flat must be smaller than the pitch circle"),
        (0.0, (410.0, 0.0, 15.875, 9.525), "roller_radius must be above 0"),
        (0.0, (410.0, 125.0, -1.0, 9.525), "head_edge_radius must be 0 or more"),
        (0.0, (410.0, 125.0, 15.875, -9.525), "head_flat must be 0 or more"),
    ],
)
def test_impossible_heads_are_refused(
    angle: float, head: tuple[float, float, float, float], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        punch_travel(angle, *head)
    with pytest.raises(ValueError, match=message):
        punch_velocity(angle, *head, 40)


@pytest.mark.parametrize(
    ("travel", "message"),
    [
        (-0.1, "travel must be 0 or more"),
        (140.875, "travel must be less than roller radius and head edge radius"),
    ],
)
def test_heights_no_punch_reaches_are_refused(travel: float, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        punch_angle(travel, *HEAD)


def test_a_height_beyond_a_small_turret_is_refused() -> None:
    with pytest.raises(ValueError, match="a height that the punch reaches on this turret"):
        punch_angle(20.0, 100.0, 125.0, 15.875, 9.525)


def test_impossible_cranks_are_refused() -> None:
    with pytest.raises(ValueError, match="link_length must be longer than the crank radius"):
        crank_travel(0.1, 20, 20)
    with pytest.raises(ValueError, match="crank_radius must be above 0"):
        crank_velocity(0.1, 0, 160, 60)
    with pytest.raises(ValueError, match="speed must be 0 or more"):
        crank_velocity(0.1, 20, 160, -60)
    with pytest.raises(ValueError, match="travel must be at most twice the crank radius"):
        crank_angle(40.1, 20, 160)
