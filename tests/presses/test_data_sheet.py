"""Geometry worked out from what a data sheet states, and where a data sheet contradicts itself."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scaleup.equations import dwell_time, punch_travel, punch_velocity
from scaleup.errors import InputError
from scaleup.io.library import find_press
from scaleup.io.schema import read_as
from scaleup.model.press import RotaryProfile, Stated
from scaleup.presses.data_sheet import disagreements, roller_geometry
from scaleup.presses.rotary import RollerContact
from tests.studies import unchecked

EDGE = 15.9  # mm, radius of the head edge


def profile(**stated: Any) -> RotaryProfile:
    """Return a press known only by what is stated, in mm, s, rpm."""
    profile = find_press("rotary-stated-17").profile
    assert isinstance(profile, RotaryProfile)
    assert profile.stated is not None
    made = unchecked(profile, stated=unchecked(profile.stated, **stated))
    assert isinstance(made, RotaryProfile)
    return made


@given(
    pitch=st.floats(150.0, 700.0),
    roller=st.floats(60.0, 200.0),
    flat=st.floats(5.0, 18.0),
    speed=st.floats(10.0, 100.0),
)
def test_a_geometry_is_found_again_from_its_dwell_and_velocity(
    pitch: float, roller: float, flat: float, speed: float
) -> None:
    angle = RollerContact(pitch, roller, EDGE, flat).closing_angle(np.array(4.0))
    geometry = roller_geometry(
        profile(
            speed=speed,
            head_flat=flat,
            dwell_time=float(dwell_time(flat, pitch, speed)),
            punch_velocity=float(punch_velocity(angle, pitch, roller, EDGE, flat, speed)),
            at_travel=float(punch_travel(angle, pitch, roller, EDGE, flat)),
        ),
        EDGE,
    )
    assert geometry[0] == pytest.approx(pitch, rel=1e-9)
    assert geometry[1] == pytest.approx(roller, rel=1e-5)


def test_what_was_measured_is_taken_before_what_is_stated() -> None:
    """A pitch circle of 320 mm has 11.3 ms at 50 rpm with a flat of 9.5 mm by the arc, not 11.98;
    the roller still follows from the stated velocity, now on the measured circle.
    """
    measured = replace(profile(), pitch_circle=320.0)
    pitch, roller = roller_geometry(measured, EDGE)
    assert pitch == 320.0
    contact = RollerContact(pitch, roller, EDGE, 9.5)
    assert contact.punch_velocity(2.0, 50.0) == pytest.approx(149.1, rel=1e-6)
    assert contact.dwell_time(50.0) * 1e3 == pytest.approx(
        60e3 * 9.5 / (np.pi * 320 * 50), rel=1e-3
    )
    both = replace(measured, main_roller=replace(measured.main_roller, radius=110.0))
    assert roller_geometry(both, EDGE) == (320.0, 110.0)


def test_the_stated_flat_may_differ_from_the_tooling_fitted() -> None:
    """A data sheet's dwell holds for the head it names; another head gets another dwell."""
    pitch, roller = roller_geometry(profile(), EDGE)
    contact = RollerContact(pitch, roller, EDGE, 12.7)
    assert contact.dwell_time(50.0) * 1e3 == pytest.approx(11.98 * 12.7 / 9.5, rel=1e-3)


@pytest.mark.parametrize(
    ("stated", "key"),
    [
        ({"dwell_time": 0.7}, "stated.dwell_time"),
        ({"punch_velocity": 9e3}, "stated.punch_velocity"),
        ({"punch_velocity": 1.0}, "stated.punch_velocity"),
    ],
)
def test_what_no_press_can_do_is_refused_by_its_key(stated: dict[str, float], key: str) -> None:
    with pytest.raises(InputError) as caught:
        roller_geometry(profile(**stated), EDGE)
    (fault,) = caught.value.faults
    assert fault.file == profile().name
    assert fault.where == key
    assert fault.found
    assert fault.allowed


def test_a_dwell_of_half_a_turn_is_told_in_its_own_units() -> None:
    with pytest.raises(InputError, match=r"found 700 ms at 50 rpm; allowed: a dwell time shorter"):
        roller_geometry(profile(dwell_time=0.7), EDGE)
    # Near half a turn of 1.2 s is absurd, but a head flat across the circle could have it.
    stated = profile(dwell_time=0.45)
    roller = replace(stated.main_roller, radius=110.0)
    pitch, _ = roller_geometry(unchecked(stated, main_roller=roller), EDGE)
    assert pitch == pytest.approx(9.5 / np.sin(0.45 / 1.2 * np.pi))


@pytest.mark.parametrize("lost", ["punch_velocity", "at_travel"])
def test_a_radius_needs_a_velocity_and_where_it_holds(lost: str) -> None:
    with pytest.raises(ValueError, match="without a roller radius has a stated velocity"):
        roller_geometry(profile(**{lost: None}), EDGE)


def with_stated(dwell: float, velocity: float | None = None) -> RotaryProfile:
    profile = find_press("rotary-single-31").profile
    assert isinstance(profile, RotaryProfile)
    stated = {"speed": "40 rpm", "dwell_time": f"{dwell} ms", "head_flat": "9.525 mm"}
    if velocity is not None:
        stated |= {"punch_velocity": f"{velocity} mm/s", "at_travel": "2 mm"}
    roller = replace(profile.main_roller, radius=125.0)
    return replace(profile, pitch_circle=410.0, main_roller=roller, stated=read_as(Stated, stated))


# By geometry (exact): pitch circle 410, roller 125, head edge 15.875, flat 9.525 mm at 40 rpm has
# 11.0933 ms and, at 2 mm, 144.846 mm/s.
@pytest.mark.parametrize(
    ("dwell", "velocity", "off"),
    [
        (11.0933, 144.846, []),
        (11.0933 * 1.049, 144.846 * 0.951, []),
        (11.0933 * 1.051, 144.846, ["dwell time"]),
        (11.0933 * 0.949, 144.846, ["dwell time"]),
        (11.0933, 144.846 * 1.051, ["punch velocity"]),
        (11.0933, 144.846 * 0.949, ["punch velocity"]),
    ],
)
def test_five_per_cent_either_way_is_allowed(dwell: float, velocity: float, off: list[str]) -> None:
    apart = disagreements(with_stated(dwell, velocity), 15.875)
    assert [item.what for item in apart] == off


def test_a_disagreement_gives_both_values_and_its_size() -> None:
    (item,) = disagreements(with_stated(14.0), 15.875)
    assert item.stated == pytest.approx(14.0)
    assert item.unit == "ms"
    assert item.from_geometry == pytest.approx(11.0933, abs=5e-5)
    assert item.share == pytest.approx(0.262, abs=5e-4)
    (item,) = disagreements(with_stated(11.0933, 180.0), 15.875)
    assert (item.stated, item.unit) == (180.0, "mm/s")
    assert item.from_geometry == pytest.approx(144.846, abs=5e-4)


@pytest.mark.parametrize("known", ["roller", "edge", "neither"])
def test_a_velocity_is_held_against_geometry_only_where_all_of_it_is_known(known: str) -> None:
    profile = with_stated(11.0933, 180.0)
    if known != "roller":
        bare = replace(profile.main_roller, radius=None)
        profile = replace(profile, main_roller=bare)
    assert disagreements(profile, None if known != "edge" else 15.875) == ()


def test_without_geometry_or_without_statement_nothing_disagrees() -> None:
    assert disagreements(profile(dwell_time=0.5), EDGE) == ()
    assert disagreements(replace(with_stated(14.0), stated=None), EDGE) == ()
