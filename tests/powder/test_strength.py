"""Tensile strength and breaking force: inverses, scaling and limits."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scaleup.equations import (
    breaking_force_elongated,
    breaking_force_round_convex,
    breaking_force_round_flat,
    strength_elongated,
    strength_round_convex,
    strength_round_flat,
)

FORCES = st.floats(0.0, 500.0)
DIAMETERS = st.floats(3.0, 25.0)
CONVEX = st.tuples(DIAMETERS, st.floats(0.2, 0.6), st.floats(0.3, 0.9))


def _dimensions(convex: tuple[float, float, float]) -> tuple[float, float, float]:
    diameter, thickness_share, wall_share = convex
    thickness = thickness_share * diameter
    return diameter, thickness, wall_share * thickness


@given(FORCES, DIAMETERS, st.floats(1.0, 10.0))
def test_flat_round_trip(force: float, diameter: float, thickness: float) -> None:
    strength = strength_round_flat(force, diameter, thickness)
    assert breaking_force_round_flat(strength, diameter, thickness) == pytest.approx(force)


@given(FORCES, CONVEX)
def test_convex_round_trip(force: float, convex: tuple[float, float, float]) -> None:
    size = _dimensions(convex)
    assert breaking_force_round_convex(strength_round_convex(force, *size), *size) == pytest.approx(
        force
    )
    assert breaking_force_elongated(strength_elongated(force, *size), *size) == pytest.approx(force)


@given(CONVEX, st.floats(0.5, 2.0))
def test_a_tablet_scaled_in_every_length(convex: tuple[float, float, float], scale: float) -> None:
    """Stress is force per area: twice as large a tablet bears four times the force."""
    size = _dimensions(convex)
    larger = tuple(scale * length for length in size)
    for equation in (breaking_force_round_convex, breaking_force_elongated):
        assert equation(2.0, *larger) == pytest.approx(scale**2 * equation(2.0, *size))
    flat = breaking_force_round_flat(2.0, *size[:2])
    assert breaking_force_round_flat(2.0, *larger[:2]) == pytest.approx(scale**2 * flat)


@given(CONVEX)
def test_an_elongated_tablet_bears_half_as_much_again(
    convex: tuple[float, float, float],
) -> None:
    size = _dimensions(convex)
    round_force = breaking_force_round_convex(2.0, *size)
    assert breaking_force_elongated(2.0, *size) == pytest.approx(1.5 * round_force)


def test_no_force_no_strength() -> None:
    assert strength_round_flat(0.0, 10.0, 4.0) == 0.0
    assert strength_round_convex(0.0, 10.0, 5.0, 3.0) == 0.0


def test_impossible_tablets_are_refused() -> None:
    with pytest.raises(ValueError, match="force must be 0 or more, found -1"):
        strength_round_flat(-1.0, 10.0, 4.0)
    with pytest.raises(ValueError, match="thickness must be above 0"):
        breaking_force_round_flat(1.0, 10.0, 0.0)
    with pytest.raises(ValueError, match="diameter must be above 0, found -10"):
        strength_round_flat(1.0, -10.0, 4.0)
    with pytest.raises(ValueError, match="thickness must be above 0, found -5"):
        strength_round_convex(100.0, 10.0, -5.0, 3.0)
    with pytest.raises(ValueError, match="wall must be above 0, found -1"):
        strength_round_convex(100.0, 10.0, 5.0, -1.0)
    with pytest.raises(ValueError, match="wall must be at most the overall thickness, found 6"):
        strength_round_convex(100.0, 10.0, 5.0, 6.0)
    with pytest.raises(ValueError, match="width must be above 0"):
        strength_elongated(100.0, -10.0, 5.0, 3.0)


def test_a_wall_too_low_for_the_fit_is_refused() -> None:
    """With almost no wall the fitted denominator turns negative: no strength, not a wrong one."""
    with pytest.raises(ValueError, match="wall must be high enough for the equation to hold"):
        strength_round_convex(100.0, 10.0, 5.0, 0.2)
