"""The rate exponent from a held force: against the law integrated by scipy, and against faults."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from scaleup.arrays import Array
from scaleup.calibration.fit import Fit, fit
from scaleup.calibration.observations import Observation, observe, sides
from scaleup.calibration.relaxation import (
    Decay,
    RelaxationEvidence,
    decay_of,
    exponent_of,
    relaxation_evidence,
)
from scaleup.io.study import read_study
from scaleup.powder.hardening import Heckel
from scaleup.powder.law import Powder
from scaleup.presses.recorded import RecordedPress

EXAMPLES = Path(__file__).parents[2] / "examples"
WEIGHT, DENSITY, AREA = 400.0, 1.5, np.pi * 25.0
SCALE, INTERCEPT, ELASTIC, COMPLIANCE = 110.0, 0.35, 900.0, 1.0 / 130e3


def densification(separation: float) -> float:
    """Return D with the tips so many mm apart."""
    return float(-np.log1p(-WEIGHT / (DENSITY * AREA * separation)))


def held(m: float, peak: float = 12e3, seconds: float = 10.0) -> tuple[Array, Array, float]:
    """Return times, forces of a hold at a still crosshead, and the state x at its beginning.

    Force driven up at 5 kN/s, then the crosshead stands: ``P = K (D(gap) - A - x/S)`` with the gap
    wider than the crosshead's by the give; integrated by scipy's LSODA at 1e-10.
    """

    def rate(x: float, pressure: float) -> float:
        return float(m / (1.0 + m) * SCALE * (max(pressure, 0.0) / x) ** (1.0 / m))

    up = peak / 5e3
    loaded = solve_ivp(
        lambda t, x: [rate(x[0], 5e3 * t / AREA)], (0.0, up), [0.5 * peak / AREA * 0.2],
        method="LSODA", rtol=1e-10, atol=1e-10,
    )  # fmt: skip
    state = float(loaded.y[0, -1])
    gap = brentq(
        lambda s: ELASTIC * (densification(s) - INTERCEPT - state / SCALE) - peak / AREA, 3.5, 9.0
    )
    crosshead = float(gap) - COMPLIANCE * peak

    def force(x: float) -> float:
        def excess(f: float) -> float:
            stretched = densification(crosshead + COMPLIANCE * f)
            return ELASTIC * (stretched - INTERCEPT - x / SCALE) * AREA - f

        return float(brentq(excess, 0.0, 2.0 * peak))

    time = np.linspace(0.0, seconds, 1000)
    flowed = solve_ivp(
        lambda _, x: [rate(x[0], force(x[0]) / AREA)], (0.0, seconds), [state],
        method="LSODA", rtol=1e-10, atol=1e-10, t_eval=time,
    )  # fmt: skip
    return time, np.array([force(x) for x in flowed.y[0]]), state


def correction(peak: float, state: float) -> float:
    """Return g, worked out anew: the share by which x grows for each share that P falls."""
    pressure = peak / AREA
    level = INTERCEPT + state / SCALE + pressure / ELASTIC
    gap = WEIGHT / (DENSITY * AREA) / -np.expm1(-level)
    step = 1e-6 * gap
    slope = -(densification(gap + step) - densification(gap - step)) / (2.0 * step)
    stiff = 1.0 / (1.0 / ELASTIC + slope * COMPLIANCE * AREA)
    return float(pressure / (stiff * state / SCALE))


@pytest.mark.parametrize("m", [0.02, 0.04, 0.07])
def test_the_exponent_of_the_law_is_found_again(m: float) -> None:
    time, force, state = held(m)
    decay = decay_of(time, force)
    assert decay is not None
    found = exponent_of(np.array(decay.nu), np.array(correction(decay.peak, state)))
    assert float(found) == pytest.approx(m, rel=0.06)


def test_noise_leaves_it_within_its_error() -> None:
    time, force, _ = held(0.04)
    clean = decay_of(time, force)
    assert clean is not None
    rng = np.random.default_rng(5)
    pulls = []
    for _ in range(30):
        decay = decay_of(time, force + rng.normal(0.0, 10.0, time.size))
        assert decay is not None
        pulls.append((decay.nu - clean.nu) / decay.nu_error)
    assert np.abs(np.mean(pulls)) < 0.7
    assert 0.4 < np.std(pulls) < 1.6


@pytest.mark.parametrize(
    "force",
    [
        np.full(200, 12e3),
        np.full(200, 12e3) + np.random.default_rng(1).normal(0.0, 10.0, 200),
        np.linspace(12e3, 12.5e3, 200),
        np.array([12e3, 11.9e3]),
        np.zeros(0),
    ],
)
def test_a_force_that_does_not_relax_tells_nothing(force: Array) -> None:
    assert decay_of(np.linspace(0.0, 2.0, force.size), force) is None


def test_a_decay_is_what_it_was_made_of() -> None:
    time = np.linspace(0.0, 5.0, 800)
    decay = decay_of(time, 15e3 * (1.0 + time / 0.05) ** -0.021)
    assert isinstance(decay, Decay)
    assert decay.nu == pytest.approx(0.021, rel=1e-3)
    assert decay.tau == pytest.approx(0.05, rel=0.05)
    assert decay.peak == pytest.approx(15e3 * (1.0 + 0.1 / 0.05) ** 0.0, rel=0.03)


def test_a_short_record_tells_nothing() -> None:
    time = np.linspace(0.0, 5.0, 30)
    force = 15e3 * (1.0 + time / 0.05) ** -0.021
    assert decay_of(time, force) is not None
    assert decay_of(time[:-1], force[:-1]) is None


def test_the_ends_of_the_hold_are_left_out() -> None:
    """The ram still settling in the first 1.5 %, the release begun in the last 2.5 %."""
    time = np.linspace(0.0, 5.0, 800)
    force = 15e3 * (1.0 + time / 0.05) ** -0.021
    ragged = np.where(time < 0.075, 1.02 * force, np.where(time > 4.875, 0.9 * force, force))
    assert decay_of(time, ragged) == decay_of(time, force)


def test_a_decay_does_not_depend_on_when_the_log_began() -> None:
    time = np.linspace(0.0, 12.0, 400)
    force = 9e3 * (1.0 + time / 0.4) ** -0.03
    early, late = decay_of(time, force), decay_of(time + 37.0, force)
    assert early is not None
    assert late is not None
    assert (early.duration, late.duration) == pytest.approx((12.0, 12.0))
    assert late.nu == pytest.approx(early.nu, rel=1e-6)
    assert late.tau == pytest.approx(early.tau, rel=1e-4)


def test_a_miss_that_waves_counts_as_fewer_samples_than_noise_does() -> None:
    """As large a miss, but one whose neighbours are alike, is less well known."""
    time = np.linspace(0.0, 12.0, 2000)
    smooth = 9e3 * (1.0 + time / 0.4) ** -0.03
    wave = np.sqrt(2.0) * np.sin(2.0 * np.pi * time / 0.9)
    noise = np.random.default_rng(4).standard_normal(time.size)
    waving, noisy = (decay_of(time, smooth * (1.0 + 5e-4 * miss)) for miss in (wave, noise))
    assert waving is not None
    assert noisy is not None
    changes = 2.0 * 12.0 / 0.9
    more = np.sqrt(time.size / (2.0 * changes))
    assert waving.nu_error / waving.nu == pytest.approx(more * noisy.nu_error / noisy.nu, rel=0.25)


def test_the_stated_error_is_the_scatter_under_noise() -> None:
    time = np.linspace(0.0, 5.0, 800)
    force = 15e3 * (1.0 + time / 0.05) ** -0.021
    rng = np.random.default_rng(3)
    pulls = []
    for _ in range(200):
        decay = decay_of(time, force + rng.normal(0.0, 10.0, time.size))
        assert decay is not None
        pulls.append((decay.nu - 0.021) / decay.nu_error)
    assert np.std(pulls) == pytest.approx(1.0, abs=0.12)


@pytest.mark.parametrize(("noises", "least", "most"), [(8.0, 14, 20), (3.0, 0, 4)])
def test_a_fall_is_told_from_five_noises_on(noises: float, least: int, most: int) -> None:
    time = np.linspace(0.0, 5.0, 800)
    force = 15e3 * (1.0 + time / 0.05) ** -0.021
    noise = (force[16] - force[-25]) / noises
    rng = np.random.default_rng(6)
    found = [decay_of(time, force + rng.normal(0.0, noise, time.size)) for _ in range(20)]
    assert least <= sum(each is not None for each in found) <= most


def logged_hold(nu: float, state: float) -> Observation:
    """Return a run that left the state x and was held as its log says, 10 N of noise on it."""
    study = read_study(EXAMPLES / "bracken")
    seen = next(run for run in observe(study, sides(study)) if run.logged is not None)
    assert seen.logged is not None
    time = np.linspace(0.0, 10.0, 1000)
    noise = np.random.default_rng(4).normal(0.0, 10.0, time.size)
    force = 12e3 * (1.0 + time / 0.05) ** -nu + noise
    return replace(
        seen,
        run=replace(seen.run, weight=WEIGHT),
        side=replace(seen.side, press=RecordedPress(time, force, COMPLIANCE)),
        solid_fraction=float(-np.expm1(-INTERCEPT - state / SCALE)),
        logged=replace(seen.logged, hold_time=time, hold_force=force),
    )


def test_the_exponent_of_holds_is_the_mean_of_the_runs_and_narrows_with_them() -> None:
    """As many runs that say the same: their mean, its error over the root of their number."""
    one, state = np.ones(4000), 120.0
    hardening = Heckel(SCALE * one, INTERCEPT * one)
    powder = Powder(hardening, 0.03 * one, ELASTIC * one, one, 0.0 * one)
    seen = logged_hold(0.021, state)
    assert seen.logged is not None
    decay = decay_of(seen.logged.hold_time, seen.logged.hold_force)
    assert decay is not None
    m = float(exponent_of(np.array(decay.nu), np.array(correction(decay.peak, state))))
    for runs in (1, 4):
        evidence = relaxation_evidence((seen,) * runs, powder, DENSITY, np.random.default_rng(1))
        assert evidence is not None
        spread = m * decay.nu_error / decay.nu / np.sqrt(runs)
        assert np.mean(evidence.exponent) == pytest.approx(m, abs=0.05 * spread)
        assert evidence.exponent.std() == pytest.approx(spread, rel=0.05)


@pytest.mark.parametrize("share", [0.0, 0.05])
def test_a_tablet_that_contradicts_the_curve_tells_nothing(share: float) -> None:
    """It is left with no state at all, or with a twentieth of the pressure, in some draws."""
    sound, one = logged_hold(0.03, 120.0), np.ones(1000)
    lost = (120.0 - share * 12e3 / AREA) / SCALE

    def of_holds(contradicting: int) -> RelaxationEvidence | None:
        intercept = INTERCEPT + np.where(np.arange(1000) < contradicting, lost, 0.0)
        powder = Powder(Heckel(SCALE * one, intercept), 0.03 * one, ELASTIC * one, one, 0.0 * one)
        return relaxation_evidence((sound,), powder, DENSITY, np.random.default_rng(1))

    plain, few = of_holds(0), of_holds(50)
    assert plain is not None
    assert few is not None
    np.testing.assert_array_equal(few.exponent[50:], plain.exponent[50:])
    assert np.all(few.exponent[:50] > 2.0 * plain.exponent[:50])
    assert np.all(np.isfinite(few.exponent))
    assert of_holds(51) is None


def test_holds_and_fit_of_the_logged_example_agree() -> None:
    fitted = fit(read_study(EXAMPLES / "bracken"), draws=400)
    assert isinstance(fitted, Fit)
    assert fitted.relaxation is not None
    assert set(fitted.relaxation.runs) == {"B1", "B2", "B3", "B4", "B6", "B7"}
    assert not fitted.relaxation.conflict
    assert fitted.elastic_measured


def test_without_logs_holds_say_nothing() -> None:
    fitted = fit(read_study(EXAMPLES / "marram"), draws=300)
    assert isinstance(fitted, Fit)
    assert fitted.relaxation is None


def test_conflict_needs_a_difference_clear_of_both() -> None:
    rng = np.random.default_rng(2)
    fitted = 0.03 + 0.002 * rng.standard_normal(2000)
    far = RelaxationEvidence(("a",), 0.06 + 0.002 * rng.standard_normal(2000), fitted)
    assert far.conflict
    assert far.apart == pytest.approx(10.6, rel=0.1)
    vague = replace(far, exponent=0.06 + 0.03 * rng.standard_normal(2000))
    assert not vague.conflict
    close = replace(far, exponent=0.034 + 0.0001 * rng.standard_normal(2000))
    assert not close.conflict


def test_conflict_is_judged_by_the_medians() -> None:
    """Draws with a long tail, whose means would say the opposite."""
    tailed = np.array([0.05, 0.05, 0.08])
    apart = RelaxationEvidence(("a",), tailed, np.full(3, 0.03)).apart
    assert apart == pytest.approx(0.02 / float(tailed.std()))
    fitted = np.array([0.03] * 9 + [0.04])
    assert RelaxationEvidence(("a",), np.full(10, 0.0366), fitted).conflict
