"""Pulses found for a pressure, and every figure read off them, against a dense direct solution."""

from __future__ import annotations

from dataclasses import replace
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from scaleup.powder.charge import Charge
from scaleup.powder.compression import (
    Pulse,
    compress,
    press_at,
    press_to,
    pressure_history,
)
from scaleup.powder.hardening import Heckel
from scaleup.powder.law import Powder
from scaleup.powder.precompression import combined, dwell_before, precompression_counts
from scaleup.powder.rate import effective_dwell
from scaleup.powder.stroke_solver import Squeeze, integrate
from scaleup.presses.eccentric import EccentricPress
from scaleup.presses.hydraulic import HydraulicPress, PumpStrokes
from scaleup.presses.press import Setting
from scaleup.presses.pulse_shapes import ForcePulse
from scaleup.presses.rotary import RollerContact, RotaryPress

AREA = float(np.pi * 25.0)
CHARGE = Charge(400.0, 1.55, AREA)
HEAD = (410.0, 125.0, 15.875, 9.525)
CONTACT = RollerContact(*HEAD)


def powder(y: float, a: float, m: float, k: float) -> Powder:
    one = np.ones(1)
    return Powder(Heckel(y * one, a * one), m * one, k * one, 0.0 * one, 0.0 * one)


Dense = tuple[Pulse, float, Any]
SOFT = powder(120.0, 0.6, 0.05, 400.0)


@pytest.mark.parametrize(
    ("m", "before", "stiffness", "speed"),
    [
        (0.005, 0.0, 150e3, 60.0),
        pytest.param(0.005, 150.0, 100e3, 30.0, marks=pytest.mark.slow),
        pytest.param(0.02, 60.0, 200e3, 15.0, marks=pytest.mark.slow),
        (0.05, 150.0, 100e3, 80.0),
        pytest.param(0.1, 0.0, 100e3, 45.0, marks=pytest.mark.slow),
        pytest.param(0.1, 90.0, 300e3, 45.0, marks=pytest.mark.slow),
    ],
)
def test_give_and_an_earlier_pulse_agree_with_the_slow_twin(
    radau_twin: ModuleType, m: float, before: float, stiffness: float, speed: float
) -> None:
    """`before` is the peak in MPa of an earlier pulse of 10 ms effective dwell."""
    law = powder(140.0, 0.65, m, 600.0)
    state = law.static_pressure(np.array([before]), np.array([0.01]))
    pressed = press_to(
        CONTACT.stroke(speed), law, CHARGE, np.array([170.0]), AREA / stiffness, state
    )
    twin = radau_twin.compress(
        radau_twin.rotary(*HEAD, speed),
        radau_twin.Powder(140.0, 0.65, m, 600.0),
        radau_twin.Charge(400.0, 1.55, AREA),
        float(pressed.separation[0]),
        stiffness,
        float(state[0]) / 140.0,
    )
    earlier = dwell_before(law, state, pressed.peak_pressure)
    assert pressed.static_pressure[0] / 140.0 == pytest.approx(twin.densification, rel=1e-4)
    assert pressed.peak_pressure[0] == pytest.approx(twin.peak_pressure, rel=3e-4)
    assert (pressed.effective_dwell - earlier)[0] == pytest.approx(twin.effective_dwell, rel=1e-2)
    assert pressed.time_above_90[0] == pytest.approx(twin.time_above_90, rel=1e-2)


@pytest.mark.parametrize("curvature", [-0.4, -0.25, 0.0, 0.25, 0.4])
def test_dwell_and_state_are_one_law_with_precompression_and_curvature(curvature: float) -> None:
    """The dwell told of both pulses, put into the law, gives the state they left: also where the
    exponent changes with the dwell."""
    law = replace(
        powder(140.0, 0.65, 0.05, 600.0), middle_dwell=np.ones(1), curvature=np.full(1, curvature)
    )
    peak = np.array([170.0])
    early = press_to(CONTACT.stroke(45.0), law, CHARGE, 0.9 * peak)
    stroke = press_to(CONTACT.stroke(45.0), law, CHARGE, peak, before=early.static_pressure)
    time = np.linspace(-0.01, 0.01, 41)
    force = ForcePulse(time, 1e4 * np.cos(50.0 * np.pi * time))
    prescribed = press_to(force, law, CHARGE, peak, before=early.static_pressure)
    for found in (stroke, prescribed):
        told = law.static_pressure(found.peak_pressure, found.effective_dwell)
        assert told[0] == pytest.approx(found.static_pressure[0], rel=2e-4)
        assert found.effective_dwell[0] > early.effective_dwell[0] * 0.3
    assert stroke.static_pressure[0] > early.static_pressure[0]


@pytest.fixture(scope="module")
def dense(radau_twin: ModuleType) -> Dense:
    """Return our pulse, the stiffness of the press in N/mm and the twin's pulse."""
    stiffness = 40e3
    pressed = press_to(CONTACT.stroke(40.0), SOFT, CHARGE, np.array([150.0]), AREA / stiffness)
    twin = radau_twin.compress(
        radau_twin.rotary(*HEAD, 40.0),
        radau_twin.Powder(120.0, 0.6, 0.05, 400.0),
        radau_twin.Charge(400.0, 1.55, AREA),
        float(pressed.separation[0]),
        stiffness,
    )
    return pressed, stiffness, twin


def test_mean_strain_rate_between_10_and_90_per_cent(dense: Dense) -> None:
    found, stiffness, twin = dense
    rising = twin.time <= twin.peak_time
    times, heights = [], []
    for share in (0.1, 0.9):
        level = share * twin.peak_pressure
        moment = np.interp(level, twin.pressure[rising], twin.time[rising])
        opening = CONTACT.stroke(40.0).opening(np.array([moment]))[0]
        times.append(moment)
        heights.append(found.separation[0] + opening + level * AREA / stiffness)
    direct = np.log(heights[0] / heights[1]) / (times[1] - times[0])
    assert found.strain_rate[0] == pytest.approx(direct, rel=2e-3)


def test_contact_from_first_touch_until_the_tablet_is_left_behind(
    dense: Dense,
) -> None:
    found, _, twin = dense
    stroke = CONTACT.stroke(40.0)

    def moment(level: float) -> float:
        """Return the time in s after dead centre at which unloaded powder just fills the gap."""
        height = 400.0 / (1.55 * AREA * (1.0 - np.exp(-level)))
        return float(
            brentq(
                lambda time: found.separation[0] + stroke.opening(np.array([time]))[0] - height,
                stroke.flat_time,
                0.08,
            )
        )

    contact = moment(0.6) + moment(0.6 + twin.densification)
    assert found.contact_time[0] == pytest.approx(contact, rel=1e-4)


def test_the_tips_are_closest_after_the_pressure_has_peaked(dense: Dense) -> None:
    """The least distance on the path of the twin, later than the peak and so with less load."""
    found, stiffness, twin = dense
    opening = CONTACT.stroke(40.0).opening(twin.time)
    apart = found.separation[0] + opening + twin.pressure * AREA / stiffness
    assert twin.time[apart.argmin()] >= CONTACT.stroke(40.0).flat_time > twin.peak_time
    assert found.in_die[0] == pytest.approx(apart.min(), abs=2e-5)
    assert found.in_die[0] < found.separation[0] + found.peak_pressure[0] * AREA / stiffness - 0.01
    end = SOFT.hardening.densification(found.static_pressure)
    powder_there = CHARGE.separation(end + found.peak_pressure / SOFT.elastic)
    assert found.in_die[0] > powder_there[0]


@pytest.mark.parametrize("speed", [20.0, 80.0])
@pytest.mark.parametrize("stiffness", [40e3, 1e9])
def test_the_least_distance_of_a_press_without_a_flat(
    radau_twin: ModuleType, speed: float, stiffness: float
) -> None:
    press = EccentricPress(20.0, 160.0, 1.0 / stiffness)
    stroke = press.motion(0.0, Setting(speed=speed))
    pressed = press_to(stroke, SOFT, CHARGE, np.array([150.0]), AREA / stiffness)
    twin = radau_twin.compress(
        radau_twin.eccentric(20.0, 160.0, speed),
        radau_twin.Powder(120.0, 0.6, 0.05, 400.0),
        radau_twin.Charge(400.0, 1.55, AREA),
        float(pressed.separation[0]),
        stiffness,
    )
    apart = pressed.separation[0] + stroke.opening(twin.time) + twin.pressure * AREA / stiffness
    assert pressed.in_die[0] == pytest.approx(apart.min(), abs=2e-5)


@pytest.mark.parametrize("m", [0.0, 0.02, 0.1])
@pytest.mark.parametrize("hold", [0.0, 0.3])
def test_the_least_distance_under_a_force(m: float, hold: float) -> None:
    """The state at every moment of a fine grid, from the dwell up to that moment."""
    law, peak = powder(120.0, 0.6, m, 400.0), np.array([115.0])
    end = 0.5 + hold + 0.2
    pulse = ForcePulse(np.array([0.0, 0.5, 0.5001 + hold, end]), np.array([0.0, 9e3, 9e3, 0.0]))
    pressed = press_to(pulse, law, CHARGE, peak)
    moments = np.append(
        np.linspace(1e-3, 0.5 + hold, 400), 0.5001 + hold + np.geomspace(1e-6, 0.19, 400)
    )
    heights = []
    for moment in moments:
        time = np.append(pulse.time[pulse.time < moment], moment)
        share = np.interp(time, pulse.time, pulse.share())
        dwell = effective_dwell(time, share, m)
        q = (share.max() * 115.0 / 120.0 * dwell**m) ** (1.0 / (1.0 + m))
        level = 0.6 + q + share[-1] * 115.0 / 400.0
        heights.append(400.0 / (1.55 * AREA * (1.0 - np.exp(-level))))
    assert pressed.in_die[0] == pytest.approx(min(heights), abs=3e-5)


MARRAM_PRESS = (290.0, 100.0, 15.9, 9.5)
"""Pitch circle, main roller radius, head edge radius and head flat in mm of an earlier profile."""


@pytest.mark.parametrize(
    "share", [0.0, *(pytest.param(each, marks=pytest.mark.slow) for each in (0.15, 0.5, 0.8))]
)
def test_the_main_roller_meets_powder_as_precompression_left_it(
    radau_twin: ModuleType, share: float
) -> None:
    """Both pulses by the twin, one after the other; contact and rise read off its second path."""
    speed, stiffness, pre_radius = 45.0, 160e3, 90.0
    main = RollerContact(*MARRAM_PRESS)
    pre = replace(main, roller_radius=pre_radius)
    press, setting = RotaryPress(main, pre, 1.0 / stiffness), Setting(speed=speed)
    pressed = compress(press, SOFT, CHARGE, np.array([150.0]), setting, share)
    law, charge = radau_twin.Powder(120.0, 0.6, 0.05, 400.0), radau_twin.Charge(400.0, 1.55, AREA)
    before = 0.0
    if share > 0.0:
        early = press_to(
            pre.stroke(speed), SOFT, CHARGE, np.array([150.0 * share]), AREA / stiffness
        )
        motion = radau_twin.rotary(290.0, pre_radius, 15.9, 9.5, speed)
        first = radau_twin.compress(motion, law, charge, float(early.separation[0]), stiffness)
        before = first.densification
    gap = float(pressed.separation[0])
    motion = radau_twin.rotary(*MARRAM_PRESS, speed)
    twin = radau_twin.compress(motion, law, charge, gap, stiffness, before)
    assert pressed.peak_pressure[0] == pytest.approx(twin.peak_pressure, rel=3e-4)
    met, left = (charge.separation(0.6 + q) - gap for q in (before, twin.densification))
    contact = motion.time_after_centre(met) + motion.time_after_centre(left)
    assert pressed.contact_time[0] == pytest.approx(contact, rel=1e-3)
    assert pressed.entry_opening[0] == pytest.approx(met, rel=2e-3)
    rising = twin.time <= twin.peak_time
    levels = np.array([0.1, 0.9]) * twin.peak_pressure
    times = np.interp(levels, twin.pressure[rising], twin.time[rising])
    heights = [
        gap + motion.opening(time) + level * AREA / stiffness
        for time, level in zip(times, levels, strict=True)
    ]
    direct = np.log(heights[0] / heights[1]) / (times[1] - times[0])
    assert pressed.strain_rate[0] == pytest.approx(direct, rel=5e-3)


def test_a_dwell_driven_to_and_fro_settles() -> None:
    """Precompression as high as the main force, on a powder whose exponent rises beyond the tests:
    a little more dwell makes the second pulse count for much more, and the other way round."""
    one = np.ones(1)
    law = Powder(
        Heckel(72.3 * one, 0.646 * one), 0.0316 * one, 545.0 * one, 0.0625 * one, 0.7 * one
    )
    press, peak = RotaryPress(CONTACT, CONTACT, 1.0 / 160e3), np.array([43.2])
    for speed in (20.0, 60.0, 90.0):
        pressed = compress(press, law, CHARGE, peak, Setting(speed=float(speed)), 1.0)
        assert pressed.peak_pressure[0] == pytest.approx(43.2, rel=1e-6)
        told = law.static_pressure(pressed.peak_pressure, pressed.effective_dwell)
        assert told[0] == pytest.approx(pressed.static_pressure[0], rel=3e-4)


SPRINGY = powder(210.0, 0.84, 0.035, 55.0)
"""K as low as an elastic recovery of 8 % at a low pressure makes it."""


def test_a_springy_powder_on_a_press_that_gives(radau_twin: ModuleType) -> None:
    pressed = press_at(
        Squeeze(SPRINGY, CHARGE, CONTACT.stroke(45.0), AREA / 95e3, np.ones(1), np.zeros(1)),
        np.array([3.5]),
    )
    twin = radau_twin.compress(
        radau_twin.rotary(*HEAD, 45.0),
        radau_twin.Powder(210.0, 0.84, 0.035, 55.0),
        radau_twin.Charge(400.0, 1.55, AREA),
        3.5,
        95e3,
    )
    assert pressed.peak_pressure[0] == pytest.approx(twin.peak_pressure, rel=3e-4)
    assert pressed.static_pressure[0] / 210.0 == pytest.approx(twin.densification, rel=1e-4)
    assert pressed.effective_dwell[0] == pytest.approx(twin.effective_dwell, rel=1e-2)


@pytest.mark.parametrize("of", [SOFT, SPRINGY])
@pytest.mark.parametrize("times", [0.7, 1.4, 2.0])
def test_the_expected_pressure_only_places_the_steps(of: Powder, times: float) -> None:
    squeeze = Squeeze(of, CHARGE, CONTACT.stroke(45.0), AREA / 95e3, np.ones(1), np.zeros(1))
    separation = np.array([3.5])
    peak = press_at(squeeze, separation).peak_pressure
    off = integrate(squeeze, separation, times * peak)
    assert np.exp(off.log_pressure.max()) == pytest.approx(peak[0], rel=2e-3)


def test_a_springy_powder_reaches_the_pressure_asked_for() -> None:
    pressed = press_to(CONTACT.stroke(45.0), SPRINGY, CHARGE, np.array([150.0]), AREA / 95e3)
    assert pressed.peak_pressure[0] == pytest.approx(150.0, rel=1e-6)


@settings(max_examples=25)
@given(
    pressure=st.floats(30.0, 400.0),
    m=st.floats(0.0, 0.12),
    give=st.floats(0.0, 8e-4),
    before=st.floats(0.0, 0.95),
)
def test_the_peak_asked_for_is_met(pressure: float, m: float, give: float, before: float) -> None:
    law, stroke = powder(150.0, 0.7, m, 500.0), CONTACT.stroke(40.0)
    earlier = np.array([before * pressure * 0.9])
    pressed = press_to(stroke, law, CHARGE, np.array([pressure]), give, earlier)
    assert pressed.peak_pressure[0] == pytest.approx(pressure, rel=1e-6)
    again = press_at(Squeeze(law, CHARGE, stroke, give, np.ones(1), earlier), pressed.separation)
    assert again.peak_pressure[0] == pytest.approx(pressure, rel=1e-4)
    assert again.static_pressure[0] == pytest.approx(pressed.static_pressure[0], rel=1e-4)


@settings(max_examples=15)
@given(separation=st.floats(3.5, 4.4), m=st.floats(0.005, 0.1))
def test_separation_to_peak_and_back(separation: float, m: float) -> None:
    law, stroke, give = powder(150.0, 0.7, m, 500.0), CONTACT.stroke(40.0), 5e-4
    there = press_at(
        Squeeze(law, CHARGE, stroke, give, np.ones(1), np.zeros(1)), np.array([separation])
    )
    back = press_to(stroke, law, CHARGE, there.peak_pressure, give)
    assert back.separation[0] == pytest.approx(separation, abs=2e-4)


def test_many_draws_at_once_are_each_its_own() -> None:
    rng = np.random.default_rng(6)
    y, m = rng.uniform(80, 250, 12), rng.uniform(0.005, 0.1, 12)
    k, pressure = rng.uniform(300, 1200, 12), rng.uniform(60, 250, 12)
    zero = np.zeros(12)
    together = press_to(
        CONTACT.stroke(40.0),
        Powder(Heckel(y, zero + 0.65), m, k, zero, zero),
        CHARGE,
        pressure,
        4e-4,
    )
    for i in (0, 5, 11):
        alone = press_to(
            CONTACT.stroke(40.0), powder(y[i], 0.65, m[i], k[i]), CHARGE, pressure[[i]], 4e-4
        )
        assert together.separation[i] == pytest.approx(alone.separation[0], abs=5e-4)
        assert together.effective_dwell[i] == pytest.approx(alone.effective_dwell[0], rel=1e-2)


def test_a_force_is_met_exactly_and_its_strain_rate_is_that_of_the_law() -> None:
    pulse = ForcePulse(np.array([0.0, 0.5, 1.5, 1.6]), np.array([0.0, 9e3, 9e3, 0.0]))
    pressed = press_to(pulse, SOFT, CHARGE, np.array([115.0]), 4e-4)
    assert pressed.peak_pressure[0] == 115.0
    assert pressed.in_die[0] - pressed.separation[0] == pytest.approx(115.0 * 4e-4)

    def height(share: float) -> float:
        """Return the height in mm on the ramp, whose effective dwell is ``t m/(1+m)``."""
        dwell = 0.5 * share * 0.05 / 1.05
        q = (share * 115.0 / 120.0 * dwell**0.05) ** (1.0 / 1.05)
        level = 0.6 + q + share * 115.0 / 400.0
        return float(400.0 / (1.55 * AREA * (1.0 - np.exp(-level))))

    expected = np.log(height(0.1) / height(0.9)) / 0.4
    assert pressed.strain_rate[0] == pytest.approx(expected, rel=1e-9)


def test_an_earlier_equal_pulse_doubles_the_dwell() -> None:
    peak, dwell = np.array([140.0]), np.array([0.007])
    state = SOFT.static_pressure(peak, dwell)
    assert dwell_before(SOFT, state, peak) == pytest.approx(dwell, rel=1e-10)
    twice = SOFT.static_pressure(peak, 2.0 * dwell)
    assert combined(SOFT, state, state) == pytest.approx(twice, rel=1e-10)
    pulse = ForcePulse(np.array([0.0, 0.1, 0.2]), np.array([0.0, 11e3, 0.0]))
    alone = press_to(pulse, SOFT, CHARGE, peak)
    again = press_to(pulse, SOFT, CHARGE, peak, 0.0, alone.static_pressure)
    assert again.effective_dwell == pytest.approx(2.0 * alone.effective_dwell, rel=1e-9)


@given(share=st.floats(0.05, 0.99), m=st.floats(0.01, 0.1))
def test_integrals_of_two_pulses_add(share: float, m: float) -> None:
    """Both pulses laid end to end as one log of pressure against time."""
    law = powder(120.0, 0.6, m, 400.0)
    time = np.array([0.0, 0.1, 0.2, 0.3, 0.4])
    log = np.array([0.0, share, 0.0, 1.0, 0.0])
    whole = law.static_pressure(np.array([150.0]), np.array([effective_dwell(time, log, m)]))
    first = ForcePulse(time[:3], log[:3] * 1e4)
    main = ForcePulse(time[2:], log[2:] * 1e4)
    early = press_to(first, law, CHARGE, np.array([150.0 * share])).static_pressure
    both = press_to(main, law, CHARGE, np.array([150.0]), 0.0, early)
    assert both.static_pressure == pytest.approx(whole, rel=1e-9)
    late = press_to(main, law, CHARGE, np.array([150.0])).static_pressure
    assert combined(law, early, late) == pytest.approx(whole, rel=1e-9)


def rotary(stiffness: float) -> RotaryPress:
    return RotaryPress(CONTACT, CONTACT, 1.0 / stiffness)


def with_share(press: RotaryPress, share: float) -> Pulse:
    return compress(press, SOFT, CHARGE, np.array([150.0]), Setting(speed=40.0), share)


def test_precompression_counts_only_near_the_main_force() -> None:
    press = rotary(200e3)
    alone = with_share(press, 0.0).static_pressure
    assert with_share(press, 0.3).static_pressure == pytest.approx(alone, rel=1e-5)
    gains = [
        (with_share(press, share).static_pressure / alone)[0] - 1.0 for share in (0.8, 0.9, 0.99)
    ]
    assert 0.0 <= gains[0] < 3e-4 < gains[1] < gains[2]
    doubled = 2.0 ** (0.05 / 1.05) - 1.0
    assert gains[2] == pytest.approx(doubled, rel=0.2)


def test_a_press_without_a_second_roller_gives_one_pulse() -> None:
    single = RotaryPress(CONTACT, None, 1.0 / 200e3)
    with_pre, without = (with_share(single, share).effective_dwell for share in (0.9, 0.0))
    assert with_pre == pytest.approx(without, rel=1e-12)


def test_what_is_no_motion_is_refused() -> None:
    with pytest.raises(TypeError, match="not a motion"):
        press_to("stroke", SOFT, CHARGE, np.array([100.0]))  # type: ignore[arg-type]


GIVING = RotaryPress(CONTACT, CONTACT, 1.0 / 160e3)


def test_the_tips_of_a_press_give_way_by_its_compliance() -> None:
    """160 kN/mm under 150 MPa on 78.54 mm², 11.78 kN: 73.6 µm, where no pressure relaxes."""
    firm = powder(120.0, 0.6, 0.0, 400.0)
    pulse = compress(GIVING, firm, CHARGE, np.array([150.0]), Setting(speed=40.0))
    assert pulse.in_die - pulse.separation == pytest.approx([0.0736], abs=5e-5)


def test_a_pump_is_stroked_up_to_the_force_of_the_pressure() -> None:
    """2.5 kN a stroke to 100 MPa, 7.854 kN: 3.14 strokes of 0.6 s, three pauses, the release."""
    pump = HydraulicPress(PumpStrokes(2.5e3, 0.6, 0.4), 0.08, 0.0)
    pulse = compress(pump, SOFT, CHARGE, np.array([100.0]), Setting())
    assert pulse.contact_time == pytest.approx([0.6 * 7.85398 / 2.5 + 3 * 0.4 + 0.08], rel=1e-5)


@pytest.mark.parametrize("m", [0.01, 0.03, 0.08])
def test_a_precompression_left_out_would_not_move_the_state(m: float) -> None:
    """From the share on from which it counts the state moves by about 1e-5, below by less."""
    law = powder(120.0, 0.6, m, 400.0)
    shares = np.linspace(0.01, 1.0, 991)
    counts = np.array([precompression_counts(law, float(share)) for share in shares])
    least = float(shares[counts.argmax()])
    assert not counts[: counts.argmax()].any()
    assert counts[counts.argmax() :].all()
    # Both pulses alike in shape: the integral of (P/S)^(1/m) grows by share^(1/m).
    main = law.static_pressure(np.array([150.0]), np.array([0.01]))
    early = law.static_pressure(np.array([150.0 * least]), np.array([0.01]))
    moved = combined(law, main, early) / main - 1.0
    assert 0.7e-5 < moved[0] < 1.3e-5


def test_no_precompression_counts_for_nothing() -> None:
    assert not precompression_counts(SOFT, 0.0)
    assert not precompression_counts(SOFT, -0.1)
    assert not precompression_counts(powder(120.0, 0.6, 0.0, 400.0), 0.9)


def test_the_history_of_a_stroke_is_the_pulse_it_shows() -> None:
    setting = Setting(speed=40.0)
    time, pressure = pressure_history(GIVING, SOFT, CHARGE, 150.0, setting)
    pulse = compress(GIVING, SOFT, CHARGE, np.array([150.0]), setting)
    assert time[0] == 0.0
    assert np.all(np.diff(time) > 0.0)
    assert pressure.shape == time.shape
    assert pressure.max() == pytest.approx(150.0, rel=1e-3)
    assert pressure[0] < 0.5 * 150.0
    assert pressure[-1] < 0.5 * 150.0
    dwell = effective_dwell(time, pressure, 0.05)
    assert dwell == pytest.approx(pulse.effective_dwell[0], rel=2e-3)
    above = time[pressure >= 0.9 * 150.0]
    assert above[-1] - above[0] == pytest.approx(pulse.time_above_90[0], rel=0.1)


def test_the_history_of_a_driven_force_is_the_force() -> None:
    pump = HydraulicPress(PumpStrokes(2.5e3, 0.6, 0.4), 0.08, 0.0)
    time, pressure = pressure_history(pump, SOFT, CHARGE, 100.0, Setting(hold=2.0))
    motion = pump.motion(100.0 * AREA, Setting(hold=2.0))
    assert time == pytest.approx(motion.time)
    assert pressure * AREA == pytest.approx(motion.force)
    assert np.sum(pressure == 100.0) == 2


def test_a_force_sampled_just_where_it_passes_a_tenth() -> None:
    """A sample at the level itself tells the same as one a hair below it."""
    time = np.array([0.0, 1.0, 3.0, 4.0, 5.0])
    just = ForcePulse(time, np.array([0.0, 0.1, 0.9, 1.0, 0.0]))
    hair = ForcePulse(time, np.array([0.0, 0.1 - 1e-9, 0.9 - 1e-9, 1.0, 0.0]))
    found, again = (press_to(pulse, SOFT, CHARGE, np.array([150.0])) for pulse in (just, hair))
    assert found.strain_rate[0] == pytest.approx(again.strain_rate[0], rel=1e-6)
    assert found.strain_rate[0] > 0.0


def test_some_draws_of_a_powder_keep_all_their_parameters() -> None:
    two = np.array([1.0, 2.0])
    whole = Powder(Heckel(100.0 * two, 0.3 * two), 0.02 * two, 300.0 * two, 0.01 * two, 0.1 * two)
    second = whole.chosen(np.array([1]))
    assert second.hardening.scale == [200.0]
    assert second.rate_exponent == [0.04]
    assert second.elastic == [600.0]
    assert second.tested_dwell == [0.02]
    assert second.curvature == [0.2]
    assert second.middle_dwell == [0.02]
    assert second.draws == 1
