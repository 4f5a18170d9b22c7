"""Solid fraction, cups, blends, ejection and recovery: geometry and limits."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from scaleup.equations import (
    blend_true_density,
    convex_cup_volume,
    ejection_stress,
    elastic_recovery,
    solid_fraction,
)


@given(st.floats(0.01, 1.0), st.floats(1.0, 15.0))
def test_cup_volume_is_the_volume_of_revolution(share: float, radius: float) -> None:
    """Discs of a sphere through the rim and the bottom of the cup, stacked numerically."""
    depth = share * radius
    sphere = (radius**2 + depth**2) / (2 * depth)
    stacked, _ = quad(lambda x: pi * (sphere**2 - (sphere - x) ** 2), 0.0, depth)
    assert convex_cup_volume(depth, radius) == pytest.approx(stacked, rel=1e-9)


def test_cup_limits() -> None:
    assert convex_cup_volume(0.0, 5.0) == 0.0
    assert convex_cup_volume(5.0, 5.0) == pytest.approx(2 / 3 * pi * 125, rel=1e-12)
    with pytest.raises(ValueError, match="depth must be at most the radius of the tip"):
        convex_cup_volume(5.1, 5.0)
    with pytest.raises(ValueError, match="depth must be 0 or more"):
        convex_cup_volume(-0.1, 5.0)


def test_a_pore_free_tablet() -> None:
    assert solid_fraction(155.0, 100.0, 1.55) == pytest.approx(1.0, rel=1e-12)
    with pytest.raises(ValueError, match=r"solid fraction .* must be at most 1, found 1\.03"):
        solid_fraction(160.0, 100.0, 1.55)


@pytest.mark.parametrize("place", range(3))
def test_solid_fraction_needs_three_positive_numbers(place: int) -> None:
    values = [300.0, 250.0, 1.54]
    values[place] = 0.0
    with pytest.raises(ValueError, match="must be above 0"):
        solid_fraction(*values)


@given(st.lists(st.floats(0.5, 5.0), min_size=1, max_size=6), st.data())
def test_volumes_of_a_blend_add_up(densities: list[float], data: st.DataObject) -> None:
    """One gram of blend takes the room of its parts."""
    parts = np.array([data.draw(st.floats(0.01, 1.0)) for _ in densities])
    shares = parts / parts.sum()
    density = blend_true_density(shares, densities)
    assert 1000.0 / density == pytest.approx(np.sum(1000.0 * shares / np.array(densities)))
    assert min(densities) * (1 - 1e-12) <= density <= max(densities) * (1 + 1e-12)


def test_blend_with_draws() -> None:
    draws = np.array([[1.5, 1.6], [1.2, 1.3]])
    both = blend_true_density([0.25, 0.75], draws)
    assert both.shape == (2,)
    assert both[1] == pytest.approx(blend_true_density([0.25, 0.75], [1.6, 1.3]))


@pytest.mark.parametrize(
    ("shares", "densities", "message"),
    [
        ([0.7, 0.2], [1.5, 1.5], "shares must be parts that add up to 1, found 0.9"),
        ([70.0, 30.0], [1.5, 1.5], "shares must be parts that add up to 1, found 100"),
        ([1.2, -0.2], [1.5, 1.5], "shares must be 0 or more, found -0.2"),
        ([0.5, 0.5], [1.5, 0.0], "densities must be above 0"),
        ([0.5, 0.5], [1.5, 1.5, 1.5], "one value for each share, found 3 for 2"),
    ],
)
def test_impossible_blends_are_refused(
    shares: list[float], densities: list[float], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        blend_true_density(shares, densities)


def test_ejection_stress_is_force_over_the_band() -> None:
    """The band of a tablet unrolled: 10 mm by 2 mm under 100 N."""
    assert ejection_stress(100.0, perimeter=10.0, wall=2.0) == 5.0
    assert ejection_stress(0.0, 10.0, 2.0) == 0.0
    with pytest.raises(ValueError, match="force must be 0 or more"):
        ejection_stress(-1.0, 10.0, 2.0)
    with pytest.raises(ValueError, match="wall must be above 0"):
        ejection_stress(1.0, 10.0, 0.0)


def test_recovery_of_a_tablet_that_grows_keeps_and_shrinks() -> None:
    recovery = elastic_recovery(np.array([4.0, 4.0, 4.0]), np.array([4.4, 4.0, 3.9]))
    assert recovery == pytest.approx([0.10, 0.0, -0.025])
    with pytest.raises(ValueError, match="in_die must be above 0"):
        elastic_recovery(0.0, 4.0)
