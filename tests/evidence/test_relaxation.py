"""The rate exponent from a held force: against the law integrated by scipy, and against faults."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from scaleup.arrays import Array
from scaleup.evidence.fit import Fit, fit
from scaleup.evidence.relaxation import Decay, Witness, decay_of, exponent_of
from scaleup.files.study import read_study

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
        found = decay_of(time, force + rng.normal(0.0, 10.0, time.size))
        assert found is not None
        pulls.append((found.nu - clean.nu) / found.nu_error)
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
    found = decay_of(time, 15e3 * (1.0 + time / 0.05) ** -0.021)
    assert isinstance(found, Decay)
    assert found.nu == pytest.approx(0.021, rel=1e-3)
    assert found.tau == pytest.approx(0.05, rel=0.05)
    assert found.peak == pytest.approx(15e3 * (1.0 + 0.1 / 0.05) ** 0.0, rel=0.03)


def test_witness_and_fit_of_the_logged_example_agree() -> None:
    found = fit(read_study(EXAMPLES / "bracken"), draws=400)
    assert isinstance(found, Fit)
    assert found.relaxation is not None
    assert set(found.relaxation.runs) == {"B1", "B2", "B3", "B4", "B6", "B7"}
    assert not found.relaxation.conflict
    assert found.elastic_measured


def test_without_logs_there_is_no_witness() -> None:
    found = fit(read_study(EXAMPLES / "marram"), draws=300)
    assert isinstance(found, Fit)
    assert found.relaxation is None


def test_conflict_needs_a_difference_clear_of_both() -> None:
    rng = np.random.default_rng(2)
    fitted = 0.03 + 0.002 * rng.standard_normal(2000)
    far = Witness(("a",), 0.06 + 0.002 * rng.standard_normal(2000), fitted)
    assert far.conflict
    assert far.apart == pytest.approx(10.6, rel=0.1)
    vague = replace(far, exponent=0.06 + 0.03 * rng.standard_normal(2000))
    assert not vague.conflict
    close = replace(far, exponent=0.034 + 0.0001 * rng.standard_normal(2000))
    assert not close.conflict
