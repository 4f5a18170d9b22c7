"""Every hardening form: a rising curve with its own inverse and slope, solved through a pulse."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from scaleup.equations import punch_travel
from scaleup.powder.charge import Charge
from scaleup.powder.compression import press_at, press_to
from scaleup.powder.hardening import Hardening, Heckel, Kawakita, KuentzLeuenberger
from scaleup.powder.law import Powder
from scaleup.powder.mixture import Mixture, stretches_of
from scaleup.powder.stroke_solver import Squeeze
from scaleup.presses.rotary import RollerContact

pytestmark = pytest.mark.slow

FORMS = [Heckel, KuentzLeuenberger, Kawakita]
CHARGE = Charge(400.0, 1.55, np.pi * 25.0)
ROLLER = RollerContact(410.0, 125.0, 15.875, 9.525)
Kind = type[Heckel] | type[KuentzLeuenberger] | type[Kawakita]


@pytest.mark.parametrize("form", FORMS)
@given(scale=st.floats(20.0, 500.0), rest=st.floats(0.1, 1.2), pressure=st.floats(0.5, 600.0))
def test_inverse_and_slope(form: Kind, scale: float, rest: float, pressure: float) -> None:
    curve: Hardening = form(np.array([scale]), np.array([rest]))
    x = np.array([pressure])
    level = curve.densification(x)
    assert level[0] > rest
    assert curve.static_pressure(level) == pytest.approx(x, rel=1e-7)
    step = 1e-4 * pressure
    numeric = (curve.densification(x + step) - curve.densification(x - step)) / (2.0 * step)
    assert curve.slope(x) == pytest.approx(numeric, rel=1e-5)
    both = curve.densification_and_slope(x)
    assert (both[0][0], both[1][0]) == (level[0], curve.slope(x)[0])


@pytest.mark.parametrize("form", FORMS)
def test_without_pressure_it_is_the_loose_powder(form: Kind) -> None:
    curve: Hardening = form(np.array([90.0]), np.array([0.4]))
    assert curve.densification(np.zeros(1)) == pytest.approx([0.4], abs=1e-9)
    assert curve.static_pressure(np.array([0.4])) == pytest.approx([0.0], abs=1e-9)


def test_far_up_kuentz_leuenberger_is_heckels_line() -> None:
    bent = KuentzLeuenberger(np.array([120.0]), np.array([0.4]))
    line = Heckel(np.array([120.0]), np.array([1.4]))
    high = np.array([2400.0])
    assert bent.densification(high) == pytest.approx(line.densification(high), rel=1e-9)


def mixed() -> Mixture:
    return Mixture(
        (
            Heckel(np.array([100.0, 110.0]), np.array([0.6, 0.7])),
            Kawakita(np.array([60.0]), np.array([0.5])),
            KuentzLeuenberger(np.array([90.0, 95.0]), np.array([0.4, 0.45])),
        )
    )


def test_a_mixture_is_its_forms_side_by_side() -> None:
    whole, x = mixed(), np.array([50.0, 100.0, 150.0, 200.0, 250.0])
    for name in ("densification", "slope"):
        parts = [
            getattr(form, name)(x[part])
            for form, part in zip(whole.forms, whole.stretches, strict=True)
        ]
        assert getattr(whole, name)(x) == pytest.approx(np.concatenate(parts))
    level, slope = whole.densification_and_slope(x)
    np.testing.assert_array_equal(level, whole.densification(x))
    np.testing.assert_array_equal(slope, whole.slope(x))
    assert whole.static_pressure(whole.densification(x)) == pytest.approx(x)
    assert whole.densification(np.vstack([x, x])).shape == (2, 5)
    assert [name for name, _, _ in whole.named()] == ["Y", "A", "a", "b_K", "C", "eps_c"]


@pytest.mark.parametrize(
    "curve",
    [
        KuentzLeuenberger(np.array([110.0]), np.array([0.45])),
        Kawakita(np.array([60.0]), np.array([0.6])),
    ],
    ids=["Kuentz-Leuenberger", "Kawakita"],
)
@pytest.mark.parametrize(("m", "elastic", "speed"), [(0.05, 400.0, 40.0), (0.02, 900.0, 70.0)])
def test_the_solver_on_a_bent_form_agrees_with_an_ode_library(
    curve: Hardening, m: float, elastic: float, speed: float
) -> None:
    """scipy's Radau on the rate form ``dx/dt = m/(1+m) S (P/x)^(1/m)``, written out here."""
    one = np.ones(1)
    powder = Powder(curve, m * one, elastic * one, 0.0 * one, 0.0 * one)
    stroke = ROLLER.stroke(speed)
    ours = press_to(stroke, powder, CHARGE, 160.0 * one)
    separation, omega = float(ours.separation[0]), 2.0 * np.pi * speed / 60.0

    def pressure(time: float, log_x: float) -> float:
        travel = punch_travel(omega * time, 410.0, 125.0, 15.875, 9.525)
        tips = CHARGE.densification(np.array([separation + 2.0 * float(travel)]))
        load: np.ndarray = elastic * (tips - curve.densification(np.exp([log_x])))
        return max(float(load[0]), 1e-9)

    def rate(time: float, state: np.ndarray) -> list[float]:
        ratio = np.log(pressure(time, state[0])) - state[0]
        return [m / (1.0 + m) * float(curve.scale[0]) * np.exp(min(ratio / m, 60.0) - state[0])]

    loose = CHARGE.separation(curve.densification(np.array([2.0])) + 2.0 / elastic)
    begin = float(stroke.closing_time(loose - separation)[0])
    solved = solve_ivp(rate, (-begin, 0.5 * begin), [np.log(2.0)], method="Radau", rtol=1e-8,
                       atol=1e-10, max_step=begin / 2000.0)  # fmt: skip
    history = [pressure(t, x) for t, x in zip(solved.t, solved.y[0], strict=True)]
    assert float(np.exp(solved.y[0, -1])) == pytest.approx(float(ours.static_pressure[0]), rel=2e-4)
    assert max(history) == pytest.approx(160.0, rel=5e-4)


def test_a_mixture_is_solved_as_its_forms_alone() -> None:
    whole = mixed()
    one = np.ones(5)
    exponent = np.array([0.02, 0.03, 0.05, 0.04, 0.03])
    powder = Powder(whole, exponent, 500.0 * one, 0.0 * one, 0.0 * one)
    together = press_at(
        Squeeze(powder, CHARGE, ROLLER.stroke(45.0), 0.0, one, 0.0 * one), 3.8 * one
    )
    for form, part in zip(whole.forms, whole.stretches, strict=True):
        size = one[part]
        alone = Powder(form, exponent[part], 500.0 * size, 0.0 * size, 0.0 * size)
        pulse = press_at(
            Squeeze(alone, CHARGE, ROLLER.stroke(45.0), 0.0, size, 0.0 * size), 3.8 * size
        )
        assert together.static_pressure[part] == pytest.approx(pulse.static_pressure, rel=1e-4)
        assert together.effective_dwell[part] == pytest.approx(pulse.effective_dwell, rel=2e-3)


@pytest.mark.parametrize("form", FORMS)
def test_some_of_the_draws_keep_their_own_parameters(form: Kind) -> None:
    whole: Hardening = form(np.array([80.0, 90.0, 100.0]), np.array([0.4, 0.5, 0.6]))
    some = whole.chosen(np.array([0, 2]))
    assert type(some) is form
    assert some.scale == pytest.approx([80.0, 100.0])
    assert some.densification(np.zeros(2)) == pytest.approx([0.4, 0.6], abs=1e-9)


def test_some_draws_of_a_mixture_keep_the_form_they_follow() -> None:
    pressures = np.array([50.0, 80.0, 110.0, 140.0, 170.0])
    whole = mixed()
    for which in ([0, 2, 4], [1, 3], [2], [3, 4], [0, 1, 2, 3, 4]):
        some = whole.chosen(np.array(which))
        assert some.densification(pressures[which]) == pytest.approx(
            whole.densification(pressures)[which], rel=1e-14
        )
    assert type(whole.chosen(np.array([2]))) is Kawakita
    assert type(whole.chosen(np.array([3, 4]))) is KuentzLeuenberger


def test_the_stretches_of_a_mixture_and_of_one_form() -> None:
    whole = mixed()
    stretches = stretches_of(whole)
    assert [type(form) for form, _ in stretches] == [Heckel, Kawakita, KuentzLeuenberger]
    assert [(part.start, part.stop) for _, part in stretches] == [(0, 2), (2, 3), (3, 5)]
    ((form, part),) = stretches_of(whole.forms[0])
    assert form is whole.forms[0]
    assert (part.start, part.stop) == (0, 2)


def test_a_mixture_takes_rows_of_pressures() -> None:
    """The draws are the last axis: each row is what its pressures give alone."""
    rows = np.array([[50.0, 80.0, 110.0, 140.0, 170.0], [20.0, 30.0, 40.0, 50.0, 60.0]])
    whole = mixed()
    for call in (whole.densification, whole.slope):
        both = call(rows)
        assert both.shape == rows.shape
        assert both[1] == pytest.approx(call(rows[1]), rel=1e-14)


def test_parameters_are_named_as_their_own_equations_have_them() -> None:
    """Each form's printed equation, with the named parameters, gives the curve back."""
    x = np.array([130.0])
    (_, yield_pressure, unit), (_, intercept, none) = Heckel(
        np.array([110.0]), np.array([0.6])
    ).named()
    line = Heckel(np.array([110.0]), np.array([0.6])).densification(x)
    assert line == pytest.approx(intercept + x / yield_pressure)
    assert (unit, none) == ("MPa", "1")

    bent = KuentzLeuenberger(np.array([110.0]), np.array([0.45]))
    (c, c_value, unit), (eps_c, critical, none) = bent.named()
    porosity = np.exp(-bent.densification(x))
    printed = (porosity - critical - critical * np.log(porosity / critical)) / c_value
    assert printed == pytest.approx(x)
    assert (c, eps_c, unit, none) == ("C", "eps_c", "1/MPa", "1")

    curve = Kawakita(np.array([60.0]), np.array([0.5]))
    (a, a_value, none), (b, b_value, unit) = curve.named()
    # Volume at x over the volume of the loose powder, from the solid fractions.
    loose, dense = (-np.expm1(-curve.densification(p)) for p in (np.zeros(1), x))
    assert 1.0 - loose / dense == pytest.approx(a_value * b_value * x / (1.0 + b_value * x))
    assert (a, b, unit, none) == ("a", "b_K", "1/MPa", "1")


def test_looser_than_critical_needs_no_pressure() -> None:
    bent = KuentzLeuenberger(np.array([110.0]), np.array([0.45]))
    assert bent.static_pressure(np.array([0.3])) == pytest.approx([0.0], abs=1e-12)


def test_the_slope_of_a_line_is_there_without_pressure_too() -> None:
    line = Heckel(np.array([110.0, 120.0]), np.array([0.6, 0.6]))
    assert line.slope(np.zeros(2)) == pytest.approx([1.0 / 110.0, 1.0 / 120.0])
    assert line.slope(np.zeros((3, 2))).shape == (3, 2)
