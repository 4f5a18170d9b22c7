"""Each kind of press as the motion it makes of its profile."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scaleup.errors import InputError
from scaleup.files.library import find_press, find_tooling
from scaleup.files.press_profiles import RotaryProfile, Stated
from scaleup.powder.rate import effective_dwell
from scaleup.presses.eccentric import EccentricPress
from scaleup.presses.figures import Asked, press_figures
from scaleup.presses.hydraulic import PumpStrokes
from scaleup.presses.press import Setting, press_from
from scaleup.presses.pulse_shapes import ForcePulse, Stroke
from scaleup.presses.rotary import RollerContact, RotaryPress
from scaleup.presses.stated import disagreements, roller_geometry


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
    press = press_from(find_press("lab-hydraulic").model, find_tooling("lab-flat-10").model)
    pulse = press.motion(10e3, Setting(hold=3.0, loading_rate=5e3))
    assert isinstance(pulse, ForcePulse)
    assert pulse.time == pytest.approx([0.0, 2.0, 5.0, 5.05])
    assert pulse.force == pytest.approx([0.0, 10e3, 10e3, 0.0])
    quick = press.motion(10e3, Setting())
    assert isinstance(quick, ForcePulse)
    assert quick.time.size == 3


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
    press = press_from(find_press("lab-hand-pump").model, find_tooling("lab-flat-10").model)
    dwells = []
    for force in np.arange(8e3, 14e3, 20.0):
        pulse = press.motion(float(force), Setting())
        assert isinstance(pulse, ForcePulse)
        dwells.append(float(effective_dwell(pulse.time, pulse.share(), exponent)))
    assert np.max(np.abs(np.diff(np.log(dwells)))) < 0.02
    assert min(dwells) > 0.0


def test_a_recorded_press_scales_its_log() -> None:
    model = find_press("lab-recorded").model
    press = press_from(model, find_tooling("lab-flat-10").model)
    pulse = press.motion(9e3, Setting())
    assert isinstance(pulse, ForcePulse)
    assert pulse.force.max() == pytest.approx(9e3)
    assert np.argmax(pulse.force) == np.argmax(pulse.share())


def test_a_rotary_press_needs_punch_heads() -> None:
    with pytest.raises(InputError, match="no punch head"):
        press_from(find_press("rotary-mid-16").model, find_tooling("lab-flat-10").model)


def test_give_of_frame_and_punches_adds() -> None:
    press = press_from(find_press("rotary-mid-16").model, find_tooling("b-flat-10").model)
    barrel = 133.6 / (np.pi * 19.0**2 / 4.0 * 210e3)
    assert press.compliance == pytest.approx(1.0 / 160e3 + 2.0 * barrel)


def test_stated_values_become_a_geometry_that_gives_them_back() -> None:
    model = find_press("rotary-stated-20").model
    tooling = find_tooling("b-flat-10").model
    press = press_from(model, tooling)
    assert isinstance(press, RotaryPress)
    assert press.main.dwell_time(50.0) * 1e3 == pytest.approx(12.96, rel=1e-6)
    assert press.main.punch_velocity(2.0, 50.0) == pytest.approx(135.5, rel=1e-6)
    assert 100.0 < press.main.pitch_circle < 600.0


def rotary_with(**update: object) -> RotaryProfile:
    model = find_press("rotary-mid-16").model
    assert isinstance(model, RotaryProfile)
    return model.model_copy(update=update)


def stated(dwell: str, velocity: str = "126.5 mm/s") -> Stated:
    return Stated.model_validate(
        {
            "speed": "45 rpm",
            "dwell_time": dwell,
            "head_flat": "9.5 mm",
            "punch_velocity": velocity,
            "at_travel": "2 mm",
        }
    )


def test_only_more_than_five_per_cent_is_a_disagreement() -> None:
    """By geometry this press has 13.906 ms and 126.5 mm/s at 45 rpm."""
    assert disagreements(rotary_with(stated=stated("14.5 ms")), 15.9) == ()
    off = disagreements(rotary_with(stated=stated("14.8 ms")), 15.9)
    assert [item.what for item in off] == ["dwell time"]
    both = disagreements(rotary_with(stated=stated("10 ms", "180 mm/s")), 15.9)
    assert [item.what for item in both] == ["dwell time", "punch velocity"]


def test_a_velocity_no_roller_can_give_is_refused() -> None:
    model = rotary_with(
        pitch_circle=None,
        main_roller=rotary_with().main_roller.model_copy(update={"radius": None}),
        stated=stated("14 ms", "9000 mm/s"),
    )
    with pytest.raises(InputError, match=r"stated\.punch_velocity"):
        roller_geometry(model, 15.9)


def test_figures_of_a_press() -> None:
    found = {
        figure.label: figure.value
        for figure in press_figures(
            find_press("rotary-double-61").model,
            find_tooling("b-flat-10").model,
            Asked(60.0, 10e3),
        )
    }
    assert found["output"] == 61 * 60 * 60 * 2
    assert found["dwell time"] == pytest.approx(2.0 * np.arcsin(9.5 / 690.0) / (2.0 * np.pi))
    assert found["time under the feeder"] == pytest.approx(50.0 / 360.0)
    crank = {
        figure.label: figure.value
        for figure in press_figures(
            find_press("lab-eccentric").model, find_tooling("lab-flat-10").model, Asked(60.0, 1.0)
        )
    }
    motion = press_from(
        find_press("lab-eccentric").model, find_tooling("lab-flat-10").model
    ).motion(1.0, Setting(speed=60.0))
    assert isinstance(motion, Stroke)
    moment = float(motion.closing_time(np.array(2.0)))
    ahead = motion.opening(np.array([-moment, -moment + 1e-6]))
    assert crank["punch velocity"] == pytest.approx((ahead[0] - ahead[1]) / 1e-6, rel=1e-3)
    assert crank["output"] == 3600.0
