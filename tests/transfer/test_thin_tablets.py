"""A thin elongated tablet: more pressure takes its wall, and with it the breaking force."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scaleup.answers.functions import translate
from scaleup.answers.translation import Translation
from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing
from scaleup.model.study import Study
from scaleup.transfer.case import TransferCase, transfer_case
from scaleup.transfer.feasible import least_pressure
from scaleup.transfer.settings import breaking_force_of
from scaleup.wording import say
from tests.studies import of_the_law

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def thin() -> Study:
    study = of_the_law("marram", press="rotary-large-23", tooling="d-elongated-19")
    target = replace(study.target, weight=360.0, strength=None, breaking_force=15.0)
    return replace(study, target=target)


@pytest.fixture(scope="module")
def translation(thin: Study) -> Translation:
    return translate(thin, draws=200)


def question_of(study: Study) -> TransferCase:
    return transfer_case(calibrated(study, Drawing(120, 1)), 45.0, 0.9)


def test_the_least_pressure_is_found_below_where_the_wall_is_lost(translation: Translation) -> None:
    strength = translation.equivalent("strength")
    low = strength.tablet.breaking_force.low
    assert strength.point is not None
    assert low is not None
    assert low >= 14.0
    assert low < 15.0 < (strength.tablet.breaking_force.high or 0.0)


def test_a_breaking_force_without_a_wall_is_none_and_says_why(translation: Translation) -> None:
    made = translation.equivalent("pressure").tablet.breaking_force
    assert made.value is None
    assert "wall is too low" in made.reason
    told = next(item for item in translation.risks if item.code == "strength-below-target")
    assert "not known" in told.message
    assert "wall is too low" in told.evidence
    assert "strength match" not in told.action


def test_one_draw_without_a_wall_is_enough_for_no_breaking_force() -> None:
    partly = breaking_force_of(np.array([14.0, 15.0, np.nan]))
    assert (partly.low, partly.value, partly.high) == (None, None, None)
    assert "wall is too low" in partly.reason
    whole = breaking_force_of(np.array([14.0, 15.0, 16.0]))
    assert whole.value == 15.0


def test_the_least_pressure_for_all_lower_limits_is_below_it_too(thin: Study) -> None:
    """Strength alone, since a solid fraction that is asked for as well lies above it."""
    lab = calibrated(thin, Drawing(200, 1))
    case = transfer_case(lab, 45.0, 0.9)
    limit = next(each for each in case.limits if each.code == "strength")
    least = least_pressure(case.process, 45.0, (limit,), 0.9)
    assert least is not None
    kept = [float(limit.holds(case.process.at(least * by, 45.0)).mean()) for by in (0.99, 1.0, 5.0)]
    assert kept[0] < 0.9 <= kept[1]
    assert kept[2] == 0.0


def test_recovery_is_of_the_whole_tablet_not_of_its_thin_wall(translation: Translation) -> None:
    point = translation.equivalent("solid-fraction").point
    assert point is not None
    assert 0.0 < np.median(point.recovery) < 0.08


def test_tips_that_meet_without_powder_are_told(translation: Translation, marram: Study) -> None:
    told = next(item for item in translation.risks if item.code == "tips-meet")
    assert told.severity == "severe"
    gap = translation.equivalent("solid-fraction").settings.tip_separation.value
    assert gap is not None
    assert gap < 0.0
    assert f"The solid-fraction match sets the tips {say(gap, 'mm')} apart" in told.message
    assert "tips-meet" not in {item.code for item in translate(marram, draws=200).risks}


def test_tips_that_meet_even_on_the_powder_are_severe(thin: Study) -> None:
    light = replace(thin, target=replace(thin.target, weight=330.0))
    told = next(item for item in translate(light, draws=200).risks if item.code == "tips-meet")
    assert told.severity == "severe"
    assert "fits into the cups" in told.evidence


def test_tips_that_meet_on_the_powder_are_no_setting(thin: Study) -> None:
    """Solid fraction alone is asked for, and its match would press the lands on one another."""
    target = replace(thin.target, weight=330.0, breaking_force=None)
    light = translate(replace(thin, target=target), draws=200)
    match = light.equivalent("solid-fraction")
    assert match.point is not None
    apart = match.point.pulse.in_die
    height = match.point.process.charge.cup_height
    off = apart / height + 1.0 - match.point.cup_fill[match.point.shown]
    assert np.abs(off).max() < 2e-4
    assert np.median(apart) < 0.0
    assert {limit.code for limit in match.broken} == {"tip-separation", "cup-fill"}
    assert light.verdict.answer == "not transferable"
    assert "powder volume over cup volume" in light.verdict.reasons[0]


def test_tips_that_cannot_meet_on_the_powder_have_no_such_limit(marram: Study) -> None:
    codes = {each.code for each in question_of(marram).limits}
    assert "cup-fill" not in codes
    assert "main-roller" in codes
