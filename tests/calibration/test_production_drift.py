"""Drift through a trial: fitted apart from the exponent, the offset and the feeder's factor."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scaleup.calibration.fit import Fit, fit
from scaleup.calibration.observations import observe, sides
from scaleup.calibration.production_drift import places_in_trials
from scaleup.io.study import read_study
from scaleup.model.run import Run
from scaleup.model.study import Study
from tests.studies import EXAMPLES

MINUTES = 60.0
SPEEDS = (45.0, 10.0, 75.0, 45.0, 30.0, 45.0)


def trial(study: Study, strength: float, force: float = 1.0) -> Study:
    """Return marram with six production runs whose strength, or force, changes through them."""
    base = fit(study, draws=300)
    assert isinstance(base, Fit)
    runs = []
    for at, speed in enumerate(SPEEDS):
        share = at / 5.0 - 0.5
        runs.append(
            Run(f"P{at}", force=15e3 * force**-share, press="production", speed=speed,
                weight=400.0, thickness=3.93, breaking_force=155.0 * strength**share,
                elapsed=at * 8 * MINUTES, tablets=20)
        )  # fmt: skip
    return replace(study, lab=replace(study.lab, runs=(*study.lab.runs, *runs)))


@pytest.fixture(scope="module")
def plant() -> Study:
    return read_study(EXAMPLES / "marram")


def drift_of(study: Study) -> tuple[np.ndarray, np.ndarray]:
    found = fit(study, draws=400)
    assert isinstance(found, Fit)
    runs = found.plant.runs
    assert runs is not None
    assert runs.pressure_drift is not None
    assert found.strength is not None
    assert found.strength.drift is not None
    return np.expm1(runs.pressure_drift), np.expm1(found.strength.drift)


def test_places_go_from_first_to_last(plant: Study) -> None:
    study = trial(plant, 0.8)
    places = places_in_trials(observe(study, sides(study)))["production"]
    assert places[-6:] == pytest.approx(np.linspace(-0.5, 0.5, 6))
    assert not places[:-6].any()


def test_each_trial_has_a_clock_of_its_own(plant: Study) -> None:
    """A second, weaker trial that begins at 0 again is no drift of the first."""
    first = trial(plant, 1.0)
    made = [run for run in first.lab.runs if run.press == "production"]
    weaker = tuple(
        replace(run, name=f"S{at}", trial="second", breaking_force=0.85 * (run.breaking_force or 0))
        for at, run in enumerate(made)
    )
    both = replace(first, lab=replace(first.lab, runs=(*first.lab.runs, *weaker)))
    places = places_in_trials(observe(both, sides(both)))["production"]
    assert places[-12:-6] == pytest.approx(np.linspace(-0.5, 0.5, 6))
    assert places[-6:] == pytest.approx(np.linspace(-0.5, 0.5, 6))
    later = [replace(run, elapsed=(run.elapsed or 0.0) + 3600.0, trial="") for run in weaker]
    one_clock = replace(first, lab=replace(first.lab, runs=(*first.lab.runs, *later)))
    two, one = (np.median(drift_of(study)[1]) for study in (both, one_clock))
    assert abs(two) < 0.03
    assert one < -0.10  # on one clock the second trial passes for a drift


def test_runs_without_their_times_do_not_drift(plant: Study) -> None:
    study = trial(plant, 0.8)
    timeless = tuple(replace(run, elapsed=None) for run in study.lab.runs)
    silent = replace(study, lab=replace(study.lab, runs=timeless))
    assert places_in_trials(observe(silent, sides(silent))) == {}
    found = fit(silent, draws=300)
    assert isinstance(found, Fit)
    assert found.strength is not None
    assert found.strength.drift is None


def test_a_strength_that_falls_is_found_and_the_pressure_stays(plant: Study) -> None:
    pressure, strength = drift_of(trial(plant, 0.80))
    low, high = np.quantile(strength, [0.05, 0.95])
    assert low < -0.20 < high
    assert high < 0.0
    assert np.quantile(pressure, 0.05) < 0.0 < np.quantile(pressure, 0.95)


def test_the_same_tablet_at_ever_less_force_is_a_drift_of_pressure(plant: Study) -> None:
    """Forces read that fall by 8 % while tablets stay the same: the gauge reads ever less."""
    pressure, strength = drift_of(trial(plant, 1.0, force=1.08))
    low, high = np.quantile(pressure, [0.05, 0.95])
    assert low < 0.08 < high
    assert low > 0.0
    assert np.quantile(strength, 0.05) < 0.0 < np.quantile(strength, 0.95)


def test_a_drift_leaves_exponent_and_factor_alone(plant: Study) -> None:
    found = [fit(trial(plant, to), draws=400) for to in (1.0, 0.8)]
    assert all(isinstance(each, Fit) for each in found)
    rates = [np.median(each.powder.rate_exponent) for each in found if isinstance(each, Fit)]
    assert rates[0] == rates[1]
    factors = [
        float(np.median(each.strength.feeder))
        for each in found
        if isinstance(each, Fit) and each.strength is not None
    ]
    assert factors[1] == pytest.approx(factors[0], rel=0.02)
