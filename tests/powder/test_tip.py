"""Tips from tooling profiles: areas, volumes and how their tablets break."""

from __future__ import annotations

import numpy as np
import pytest

from scaleup.equations import strength_elongated, strength_round_convex, strength_round_flat
from scaleup.io.library import find_tooling
from scaleup.powder.tip import tip_from
from tests.studies import unchecked

THICK, FORCE = np.array([4.0, 5.0]), np.array([80.0, 120.0])


def test_a_flat_round_tip() -> None:
    tip = tip_from(find_tooling("b-flat-10").profile)
    assert (tip.width, tip.length) == (10.0, 10.0)
    assert tip.area == pytest.approx(78.53982)
    assert tip.perimeter == pytest.approx(31.41593)
    assert tip.wall(THICK) == pytest.approx(THICK)
    assert tip.thickness(THICK) == pytest.approx(THICK)
    assert tip.volume(THICK, 10.0) == pytest.approx(78.53982 * THICK)
    assert tip.strength(FORCE, THICK) == pytest.approx(strength_round_flat(FORCE, 10.0, THICK))
    assert tip.strength(FORCE, THICK, 10.2) == pytest.approx(
        strength_round_flat(FORCE, 10.2, THICK)
    )


def test_a_wider_tablet_is_larger_in_both_directions() -> None:
    tip = tip_from(find_tooling("b-flat-10").profile)
    assert tip.volume(THICK, 10.1) == pytest.approx(np.pi * 5.05**2 * THICK)


def test_a_convex_tip_has_two_cups() -> None:
    tip = tip_from(find_tooling("b-convex-10").profile)
    assert tip.cup_depth > 0.5
    assert tip.wall(THICK) == pytest.approx(THICK - 2.0 * tip.cup_depth)
    assert tip.thickness(tip.wall(THICK)) == pytest.approx(THICK)
    # A cap of a sphere (exact): pi h (3 a² + h²)/6 with a the radius of its rim.
    h = tip.cup_depth
    cap = np.pi * h * (3.0 * 25.0 + h * h) / 6.0
    assert tip.cup_volume == pytest.approx(cap)
    assert tip.volume(THICK, 10.0) == pytest.approx(78.53982 * (THICK - 2.0 * h) + 2.0 * cap)
    assert tip.strength(FORCE, THICK) == pytest.approx(
        strength_round_convex(FORCE, 10.0, THICK, THICK - 2.0 * h)
    )


def test_an_elongated_tip_breaks_across_its_width() -> None:
    tooling = find_tooling("d-elongated-19").profile
    tip = tip_from(tooling)
    assert tip.width == tooling.width
    assert tip.length == tooling.length
    assert tip.length > tip.width
    wall = THICK - 2.0 * tip.cup_depth
    assert tip.strength(FORCE, THICK) == pytest.approx(
        strength_elongated(FORCE, tip.width, THICK, wall)
    )


@pytest.mark.parametrize("name", ["b-flat-10", "b-convex-10", "d-elongated-19"])
def test_force_and_strength_are_each_others_inverse(name: str) -> None:
    tip = tip_from(find_tooling(name).profile)
    strength = tip.strength(FORCE, THICK)
    assert strength[1] != strength[0]
    assert tip.breaking_force(strength, THICK) == pytest.approx(FORCE)


def test_a_charge_lies_between_two_of_its_tips() -> None:
    tip = tip_from(find_tooling("b-convex-10").profile)
    charge = tip.charge(400.0, 1.5)
    assert (charge.weight, charge.true_density) == (400.0, 1.5)
    assert charge.tip_area == tip.area
    assert charge.cup_volume == tip.cup_volume
    # The wall of a tablet without pores, cups included, holds the volume of the solid.
    wall = charge.wall(np.array([1.0]))
    assert wall * tip.area + 2.0 * tip.cup_volume == pytest.approx([400.0 / 1.5])
    half = charge.wall(np.array([0.5]))
    assert half * tip.area + 2.0 * tip.cup_volume == pytest.approx([800.0 / 1.5])


@pytest.mark.parametrize("lost", ["width", "length"])
def test_a_tip_needs_its_axes(lost: str) -> None:
    tooling = unchecked(find_tooling("d-elongated-19").profile, **{lost: None})
    with pytest.raises(ValueError, match="a diameter, or a width and a length"):
        tip_from(tooling)


def test_a_tablet_with_almost_no_wall_has_no_breaking_force() -> None:
    """The others keep theirs; there the fitted equation would give a negative area."""
    tip = tip_from(find_tooling("d-elongated-19").profile)
    thick = 2.0 * tip.cup_depth + np.array([2.0, 0.02, -0.1, 3.0])
    strength = np.full(4, 1.5)
    found = tip.breaking_force(strength, thick)
    assert np.isfinite(found).tolist() == [True, False, False, True]
    alone = tip.breaking_force(strength[[0, 3]], thick[[0, 3]])
    assert found[[0, 3]] == pytest.approx(alone)
