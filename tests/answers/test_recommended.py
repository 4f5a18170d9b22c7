"""The recommended point: the largest output with a stated margin, the same wherever it is told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scaleup import Analysis
from scaleup.answers.functions import learn, operating_window, plan_trial
from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing
from scaleup.errors import InputError
from scaleup.io.study import read_study
from scaleup.io.trial_sheet.reading import read_trial_sheet
from scaleup.model.study import Study
from scaleup.show.pictures import subject_of
from scaleup.transfer.case import TransferCase, transfer_case
from scaleup.transfer.limits import broken
from scaleup.transfer.recommended import Recommended

pytestmark = pytest.mark.slow

Change = Callable[..., Study]
EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def tight(marram: Study) -> Study:
    """Return a study whose window narrows with speed, between strength and the tips' rating."""
    target = replace(marram.target, strength=2.2, margin=0.05)
    tooling = marram.production.tooling
    rated = replace(tooling, profile=replace(tooling.profile, tip_force_rating=13.5e3))
    return replace(marram, target=target, production=replace(marram.production, tooling=rated))


def best_of(study: Study, draws: int = 300, **options: float) -> Recommended:
    best = operating_window(study, cells=(5, 5), draws=draws, **options).recommended  # type: ignore[arg-type]
    assert best is not None
    return best


def test_the_recommendation_is_not_the_slow_end_of_a_tie(marram: Study) -> None:
    """Far from every limit the largest margin says nothing about speed; the output decides."""
    best = best_of(marram)
    highest = marram.production.press.profile.speed.max
    assert best.met
    assert best.asked_margin == 0.10
    assert best.point.speed == pytest.approx(highest * 0.9, rel=1e-6)
    assert best.point.margin >= 0.10


def has_room(case: TransferCase, force: float, speed: float, margin: float) -> bool:
    """Return whether all four corners of a box of that margin keep every limit."""
    area, (slowest, fastest) = case.process.charge.tip_area, case.process.map.speeds
    corners = [(f, s) for f in (1.0 - margin, 1.0 / (1.0 - margin))
               for s in (1.0 - margin, 1.0 / (1.0 - margin))]  # fmt: skip
    return all(
        slowest <= speed * s <= fastest
        and not broken(case.limits, case.process.at(force * f / area, speed * s), case.confidence)
        for f, s in corners
    )


def test_no_faster_point_has_the_margin(tight: Study) -> None:
    """Scanned over forces and speeds, one at a time."""
    best = best_of(tight)
    case = transfer_case(calibrated(tight, Drawing(300, 1)), 45.0, 0.9)
    speed, force = best.point.speed, best.point.set_point.force.value or 0.0
    assert best.met
    assert 12.0 < speed < 70.0
    assert has_room(case, force, speed, 0.05 - 1e-6)
    forces = np.geomspace(9e3, 14e3, 400)
    for faster in (1.02, 1.05, 1.1, 1.3):
        assert not any(has_room(case, float(each), speed * faster, 0.05) for each in forces)


def test_a_larger_margin_never_gains_output(tight: Study) -> None:
    found = [best_of(tight, margin=each) for each in (0.02, 0.04, 0.06)]
    speeds = [each.point.speed for each in found]
    assert speeds == sorted(speeds, reverse=True)
    assert speeds[0] > speeds[-1] * 1.05
    assert all(each.point.margin >= each.asked_margin for each in found if each.met)


def test_where_no_point_has_the_margin_the_largest_is_recommended_and_said_so(
    tight: Study,
) -> None:
    window = operating_window(tight, cells=(5, 5), draws=300, margin=0.4)
    best = window.recommended
    assert best is not None
    assert not best.met
    assert best.point is window.centre
    assert best.point.margin < 0.4
    assert best.why == "the largest margin: no point has 40 %"


@pytest.mark.parametrize("margin", [0.0, -0.1, 0.51, 10.0])
def test_a_margin_out_of_range_is_refused(marram: Study, margin: float) -> None:
    with pytest.raises(InputError, match="margin"):
        operating_window(marram, margin=margin, draws=200)


def test_report_plan_and_lesson_recommend_what_the_window_does(tight: Study) -> None:
    best = best_of(tight)
    drawn = subject_of(Analysis(tight, draws=300, seed=1), cells=(5, 5))
    assert drawn is not None
    assert drawn.window.recommended is not None
    assert drawn.window.recommended.told == best.told
    assert plan_trial(tight, draws=300).runs == ()  # too near what stops a trial


def test_the_plan_tells_what_the_window_recommends(marram: Study) -> None:
    best = best_of(marram)
    plan = plan_trial(marram, draws=300)
    assert any(f"recommends {best.told}, {best.why};" in reason for reason in plan.reasons)


def test_what_a_trial_teaches_is_what_the_window_of_the_new_study_recommends() -> None:
    study = read_study(EXAMPLES / "marram")
    rows = read_trial_sheet(EXAMPLES / "marram" / "trial-sheet.csv", "trial-sheet.csv")
    learned = learn(study, rows, draws=300)
    after = operating_window(learned.study, cells=(5, 5), draws=300).recommended
    assert learned.window.recommended is not None
    assert after is not None
    assert learned.window.recommended.told == after.told
    assert learned.window.recommended.why == after.why
