"""The pressure that comes closest where none keeps every limit, against a finer search."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scaleup.answers.functions import check_speed, operating_window, plan_trial
from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing
from scaleup.io.study import read_study
from scaleup.model.study import Study
from scaleup.transfer.case import TransferCase, transfer_case
from scaleup.transfer.limits import share_within
from scaleup.transfer.margins import closest

Change = Callable[..., Study]
EXAMPLES = Path(__file__).parents[2] / "examples"
OUT_OF_REACH = {
    "strong": {"target": {"strength": 6.0}},
    "weak-cam": {"target": {"strength": 2.4}, "press": {"ejection_limit": 305.0}},
    "crowded": {"target": {"strength": 2.6}, "tooling": {"tip_force_rating": 13e3}},
    "output": {"target": {"output": 100_000.0}},
}


def asked_of(study: Study) -> TransferCase:
    return transfer_case(calibrated(study, Drawing(300, 1)), 45.0, 0.9)


def worst_and_all(case: TransferCase, pressure: float) -> tuple[float, float]:
    point = case.process.at(pressure, 45.0)
    worst = min(float(limit.holds(point).mean()) for limit in case.limits)
    return worst, share_within(case.limits, point)


@pytest.mark.slow
@pytest.mark.parametrize("name", OUT_OF_REACH)
def test_no_pressure_of_a_fine_search_is_closer(marram: Study, changed: Change, name: str) -> None:
    """A tenth of a per cent apart; two draws of 300 may lie between two of those pressures."""
    case = asked_of(changed(marram, **OUT_OF_REACH[name]))
    nearest = closest(case, 45.0)
    here = worst_and_all(case, nearest.pressure.value or 0.0)
    steps = np.log(case.process.map.ceiling / case.process.map.floor) / 0.001
    fine = np.geomspace(case.process.map.floor, case.process.map.ceiling, int(steps))
    best = max(worst_and_all(case, float(each)) for each in fine)
    assert here[0] >= best[0] - 2 / 300
    assert nearest.pressure.unit == "MPa"
    assert nearest.broken(0.9)
    assert nearest.binding.share == pytest.approx(here[0])


def test_where_the_force_changes_nothing_it_is_the_lab_s(marram: Study, changed: Change) -> None:
    """With an output no force makes, every force fails alike where the others are all kept."""
    case = asked_of(changed(marram, target={"output": 100_000.0, "strength": 1.8}))
    assert closest(case, 45.0).pressure.value == pytest.approx(case.reference.pressure)


def test_speed_window_and_plan_name_the_same_point(marram: Study, changed: Change) -> None:
    study = changed(marram, **OUT_OF_REACH["strong"])
    point = check_speed(study, draws=300).point
    assert point is not None
    told = check_speed(study, draws=300).reasons[1]
    set_point = closest(asked_of(study), 45.0)
    assert point.closest.pressure == set_point.pressure
    limits = ", ".join(str(each.told) for each in set_point.broken(0.9))
    assert told.endswith(f": {limits}.")
    plan = plan_trial(study, draws=300)
    assert plan.runs == ()  # most draws miss the target there
    assert any("tensile strength at least" in str(each) for each in plan.withheld)


def test_a_window_that_holds_nowhere_shows_every_force(marram: Study, changed: Change) -> None:
    study = changed(marram, **OUT_OF_REACH["strong"])
    line = asked_of(study).process
    window = operating_window(study, cells=(12, 10), draws=200)
    assert window.grid is not None
    area = line.charge.tip_area
    assert window.grid.forces[0] == pytest.approx(line.map.floor * area, rel=0.02)
    assert window.grid.forces[-1] > line.force_limit
    assert "tensile strength kept by" in window.reasons[0]


def test_a_limit_whose_figure_is_not_known_says_so() -> None:
    study = read_study(EXAMPLES / "marram", press="rotary-large-23", tooling="d-elongated-19")
    target = replace(study.target, weight=360.0, strength=None, breaking_force=60.0)
    point = check_speed(replace(study, target=target), draws=200).point
    assert point is not None
    (broken,) = [each for each in point.at_lab_pressure.broken(0.9) if "breaking" in each.told]
    assert broken.told.startswith("breaking force not known (")
    assert "wall is too low" in broken.told
