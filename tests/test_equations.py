"""The names, arguments and shapes that every equation keeps to."""

from __future__ import annotations

import inspect

import numpy as np
import pytest

from scaleup import equations
from scaleup.equations import (
    dwell_time,
    effective_dwell,
    ejection_stress,
    pressure_ratio,
    punch_travel,
    series_stiffness,
)

FIXED_ARGUMENTS = {
    "dwell_time": "head_flat pitch_circle speed",
    "turret_speed_for_dwell": "head_flat pitch_circle dwell",
    "punch_travel": "angle pitch_circle roller_radius head_edge_radius head_flat",
    "punch_velocity": "angle pitch_circle roller_radius head_edge_radius head_flat speed",
    "crank_travel": "angle crank_radius link_length",
    "crank_velocity": "angle crank_radius link_length speed",
    "axial_shortening": "force length diameter modulus",
    "strength_round_flat": "force diameter thickness",
    "strength_round_convex": "force diameter thickness wall",
    "strength_elongated": "force width thickness wall",
    "solid_fraction": "weight volume true_density",
    "rate_exponent": "sensitivity slow fast relative_to",
    "effective_dwell": "time pressure rate_exponent",
    "plastic_densification": "pressure effective_dwell yield_pressure rate_exponent",
    "pressure_ratio": "dwell_from dwell_to rate_exponent",
    "ejection_stress": "force perimeter wall",
}


@pytest.mark.parametrize("name", FIXED_ARGUMENTS)
def test_fixed_names(name: str) -> None:
    signature = inspect.signature(getattr(equations, name))
    assert list(signature.parameters) == FIXED_ARGUMENTS[name].split()


@pytest.mark.parametrize("name", equations.__all__)
def test_every_equation_documents_itself(name: str) -> None:
    text = getattr(equations, name).__doc__
    for part in ("Parameters\n", "Raises\n", "Source: ", ">>> "):
        assert part in text


def test_all_lists_every_equation_imported() -> None:
    public = {
        name
        for name, value in vars(equations).items()
        if not name.startswith("_") and callable(value)
    }
    assert public == set(equations.__all__)


def test_floats_give_a_float() -> None:
    results: list[object] = [
        dwell_time(9.525, 410, 40),
        dwell_time(np.float64(9.525), np.array(410.0), 40),
        effective_dwell([0.0, 1.0], [0.0, 1.0], 0.1),
    ]
    assert [type(result) for result in results] == [float, float, float]


def test_arrays_broadcast() -> None:
    """Each element is what the floats in its place give."""
    flats, speeds = np.array([9.525, 12.7, 15.875])[:, np.newaxis], np.array([20.0, 80.0])
    table = dwell_time(flats, 410, speed=speeds)
    assert table.shape == (3, 2)
    assert table[2, 1] == dwell_time(15.875, 410, 80)


def test_many_parts_are_checked_one_by_one() -> None:
    assert series_stiffness(np.array([2.0, 4.0]), 4.0, 4.0) == pytest.approx([1.0, 4 / 3])
    with pytest.raises(ValueError, match="stiffness must be above 0, found -1"):
        series_stiffness(1.0, 2.0, -1.0)
    with pytest.raises(ValueError, match="at least one part"):
        series_stiffness()


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), float("-inf")])
def test_a_number_that_is_none_is_refused_by_name(bad: float) -> None:
    with pytest.raises(ValueError, match="pitch_circle must be a finite number"):
        dwell_time(9.525, bad, 40)
    with pytest.raises(ValueError, match="rate_exponent must be a finite number"):
        pressure_ratio(1.0, 0.1, rate_exponent=np.array([0.1, bad]))


def test_the_error_names_the_element_at_fault() -> None:
    with pytest.raises(ValueError, match="wall must be above 0, found -2"):
        ejection_stress(300, 31.4, wall=np.array([3.0, -2.0, 4.0]))
    with pytest.raises(ValueError, match=r"angle must be small enough .* found 1\.2"):
        punch_travel(np.array([0.0, 1.2]), 410, 125, 15.875, 9.525)


def test_too_many_arguments() -> None:
    with pytest.raises(TypeError, match="positional"):
        dwell_time(9.525, 410, 40, 1)
    with pytest.raises(TypeError, match="rpm"):
        dwell_time(9.525, 410, rpm=40)
