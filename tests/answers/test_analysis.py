"""One analysis, several questions: what is made once, and that their order does not matter."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from scaleup import Analysis, translate
from scaleup.answers.functions import check_speed, judge, operating_window
from scaleup.calibration import calibrated_study
from scaleup.calibration.fit import fit_study
from scaleup.model.ranges import Range
from scaleup.model.study import Study
from scaleup.transfer import process_model
from scaleup.transfer.pulse_map import pulse_map
from scaleup.transfer.risks.machine import NEAR

FEW = 200


class Counted:
    """A function that counts how often it is called."""

    def __init__(self, function: Callable[..., Any]) -> None:
        self.function, self.times = function, 0

    def __call__(self, *given: Any, **named: Any) -> Any:
        self.times += 1
        return self.function(*given, **named)


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> tuple[Counted, Counted]:
    """Return how often runs were fitted and a press was mapped."""
    fits, maps = Counted(fit_study), Counted(pulse_map)
    monkeypatch.setattr(calibrated_study, "fit_study", fits)
    monkeypatch.setattr(process_model, "pulse_map", maps)
    return fits, maps


def test_a_second_question_fits_and_maps_nothing(
    marram: Study, counted: tuple[Counted, Counted]
) -> None:
    """A target so wide that no value taken for granted comes near to deciding."""
    fits, maps = counted
    wide = replace(marram.target, strength=1.2, solid_fraction=Range(0.70, 0.95))
    analysis = Analysis(replace(marram, target=wide), draws=FEW)
    analysis.speed(at=40.0)
    once = fits.times, maps.times
    assert min(once) >= 1
    analysis.speed(at=60.0, speeds=[20.0, 70.0])
    analysis.translate(speed=30.0)
    analysis.window((5, 5))
    analysis.judge()
    assert (fits.times, maps.times) == once


@pytest.mark.slow
def test_the_order_of_questions_changes_no_digit(marram: Study) -> None:
    one, other = Analysis(marram, draws=FEW), Analysis(marram, draws=FEW)
    first = one.speed(at=60.0)
    other.translate()
    other.window((4, 4))
    other.speed(at=30.0, speeds=[50.0])
    again = other.speed(at=60.0)
    assert (again.answer, again.reasons, again.fastest) == (
        first.answer, first.reasons, first.fastest
    )  # fmt: skip
    assert again.point is not None
    assert first.point is not None
    margins = [each.value for each in again.point.at_lab_pressure.margins]
    assert margins == [each.value for each in first.point.at_lab_pressure.margins]


def test_every_answer_is_that_of_its_function(marram: Study) -> None:
    analysis = Analysis(marram, draws=FEW, confidence=0.8)
    ours = analysis.translate(speed=50.0)
    alone = translate(marram, speed=50.0, draws=FEW, confidence=0.8)
    assert ours.verdict == alone.verdict
    assert ours.equivalent("strength").settings == alone.equivalent("strength").settings
    assert analysis.judge().needed == judge(marram, draws=FEW, confidence=0.8).needed
    speed = check_speed(marram, draws=FEW, confidence=0.8)
    assert analysis.speed().fastest == speed.fastest
    window = operating_window(marram, cells=(5, 5), draws=FEW, confidence=0.8)
    found = analysis.window((5, 5)).grid
    assert found is not None
    assert window.grid is not None
    np.testing.assert_array_equal(found.shares, window.grid.shares)


def test_presses_compared_are_kept_apart(marram: Study) -> None:
    """The press of the study among others is answered as it is alone."""
    analysis = Analysis(marram, draws=FEW)
    speeds = {each.production.press.id: each.told for each in analysis.compare().candidates}
    own = analysis.speed().fastest
    assert speeds["rotary-mid-19"] == own.told
    assert len(set(speeds.values())) > 1


def test_a_press_is_known_by_what_it_is_and_not_by_its_id(
    marram: Study, changed: Callable[..., Study]
) -> None:
    """The study's own press, asked about before, and one of the same id that runs slower."""
    own = marram.production.press
    slow = changed(marram, press={"speed": Range(10.0, 50.0)}).production.press
    analysis = Analysis(marram, draws=FEW)
    assert analysis.speed().fastest.speed.value == 75.0
    (candidate,) = analysis.compare([slow]).candidates
    assert candidate.speed.value == 50.0
    (candidate,) = analysis.compare([own]).candidates
    assert candidate.speed.value == 75.0


def test_without_a_fit_every_answer_says_so(marram: Study, changed: Callable[..., Study]) -> None:
    bare = changed(marram, runs=lambda run: run if run.name == "M4" else None)
    analysis = Analysis(bare, draws=FEW)
    case = analysis.case()
    assert case.no_fit is not None
    assert (case.limits, case.feasible_pressure, case.fastest) == ((), None, None)
    with pytest.raises(TypeError, match="allow no fit"):
        _ = case.process
    answers = (analysis.translate().verdict.answer, analysis.judge().verdict.answer,
               analysis.speed().answer)  # fmt: skip
    assert set(answers) == {"not enough evidence"}
    assert analysis.translate().fastest.speed.reason == case.no_fit.why
    assert analysis.window((4, 4)).grid is None


def test_what_is_asked_without_a_pulse_bounds_what_the_pulse_says(marram: Study) -> None:
    """Risks look at a solved pulse only where these leave room for it."""
    case = Analysis(marram, draws=FEW).case()
    for item in case.dialled:
        assert item.point is not None
        apart = item.point.tip_separation[item.point.shown] - item.point.pulse.separation
        assert np.max(np.abs(apart)) < 0.5 * NEAR
        assert np.all(item.point.most_recovery[item.point.shown] >= item.point.recovery)
        opening = item.point.most_opening[item.point.shown] + NEAR
        assert np.all(opening >= item.point.pulse.entry_opening)
        assert item.point.pulse.pre_entry_opening is not None
        assert np.all(opening >= item.point.pulse.pre_entry_opening)
