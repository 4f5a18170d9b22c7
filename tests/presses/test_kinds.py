"""Each kind of press as the motion it makes of its profile."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scaleup.errors import InputError
from scaleup.io.library import find_press, find_tooling
from scaleup.io.schema import read_as
from scaleup.model.press import (
    EccentricProfile,
    HydraulicProfile,
    RecordedProfile,
    RotaryProfile,
    Stated,
)
from scaleup.powder.rate import effective_dwell
from scaleup.presses.data_sheet import disagreements, roller_geometry
from scaleup.presses.eccentric import EccentricPress
from scaleup.presses.hydraulic import PumpStrokes
from scaleup.presses.press import Setting, press_from, settings_of
from scaleup.presses.profile_checks import press_doubts
from scaleup.presses.profile_figures import Asked, press_figures
from scaleup.presses.pulse_shapes import ForcePulse, Stroke
from scaleup.presses.recorded import RecordedPress
from scaleup.presses.rotary import RollerContact, RotaryPress
from tests.studies import unchecked


@given(opening=st.floats(1e-3, 12.0), speed=st.floats(5.0, 90.0))
def test_a_roller_stroke_and_its_inverse(opening: float, speed: float) -> None:
    stroke = RollerContact(410.0, 125.0, 15.875, 9.525).stroke(speed)
    moment = stroke.closing_time(np.array([opening]))
    assert stroke.opening(-moment)[0] == pytest.approx(opening, rel=1e-9)
    assert stroke.opening(moment)[0] == pytest.approx(opening, rel=1e-9)
    assert moment[0] > stroke.flat_time
    assert stroke.opening(np.array([0.99 * stroke.flat_time]))[0] == 0.0


@given(opening=st.floats(1e-3, 30.0), speed=st.floats(5.0, 90.0))
def test_a_crank_stroke_and_its_inverse(opening: float, speed: float) -> None:
    stroke = EccentricPress(20.0, 160.0, 0.0).motion(0.0, Setting(speed=speed))
    moment = stroke.closing_time(np.array([opening]))
    assert stroke.opening(-moment)[0] == pytest.approx(opening, rel=1e-7)
    assert stroke.flat_time == 0.0


def test_a_motor_loads_holds_and_releases() -> None:
    press = press_from(find_press("lab-hydraulic").profile, find_tooling("lab-flat-10").profile)
    pulse = press.motion(10e3, Setting(hold=3.0, loading_rate=5e3))
    assert isinstance(pulse, ForcePulse)
    assert pulse.time == pytest.approx([0.0, 2.0, 5.0, 5.05])
    assert pulse.force == pytest.approx([0.0, 10e3, 10e3, 0.0])
    quick = press.motion(10e3, Setting())
    assert isinstance(quick, ForcePulse)
    assert quick.time == pytest.approx([0.0, 2.0, 2.05])
    slow = press.motion(10e3, Setting(hold=3.0, loading_rate=2e3))
    assert isinstance(slow, ForcePulse)
    assert slow.time == pytest.approx([0.0, 5.0, 8.0, 8.05])


def test_a_pumped_press_holds_after_its_last_stroke() -> None:
    press = press_from(find_press("lab-hand-pump").profile, find_tooling("lab-flat-10").profile)
    pulse = press.motion(10e3, Setting(hold=3.0))
    assert isinstance(pulse, ForcePulse)
    assert pulse.time[-1] == pytest.approx(4 * 0.6 + 4 * 0.4 + 3.0 + 0.08)
    assert pulse.force[-3:] == pytest.approx([10e3, 10e3, 0.0])


def test_the_give_of_a_press_is_that_of_its_frame_and_two_punches() -> None:
    tooling = find_tooling("lab-flat-10").profile
    bare = replace(tooling, barrel_diameter=None, punch_length=None, modulus=None)
    drawn = replace(tooling, barrel_diameter=19.0, punch_length=100.0, modulus=210e3)
    barrel = 100.0 / (np.pi * 19.0**2 / 4.0 * 210e3)
    rigid_frame = replace(find_press("lab-hydraulic").profile, stiffness=None)
    for lost in ("barrel_diameter", "punch_length", "modulus"):
        unknown = unchecked(drawn, **{lost: None})
        assert press_from(rigid_frame, unknown).compliance == 0.0
    for name in ("lab-hydraulic", "lab-hand-pump", "lab-eccentric", "lab-recorded"):
        profile = find_press(name).profile
        assert profile.stiffness is not None
        give = 1.0 / profile.stiffness
        assert press_from(profile, bare).compliance == pytest.approx(give)
        assert press_from(profile, drawn).compliance == pytest.approx(give + 2.0 * barrel)
        rigid = replace(profile, stiffness=None)
        assert press_from(rigid, bare).compliance == 0.0


def test_a_motor_press_is_tried_short_and_long_and_with_every_loading() -> None:
    settings = settings_of(find_press("lab-hydraulic").profile)
    assert [(each.hold, each.loading_rate) for each in settings] == [
        (0.0, 0.5e3),
        (0.0, 5e3),
        (0.0, 20e3),
        (2.0, 5e3),
        (60.0, 5e3),
    ]


def test_what_a_press_cannot_be_set_to_is_left_to_it() -> None:
    (only,) = settings_of(find_press("lab-hand-pump").profile)
    assert only == Setting()
    profile = find_press("lab-hydraulic").profile
    assert isinstance(profile, HydraulicProfile)
    fixed = settings_of(replace(profile, loading_rates=None))
    assert [(each.hold, each.loading_rate) for each in fixed] == [
        (0.0, 5e3),
        (2.0, 5e3),
        (60.0, 5e3),
    ]
    by_itself = settings_of(replace(profile, automatic_release=True, hold=None))
    assert {each.hold for each in by_itself} == {None}
    assert [each.loading_rate for each in by_itself] == [0.5e3, 5e3, 20e3]
    assert settings_of(find_press("lab-recorded").profile) == (Setting(),)


def test_a_narrow_range_of_holds_has_no_middle_outside_it() -> None:
    profile = find_press("lab-hydraulic").profile
    assert isinstance(profile, HydraulicProfile)
    assert profile.hold is not None
    for low, high, expected in (
        (4.0, 4.0, [4.0]),
        (2.2, 2.4, [2.2, 2.4]),
        (1.0, 9.0, [1.0, 3.0, 9.0]),
        (0.0, 0.05, [0.0, 0.05]),
    ):
        hold = replace(profile.hold, min=low, max=high)
        settings = settings_of(replace(profile, hold=hold, loading_rates=None))
        assert [each.hold for each in settings] == expected


def test_a_press_with_a_speed_is_tried_at_both_ends_and_between() -> None:
    rotary = settings_of(find_press("rotary-mid-19").profile)
    assert [each.speed for each in rotary] == [10.0, 27.0, 75.0]
    profile = find_press("lab-eccentric").profile
    assert isinstance(profile, EccentricProfile)
    slowest, middle, fastest = (each.speed or 0.0 for each in settings_of(profile))
    assert (slowest, fastest) == (profile.speed.min, profile.speed.max)
    assert middle == pytest.approx(np.sqrt(slowest * fastest), abs=0.5)


@pytest.mark.parametrize(("flat", "diameter"), [(9.5, 25.0), (9.5, 38.0), (6.0, 31.0)])
def test_the_rim_of_a_head_is_met_where_the_contact_has_moved_out_to_it(
    flat: float, diameter: float
) -> None:
    """From the triangle of roller and edge centres: across/reach is the sine of the contact."""
    contact = RollerContact(410.0, 125.0, 15.9, flat)
    opening = contact.rim_opening(diameter)
    reach = 125.0 + 15.9
    assert 0.0 < opening < 2.0 * reach
    across = np.sqrt(reach**2 - (reach - opening / 2.0) ** 2)
    assert flat / 2.0 + 15.9 * across / reach == pytest.approx(diameter / 2.0)
    # A head no wider than flat and edge radius together is never met at its rim.
    assert contact.rim_opening(flat + 2 * 15.9) == pytest.approx(2.0 * reach)
    assert contact.rim_opening(flat + 2 * 15.9 + 1.0) == pytest.approx(2.0 * reach)


@given(crank=st.floats(5.0, 60.0), ratio=st.floats(2.0, 12.0))
def test_a_crank_at_its_ends_and_beyond(crank: float, ratio: float) -> None:
    press = EccentricPress(crank, crank * ratio, 0.0)
    assert press.closing_angle(np.array([0.0])) == pytest.approx([0.0], abs=1e-6)
    ends = np.array([2.0 * crank, 2.5 * crank, 9.0 * crank])
    assert press.closing_angle(ends) == pytest.approx([np.pi] * 3, abs=1e-6)


@pytest.mark.parametrize("name", ["rotary-mid-19", "lab-eccentric"])
def test_a_moving_press_needs_a_speed(name: str) -> None:
    tooling = "b-flat-10" if name.startswith("rotary") else "lab-flat-10"
    press = press_from(find_press(name).profile, find_tooling(tooling).profile)
    with pytest.raises(ValueError, match="compresses at a speed: give one"):
        press.motion(1e4, Setting())


def test_a_rotary_press_has_the_rollers_of_its_profile() -> None:
    tooling = find_tooling("b-flat-10").profile
    assert tooling.head_edge_radius is not None
    press = press_from(find_press("rotary-mid-19").profile, tooling)
    assert isinstance(press, RotaryPress)
    head = tooling.head_edge_radius, tooling.head_flat
    assert press.main == RollerContact(317.0, 106.0, *head)  # type: ignore[arg-type]
    assert press.pre == RollerContact(317.0, 88.0, *head)  # type: ignore[arg-type]
    early = press.precompression(Setting(speed=40.0))
    assert early is not None
    assert early.flat_time == press.motion(0.0, Setting(speed=40.0)).flat_time
    bare = press_from(rotary_with(pre_roller=None), tooling)
    assert bare.precompression(Setting(speed=40.0)) is None


@pytest.mark.parametrize("lost", ["head_flat", "head_edge_radius"])
def test_no_part_of_a_punch_head_is_assumed(lost: str) -> None:
    tooling = unchecked(find_tooling("b-flat-10").profile, **{lost: None})
    with pytest.raises(InputError, match="no punch head") as caught:
        press_from(find_press("rotary-mid-19").profile, tooling)
    (fault,) = caught.value.faults
    assert fault.file == tooling.name
    assert "head_flat" in fault.where
    assert "never assumed" in fault.mend


@given(force=st.floats(2e3, 40e3))
def test_pump_strokes_climb_to_the_force(force: float) -> None:
    times, forces = PumpStrokes(2.5e3, 0.6, 0.4).rise(force)
    assert forces[-1] == pytest.approx(force)
    assert np.all(np.diff(times) > 0.0)
    assert np.all(np.diff(forces) >= 0.0)
    assert max(np.diff(forces)) <= 2.5e3 * 1.0001
    pauses = np.sum(np.diff(forces) == 0.0)
    assert times[-1] == pytest.approx(0.6 * force / 2.5e3 + 0.4 * pauses)
    highest_pause = max((f for f, step in zip(forces, np.diff(forces), strict=False) if step == 0),
                        default=0.0)  # fmt: skip
    assert highest_pause <= force - 0.49 * 2.5e3


@pytest.mark.parametrize("exponent", [0.02, 0.08])
def test_a_little_more_force_adds_no_jump_of_dwell(exponent: float) -> None:
    """Pauses of the pump lie where the force makes no difference, below the last half stroke."""
    press = press_from(find_press("lab-hand-pump").profile, find_tooling("lab-flat-10").profile)
    dwells = []
    for force in np.arange(8e3, 14e3, 20.0):
        pulse = press.motion(float(force), Setting())
        assert isinstance(pulse, ForcePulse)
        dwells.append(float(effective_dwell(pulse.time, pulse.share(), exponent)))
    assert np.max(np.abs(np.diff(np.log(dwells)))) < 0.02
    assert min(dwells) > 0.0


def test_a_recorded_press_scales_its_log() -> None:
    profile = find_press("lab-recorded").profile
    press = press_from(profile, find_tooling("lab-flat-10").profile)
    pulse = press.motion(9e3, Setting())
    assert isinstance(pulse, ForcePulse)
    assert pulse.force.max() == pytest.approx(9e3)
    assert pulse.time.shape == pulse.force.shape
    assert np.all(np.diff(pulse.time) > 0.0)
    assert np.argmax(pulse.force) == np.argmax(pulse.share())


def test_a_recorded_press_is_the_compression_its_profile_names() -> None:
    profile, tooling = find_press("lab-recorded").profile, find_tooling("lab-flat-10").profile
    assert isinstance(profile, RecordedProfile)
    first = press_from(replace(profile, compression=1), tooling)
    assert isinstance(first, RecordedPress)
    assert first.force.max() > 0.0
    with pytest.raises(InputError, match="compression"):
        press_from(replace(profile, compression=99), tooling)


def test_a_rotary_press_needs_punch_heads() -> None:
    with pytest.raises(InputError, match="no punch head"):
        press_from(find_press("rotary-mid-19").profile, find_tooling("lab-flat-10").profile)


def test_give_of_frame_and_punches_adds() -> None:
    press = press_from(find_press("rotary-mid-19").profile, find_tooling("b-flat-10").profile)
    barrel = 133.6 / (np.pi * 19.0**2 / 4.0 * 210e3)
    assert press.compliance == pytest.approx(1.0 / 160e3 + 2.0 * barrel)


def test_stated_values_become_a_geometry_that_gives_them_back() -> None:
    profile = find_press("rotary-stated-17").profile
    tooling = find_tooling("b-flat-10").profile
    press = press_from(profile, tooling)
    assert isinstance(press, RotaryPress)
    assert press.main.dwell_time(50.0) * 1e3 == pytest.approx(11.98, rel=1e-6)
    assert press.main.punch_velocity(2.0, 50.0) == pytest.approx(149.1, rel=1e-6)
    assert 100.0 < press.main.pitch_circle < 600.0


def rotary_with(**update: Any) -> RotaryProfile:
    profile = find_press("rotary-mid-19").profile
    assert isinstance(profile, RotaryProfile)
    return replace(profile, **update)


def stated(dwell: str, velocity: str = "135.0 mm/s") -> Stated:
    return read_as(
        Stated,
        {
            "speed": "45 rpm",
            "dwell_time": dwell,
            "head_flat": "9.5 mm",
            "punch_velocity": velocity,
            "at_travel": "2 mm",
        },
    )


def test_only_more_than_five_per_cent_is_a_disagreement() -> None:
    """By geometry this press has 12.721 ms and 135.0 mm/s at 45 rpm."""
    assert disagreements(rotary_with(stated=stated("13.3 ms")), 15.9) == ()
    off = disagreements(rotary_with(stated=stated("13.4 ms")), 15.9)
    assert [item.what for item in off] == ["dwell time"]
    both = disagreements(rotary_with(stated=stated("10 ms", "180 mm/s")), 15.9)
    assert [item.what for item in both] == ["dwell time", "punch velocity"]


def test_a_velocity_no_roller_can_give_is_refused() -> None:
    profile = rotary_with(
        pitch_circle=None,
        main_roller=replace(rotary_with().main_roller, radius=None),
        stated=stated("14 ms", "4900 mm/s"),
    )
    with pytest.raises(InputError, match=r"stated\.punch_velocity"):
        roller_geometry(profile, 15.9)


def test_figures_of_a_press() -> None:
    found = {
        figure.label: figure.value
        for figure in press_figures(
            find_press("rotary-double-53").profile,
            find_tooling("b-flat-10").profile,
            Asked(60.0, 10e3),
        )
    }
    assert found["output"] == 53 * 60 * 60 * 2
    assert found["dwell time"] == pytest.approx(2.0 * np.arcsin(9.5 / 653.0) / (2.0 * np.pi))
    assert found["time under the feeder"] == pytest.approx(50.0 / 360.0)
    crank = {
        figure.label: figure.value
        for figure in press_figures(
            find_press("lab-eccentric").profile,
            find_tooling("lab-flat-10").profile,
            Asked(60.0, 1.0),
        )
    }
    motion = press_from(
        find_press("lab-eccentric").profile, find_tooling("lab-flat-10").profile
    ).motion(1.0, Setting(speed=60.0))
    assert isinstance(motion, Stroke)
    moment = float(motion.closing_time(np.array(2.0)))
    ahead = motion.opening(np.array([-moment, -moment + 1e-6]))
    assert crank["punch velocity"] == pytest.approx((ahead[0] - ahead[1]) / 1e-6, rel=1e-3)
    assert crank["output"] == 3600.0


def test_a_radius_given_for_a_diameter_is_doubtful() -> None:
    """Either mistake doubles the ratio of roller to pitch circle; no shipped press is doubted."""
    press = find_press("rotary-mid-19").profile
    assert isinstance(press, RotaryProfile)
    assert press.pitch_circle is not None
    assert press.main_roller.radius is not None
    roller = replace(press.main_roller, radius=2.0 * press.main_roller.radius)
    for change in ({"pitch_circle": press.pitch_circle / 2.0}, {"main_roller": roller}):
        told = press_doubts(unchecked(press, **change))
        assert any("a roller's radius a radius" in each for each in told)
    assert not any("roller" in each for each in press_doubts(press))
