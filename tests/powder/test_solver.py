"""The stroke solver against the printed reference table, its slow twin, and limits of the law."""

from __future__ import annotations

import tomllib
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scaleup.powder.charge import Charge
from scaleup.powder.compression import compress, press_at, press_to
from scaleup.powder.hardening import Heckel
from scaleup.powder.law import Powder
from scaleup.powder.stroke_solver import Squeeze, log_of_one_and
from scaleup.presses.eccentric import EccentricPress
from scaleup.presses.press import Setting
from scaleup.presses.pulse_shapes import ForcePulse, Stroke
from scaleup.presses.rotary import RollerContact, RotaryPress

pytestmark = pytest.mark.slow

TABLE = Path(__file__).parents[1] / "published" / "law_reference.toml"
AREA = np.pi * 25.0
CHARGE = Charge(400.0, 1.55, AREA)
PRESS_A = RollerContact(410.0, 125.0, 15.875, 9.525)


def powder(y: float, a: float, m: float, k: float, draws: int = 1) -> Powder:
    one = np.ones(draws)
    return Powder(Heckel(y * one, a * one), m * one, k * one, 0.0 * one, 0.0 * one)


def squeeze(of: Powder, stroke: Stroke, compliance: float = 0.0, before: float = 0.0) -> Squeeze:
    one = np.ones(of.draws)
    return Squeeze(of, CHARGE, stroke, compliance, one, before * one)


REFERENCE = tomllib.loads(TABLE.read_text())
"""Regression values of the law, solved with an implicit Runge-Kutta method at rtol 1e-10."""


def reference_stroke(row: dict[str, Any]) -> Stroke:
    if row["press"] == "rotary":
        return RollerContact(**REFERENCE["rotary"]).stroke(row["speed"])
    crank = REFERENCE["eccentric"]
    press = EccentricPress(crank["crank_radius"], crank["link_length"], 0.0)
    return press.motion(0.0, Setting(speed=row["speed"]))


@pytest.mark.parametrize("row", REFERENCE["row"])
def test_the_reference_table(row: dict[str, Any]) -> None:
    of = powder(*row["powder"])
    pulse = press_at(squeeze(of, reference_stroke(row)), np.array([row["separation"]]))
    q, peak = row["q"], row["peak_pressure"]
    dwell, above = row["effective_dwell"], row["time_above_90"]
    assert pulse.static_pressure[0] / of.hardening.scale[0] == pytest.approx(q, rel=1e-4)
    assert pulse.peak_pressure[0] == pytest.approx(peak, rel=1e-4)
    assert pulse.effective_dwell[0] * 1e3 == pytest.approx(dwell, rel=5e-3)
    assert pulse.time_above_90[0] * 1e3 == pytest.approx(above, rel=5e-3)


@pytest.mark.parametrize("seed", range(4))
def test_the_solver_agrees_with_its_slow_twin(radau_twin: ModuleType, seed: int) -> None:
    rng = np.random.default_rng(seed)
    y, a = rng.uniform(60, 300), rng.uniform(0.4, 0.9)
    m, k = rng.uniform(0.005, 0.1), rng.uniform(250, 1500)
    speed, stiffness = rng.uniform(10, 90), rng.uniform(80e3, 300e3)
    of = powder(y, a, m, k)
    ours = press_to(PRESS_A.stroke(speed), of, CHARGE, np.array([rng.uniform(60, 250)]),
                    AREA / stiffness)  # fmt: skip
    theirs = radau_twin.compress(
        radau_twin.rotary(410.0, 125.0, 15.875, 9.525, speed),
        radau_twin.Powder(y, a, m, k),
        radau_twin.Charge(400.0, 1.55, AREA),
        float(ours.separation[0]),
        stiffness,
    )
    assert ours.static_pressure[0] / y == pytest.approx(theirs.densification, rel=1e-4)
    assert ours.peak_pressure[0] == pytest.approx(theirs.peak_pressure, rel=3e-4)
    assert ours.effective_dwell[0] == pytest.approx(theirs.effective_dwell, rel=1e-2)


def test_a_powder_without_rate_is_heckels() -> None:
    of = powder(120.0, 0.6, 0.0, 400.0)
    pulse = press_at(squeeze(of, PRESS_A.stroke(50.0)), np.array([3.7]))
    level = CHARGE.densification(np.array([3.7]))
    stiff = (level - 0.6) / (1.0 / 120.0 + 1.0 / 400.0)
    assert pulse.peak_pressure == pytest.approx(stiff, rel=2e-4)
    assert pulse.static_pressure == pytest.approx(stiff, rel=2e-4)


@given(
    shares=st.lists(st.floats(1e-30, 1e30), min_size=3, max_size=3),
    exponents=st.lists(st.floats(-900.0, 900.0), min_size=3, max_size=3),
)
def test_the_flow_of_a_step_does_not_overflow(shares: list[float], exponents: list[float]) -> None:
    """Against numpy's own sum of exponentials, which is slower."""
    share, exponent = np.array(shares), np.array(exponents)
    plain = np.logaddexp(0.0, np.log(share) + exponent)
    assert log_of_one_and(share, exponent) == pytest.approx(plain, rel=1e-12, abs=1e-180)


@settings(max_examples=25)
@given(
    m=st.floats(0.005, 0.1),
    times=st.floats(1.5, 8.0),
    separation=st.floats(3.5, 4.2),
)
def test_speed_is_the_same_as_a_harder_powder(m: float, times: float, separation: float) -> None:
    slow = press_at(
        squeeze(powder(100.0 * times**m, 0.6, m, 300.0), PRESS_A.stroke(20.0)),
        np.array([separation]),
    )
    fast = press_at(
        squeeze(powder(100.0, 0.6, m, 300.0), PRESS_A.stroke(20.0 * times)),
        np.array([separation]),
    )
    assert fast.peak_pressure == pytest.approx(slow.peak_pressure, rel=2e-4)


@settings(max_examples=25)
@given(m=st.floats(0.01, 0.1), weakening=st.floats(0.9, 1.1), give=st.sampled_from([0.0, 4e-4]))
def test_a_weaker_powder_is_one_pressed_faster(m: float, weakening: float, give: float) -> None:
    """A factor on the pressure changes every rate alike, as another speed of the turret does."""
    of, one = powder(120.0, 0.6, m, 300.0), np.ones(1)
    times, separation = weakening ** (-1.0 / m), np.array([3.7])
    stroke, faster = PRESS_A.stroke(20.0), PRESS_A.stroke(20.0 * times)
    weak = press_at(Squeeze(of, CHARGE, stroke, give, weakening * one, 0.0 * one), separation)
    fast = press_at(Squeeze(of, CHARGE, faster, give, one, 0.0 * one), separation)
    assert weak.peak_pressure == pytest.approx(fast.peak_pressure, rel=1e-5)
    assert weak.static_pressure == pytest.approx(fast.static_pressure, rel=1e-5)
    assert weak.effective_dwell == pytest.approx(fast.effective_dwell * times, rel=1e-3)


@settings(max_examples=25)
@given(pressure=st.floats(40.0, 400.0), m=st.floats(0.001, 0.12), give=st.floats(0.0, 8e-4))
def test_the_separation_for_a_pressure_gives_that_pressure(
    pressure: float, m: float, give: float
) -> None:
    of = powder(150.0, 0.7, m, 500.0)
    stroke = PRESS_A.stroke(40.0)
    pressed = press_to(stroke, of, CHARGE, np.array([pressure]), give)
    again = press_at(squeeze(of, stroke, give), pressed.separation)
    assert again.peak_pressure[0] == pytest.approx(pressure, rel=1e-4)
    tighter = CHARGE.densification(pressed.in_die) - of.hardening.densification(
        pressed.static_pressure
    )
    assert 0.0 < tighter[0] <= pressure / 500.0 * 1.001


@settings(max_examples=40)
@given(pressure=st.floats(40.0, 300.0), m=st.floats(0.0, 0.1), more=st.floats(1.0, 1e4))
def test_more_dwell_never_weakens(pressure: float, m: float, more: float) -> None:
    of = powder(150.0, 0.7, m, 500.0)
    short = of.solid_fraction_after(np.array([pressure]), np.array([0.01]))
    long = of.solid_fraction_after(np.array([pressure]), np.array([0.01 * more]))
    assert long[0] >= short[0] * (1.0 - 1e-12)


def test_a_prescribed_force_and_its_closed_form() -> None:
    of = powder(150.0, 0.7, 0.04, 500.0)
    pulse = ForcePulse(np.array([0.0, 2.0, 5.0, 5.5]), np.array([0.0, 8e3, 8e3, 0.0]))
    pressed = press_to(pulse, of, CHARGE, np.array([100.0]))
    dwell = 3.0 + 2.5 * 0.04 / 1.04
    assert pressed.effective_dwell == pytest.approx(dwell)
    assert pressed.time_above_90 == pytest.approx(3.0 + 0.25)
    assert pressed.contact_time == pytest.approx(5.5)
    assert pressed.static_pressure == pytest.approx(150.0 * (100 / 150 * dwell**0.04) ** (1 / 1.04))


def test_precompression_adds_its_integral() -> None:
    of = powder(120.0, 0.6, 0.05, 400.0)
    press = RotaryPress(PRESS_A, PRESS_A, 0.0)
    pressure, setting = np.array([150.0]), Setting(speed=40.0)
    alone = compress(press, of, CHARGE, pressure, setting)
    third = compress(press, of, CHARGE, pressure, setting, 0.3)
    near = compress(press, of, CHARGE, pressure, setting, 0.97)
    assert third.static_pressure == pytest.approx(alone.static_pressure, rel=1e-5)
    gain = near.effective_dwell / alone.effective_dwell
    assert 1.2 < gain[0] < 2.2
    expected = 120.0 * (150 / 120 * near.effective_dwell**0.05) ** (1 / 1.05)
    assert near.static_pressure == pytest.approx(expected, rel=2e-4)


def test_a_second_pulse_agrees_with_the_slow_twin(radau_twin: ModuleType) -> None:
    of = powder(120.0, 0.6, 0.05, 400.0)
    ours = press_to(PRESS_A.stroke(40.0), of, CHARGE, np.array([150.0]), 0.0, np.array([140.0]))
    theirs = radau_twin.compress(
        radau_twin.rotary(410.0, 125.0, 15.875, 9.525, 40.0),
        radau_twin.Powder(120.0, 0.6, 0.05, 400.0),
        radau_twin.Charge(400.0, 1.55, AREA),
        float(ours.separation[0]),
        before=140.0 / 120.0,
    )
    assert ours.static_pressure[0] / 120.0 == pytest.approx(theirs.densification, rel=1e-4)
    assert ours.peak_pressure[0] == pytest.approx(theirs.peak_pressure, rel=3e-4)


@pytest.mark.parametrize("give", [0.0, 5e-4])
@pytest.mark.parametrize("pressure", [20.0, 300.0, 700.0])
def test_powders_far_from_usual_are_solved_all_the_same(pressure: float, give: float) -> None:
    rng = np.random.default_rng(0)
    draws = 200
    of = Powder(
        Heckel(rng.uniform(50.0, 300.0, draws), rng.uniform(0.4, 1.0, draws)),
        rng.uniform(0.0, 0.12, draws),
        np.exp(rng.uniform(np.log(150.0), np.log(4000.0), draws)),
        np.zeros(draws),
        np.zeros(draws),
    )
    stroke = RollerContact(290.0, 100.0, 15.9, 9.5).stroke(75.0)
    pressed = press_to(stroke, of, CHARGE, np.full(draws, pressure), give)
    assert pressed.peak_pressure == pytest.approx(np.full(draws, pressure), rel=1e-5)
    assert np.all(pressed.effective_dwell > 0.0)
