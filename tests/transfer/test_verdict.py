"""What stands against every force and speed, told alike by every answer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from scaleup.answers.functions import (
    check_speed,
    compare,
    judge,
    operating_window,
    plan_trial,
    translate,
)
from scaleup.model.study import Study

pytestmark = pytest.mark.slow

Change = Callable[..., Study]
REFITTED: dict[str, tuple[dict[str, Any], str]] = {
    "roller": ({"press": {"pre_roller": None}}, "no precompression roller"),
    "fill": (
        {"runs": lambda run: replace(run, fill_depth=(run.fill_depth or 0.0) * 2.0)},
        "fill",
    ),
}


@pytest.fixture(params=REFITTED)
def refitted(request: pytest.FixtureRequest, marram: Study, changed: Change) -> tuple[Study, str]:
    """Return a study whose force holds, on a press that first has to be fitted otherwise."""
    asked, words = REFITTED[request.param]
    return changed(marram, **asked), words


def test_a_press_to_be_refitted_is_a_yes_with_changes(refitted: tuple[Study, str]) -> None:
    study, words = refitted
    translation = translate(study, draws=300)
    assert translation.verdict.answer == "transferable with changes"
    assert translation.verdict.reasons[0].startswith("The pressure match")
    assert words in translation.verdict.reasons[1]
    severe = [item.message for item in translation.risks if item.severity == "severe"]
    assert severe == [translation.verdict.reasons[1]]
    assert judge(study, draws=300).verdict == translation.verdict


def test_every_speed_of_it_needs_the_change(refitted: tuple[Study, str]) -> None:
    study, words = refitted
    check = check_speed(study, draws=300, speeds=[20.0, 60.0])
    assert check.answer == "yes with changes"
    assert {point.answer for point in check.curve} == {"yes with changes"}
    assert words in check.reasons[-1]


def test_it_holds_in_a_comparison_with_the_change_told(
    refitted: tuple[Study, str], marram: Study
) -> None:
    study, words = refitted
    (candidate,) = compare(study, [study.production.press], draws=300).candidates
    assert candidate.holds
    assert [words in change for change in candidate.changes] == [True]
    assert words not in candidate.reason
    (as_it_is,) = compare(marram, [marram.production.press], draws=300).candidates
    assert as_it_is.changes == ()


def test_window_and_plan_tell_the_change_too(refitted: tuple[Study, str]) -> None:
    study, words = refitted
    window = operating_window(study, cells=(8, 8), draws=200)
    assert window.centre is not None
    assert words in window.reasons[0]
    assert words in plan_trial(study, draws=200).against[0]


def test_what_no_setting_mends_comes_before_a_change(sedge: Study, changed: Change) -> None:
    study = changed(sedge, press={"pre_roller": None})
    verdict = translate(study, draws=200).verdict
    assert verdict.answer == "not transferable"
    assert "capping" in verdict.reasons[0]
    assert check_speed(study, draws=200).answer == "no"


def test_a_speed_at_which_a_force_holds_is_a_change(marram: Study, changed: Change) -> None:
    """19 stations make 57,000 tablets an hour at 50 rpm; 45 rpm are asked about."""
    study = changed(marram, target={"output": 57_000.0})
    translation = translate(study, draws=300)
    assert translation.verdict.answer == "transferable with changes"
    assert "75 rpm" in translation.verdict.reasons[0]
    (risk,) = [item for item in translation.risks if item.code == "output-below-asked"]
    assert risk.severity == "serious"
    assert "51300 tablets/h" in risk.message
    assert "50 rpm" in risk.action
    there = translate(study, speed=50.0, draws=300)
    assert "output-below-asked" not in {item.code for item in there.risks}
    assert there.verdict.answer == "transferable"


def test_the_speed_an_output_needs_is_not_rounded_below_it(marram: Study, changed: Change) -> None:
    """57,012 tablets an hour take 50.0105 rpm, which reads as 50.0 to the nearest."""
    study = changed(marram, target={"output": 57_012.0})
    (risk,) = [
        item for item in translate(study, draws=200).risks if item.code == "output-below-asked"
    ]
    needed = float(str(risk.action).removeprefix("Ask again at ").split(" rpm")[0])
    assert 50.0105 < needed < 50.2
    there = translate(study, speed=needed, draws=200)
    assert "output-below-asked" not in {item.code for item in there.risks}


def test_an_output_beyond_the_press_is_no_transfer_to_it(marram: Study, changed: Change) -> None:
    translation = translate(changed(marram, target={"output": 90_000.0}), draws=300)
    assert translation.verdict.answer == "not transferable"
    (risk,) = [item for item in translation.risks if item.code == "output-below-asked"]
    assert risk.severity == "severe"
    assert "more stations" in risk.action


def test_a_slower_speed_that_holds_is_a_change_too(marram: Study, changed: Change) -> None:
    """An ejection cam that carries what the tablet takes only while the turret is slow."""
    study = changed(marram, target={"strength": 2.4}, press={"ejection_limit": 312.0})
    slow = translate(study, draws=300).fastest.speed.value
    assert slow is not None
    fast = translate(study, speed=1.2 * slow, draws=300)
    assert fast.verdict.answer == "transferable with changes"
    assert "No force keeps every limit" in fast.verdict.reasons[0]
    assert check_speed(study, speed=1.2 * slow, draws=300).answer == "no"


def test_draws_that_fall_short_are_not_rounded_up_to_what_is_asked(
    marram: Study, changed: Change
) -> None:
    """A strength target that the lab's pressure meets in 89.5 to 90 % of the draws."""
    at_speed = translate(marram, draws=400).equivalents[0]
    assert at_speed.point is not None
    assert at_speed.point.strength is not None
    target = float(np.sort(at_speed.point.strength)[41])
    translation = translate(changed(marram, target={"strength": target}), draws=400)
    (risk,) = [item for item in translation.risks if item.code == "strength-below-target"]
    assert risk.evidence == "89 % of the draws meet it; 90 % is asked."


def test_without_strengths_the_reason_is_their_lack_whatever_else_is_wrong(
    marram: Study, changed: Change
) -> None:
    """Two severe findings, larger in their kind, stand before it in the list of risks."""
    bare = changed(
        marram,
        runs=lambda run: replace(run, breaking_force=None),
        target={"output": 500_000.0},
        tooling={"tip_force_rating": 5e3},
    )
    translation = translate(bare, draws=200)
    severe = [risk.code for risk in translation.risks if risk.severity == "severe"]
    assert severe.index("strength-not-checked") > 1
    assert translation.verdict.answer == "not enough evidence"
    assert len(translation.verdict.reasons) == 1
    assert "Strength cannot be predicted" in translation.verdict.reasons[0]


def test_a_slower_press_is_not_told_to_shorten_the_dwell(marram: Study, changed: Change) -> None:
    """A study whose lab runs were quick, asked about the slowest speed of the press."""
    quick = tuple(
        replace(run, hold=0.0, loading_rate=2e6) for run in marram.lab.runs if run.hold == 1.0
    )
    any_rate = changed(marram, lab_press={"loading_rates": None})
    study = replace(
        any_rate,
        lab=replace(any_rate.lab, runs=quick, reference=None),
        production=replace(marram.production, speed=10.0),
    )
    told = next(fact for fact in judge(study, draws=200).facts if "Effective dwell" in fact)
    assert told.startswith("Effective dwell rises from")
    usual = next(fact for fact in judge(marram, draws=200).facts if "Effective dwell" in fact)
    assert usual.startswith("Effective dwell falls from")
