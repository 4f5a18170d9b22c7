"""Deflection of press parts: Hooke's law and its limits."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scaleup.equations import axial_shortening, axial_stiffness, series_stiffness

LENGTHS = st.floats(1.0, 500.0)
DIAMETERS = st.floats(1.0, 100.0)


@given(LENGTHS, DIAMETERS, st.floats(0.05, 0.95))
def test_a_bar_cut_in_two_gives_way_as_the_whole(
    length: float, diameter: float, cut: float
) -> None:
    whole = axial_stiffness(length, diameter, 210e3)
    parts = [axial_stiffness(piece * length, diameter, 210e3) for piece in (cut, 1 - cut)]
    assert series_stiffness(*parts) == pytest.approx(whole, rel=1e-12)


@given(LENGTHS, DIAMETERS)
def test_shortening_by_the_whole_force_per_area(length: float, diameter: float) -> None:
    """A stress equal to a hundredth of the modulus shortens any bar by a hundredth."""
    stress = 2100.0
    force = stress * 3.141592653589793 * diameter**2 / 4
    assert axial_shortening(force, length, diameter, 210e3) == pytest.approx(length / 100)


def test_the_softest_part_bounds_the_series() -> None:
    assert series_stiffness(100.0, 1e12) == pytest.approx(100.0, rel=1e-9)
    assert series_stiffness(100.0, 200.0, 300.0) < 100.0
    assert series_stiffness(100.0) == 100.0


def test_what_is_no_bar_is_refused() -> None:
    with pytest.raises(ValueError, match="force must be 0 or more, found -1"):
        axial_shortening(-1, 101.4, 19, 210e3)
    with pytest.raises(ValueError, match="modulus must be above 0, found 0"):
        axial_shortening(1, 101.4, 19, 0)
    with pytest.raises(ValueError, match="diameter must be above 0"):
        axial_stiffness(101.4, -19, 210e3)
    assert axial_shortening(0, 101.4, 19, 210e3) == 0.0
