"""What was seen on tablets bounds what may be set, whatever the draws say."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing
from scaleup.model.run import Run
from scaleup.model.study import Study
from scaleup.transfer.case import TransferCase, transfer_case
from scaleup.transfer.limits import Limit, broken
from scaleup.transfer.seen_defects import DISTANCE

Change = Callable[..., Study]
DRAWS = 200


def production_run(name: str, force: float, speed: float, *seen: str) -> Run:
    return Run(name, force=force, press="production", speed=speed, weight=400.0, thickness=3.93,
               breaking_force=150.0, tablets=10, seen=seen)  # fmt: skip


def case_with(study: Study, *runs: Run) -> TransferCase:
    lab = replace(study.lab, runs=(*study.lab.runs, *runs))
    return transfer_case(calibrated(replace(study, lab=lab), Drawing(DRAWS, 1)), 45.0, 0.9)


def limit_of(case: TransferCase, code: str) -> Limit:
    return next(each for each in case.limits if each.code == code)


def kept(case: TransferCase, code: str, pressure: float, speed: float) -> bool:
    return bool(np.all(limit_of(case, code).holds(case.process.at(pressure, speed)) > 0.0))


def area(study: Study) -> float:
    return study.production.tooling.profile.tip_area


def test_capping_bounds_as_hard_and_as_fast(marram: Study) -> None:
    case = case_with(marram, production_run("P1", 15e3, 60.0, "capping"))
    seen = 15e3 / area(marram)
    assert not kept(case, "seen-above", seen, 60.0)
    assert not kept(case, "seen-above", 1.2 * seen, 70.0)
    assert not kept(case, "seen-above", 0.7 * seen, 60.0)  # softer, but nothing shows it free
    assert kept(case, "seen-above", 1.2 * seen, 55.0)  # slower, where nothing was seen


def test_a_run_without_it_tells_from_which_speed_on(marram: Study) -> None:
    """Between the speed that was free of it and the one that was not nothing is known."""
    free = production_run("P2", 15e3, 45.0)
    case = case_with(marram, production_run("P1", 15e3, 60.0, "capping"), free)
    seen = 15e3 / area(marram)
    assert kept(case, "seen-above", seen, 45.0)
    assert not kept(case, "seen-above", seen, 50.0)
    softer = replace(free, force=12e3)  # the only one that is known, so it counts
    case = case_with(marram, production_run("P1", 15e3, 60.0, "capping"), softer)
    assert not kept(case, "seen-above", 0.8 * seen, 50.0)
    slow = replace(free, name="P3", speed=20.0)
    case = case_with(marram, production_run("P1", 15e3, 60.0, "capping"), softer, slow)
    assert not kept(case, "seen-above", 0.9 * seen, 30.0)  # harder than the free one at 45 rpm
    assert kept(case, "seen-above", 0.8 * seen, 30.0)


def test_a_softer_run_as_fast_and_free_leaves_its_pressures_open(marram: Study) -> None:
    softer = production_run("P2", 11e3, 60.0)
    case = case_with(marram, production_run("P1", 15e3, 60.0, "capping"), softer)
    assert kept(case, "seen-above", 11e3 / area(marram), 60.0)
    assert not kept(case, "seen-above", 12e3 / area(marram), 60.0)


def test_sticking_bounds_as_softly_and_as_fast(marram: Study) -> None:
    case = case_with(marram, production_run("P1", 12e3, 45.0, "sticking"))
    seen = 12e3 / area(marram)
    assert not kept(case, "seen-below", seen, 45.0)
    assert not kept(case, "seen-below", 0.8 * seen, 60.0)
    assert kept(case, "seen-below", 1.06 * seen, 45.0)
    assert kept(case, "seen-below", seen, 30.0)


def test_lamination_in_the_lab_bounds_every_speed(marram: Study, changed: Change) -> None:
    split = changed(
        marram, runs=lambda run: replace(run, seen=("lamination",)) if run.name == "M5" else run
    )
    case = case_with(split)
    tested = min(seen.pressure for seen in case.observations if seen.run.name == "M5")
    for speed in (10.0, 45.0, 75.0):
        assert not kept(case, "seen-above", tested, speed)
        assert kept(case, "seen-above", (1.0 - 1.1 * DISTANCE) * tested, speed)


@pytest.mark.parametrize("name", ["black specks", "dust", "take-off"])
def test_what_speaks_for_no_pressure_bounds_nothing(marram: Study, name: str) -> None:
    case = case_with(marram, production_run("P1", 15e3, 60.0, name))
    assert {each.code for each in case.limits} & {"seen-above", "seen-below"} == set()


def test_the_strength_of_capped_tablets_is_no_strength(marram: Study) -> None:
    weak = replace(production_run("P1", 15e3, 60.0, "capping"), breaking_force=60.0)
    case = case_with(marram, weak)
    seen = next(each for each in case.observations if each.run.name == "P1")
    assert seen.strength is None
    assert seen.solid_fraction is not None


def test_answers_keep_away_from_it(marram: Study) -> None:
    runs = (production_run("P1", 14e3, 60.0, "capping"), production_run("P2", 12e3, 45.0))
    case = case_with(marram, *runs)
    assert case.fastest is not None
    assert case.fastest.speed <= 45.0 * 1.03
    beyond = case.process.at(15e3 / area(marram), 60.0)
    assert "seen-above" in {each.code for each in broken(case.limits, beyond, 0.9)}
