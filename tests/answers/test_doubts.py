"""Doubtful runs, settings beyond what was tested, limits no input states: one end in every answer.

The same small questions are put to translate, judge, speed, compare, window and the trial's plan.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

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
from scaleup.io.schema import read_as
from scaleup.model.study import Study
from scaleup.model.target import Target
from scaleup.transfer.case import TransferCase
from scaleup.transfer.limits import share_within
from scaleup.transfer.margins import SET_SPEED
from scaleup.transfer.risks.registry import Risk
from scaleup.transfer.tested import DWELL_MOST, PRESSURE_MOST
from scaleup.transfer.verdict import standing

pytestmark = pytest.mark.slow

Change = Callable[..., Study]
FEW = 200
NO_ANSWER = "not enough evidence"


def wide(strength: float | None, **others: object) -> Target:
    """Return a target whose window of the solid fraction leaves room."""
    asked = {"solid_fraction": {"min": "60 %", "max": "97 %"}, **others}
    if strength is not None:
        asked["strength"] = f"{strength} MPa"
    return read_as(Target, asked)


def told_by_all(study: Study) -> dict[str, tuple[str, str]]:
    """Return the answer and its reasons, as every answer about a study tells them."""
    translation, judgement = translate(study, draws=FEW), judge(study, draws=FEW)
    speed = check_speed(study, draws=FEW)
    (candidate,) = compare(study, [study.production.press], draws=FEW).candidates
    window = operating_window(study, cells=(6, 6), draws=FEW)
    assert translation.verdict == judgement.verdict
    assert candidate.holds == (candidate.answer in {"yes", "yes with changes"})
    return {
        "translate": (translation.verdict.answer, " ".join(map(str, translation.verdict.reasons))),
        "speed": (speed.answer, " ".join(map(str, speed.reasons))),
        "compare": (candidate.answer, str(candidate.reason)),
        "window": ("none" if window.centre is None else "some", " ".join(map(str, window.reasons))),
    }


def slipped(marram: Study, changed: Change) -> Study:
    """Return marram with one breaking force of 20 N on line 24, and more strength asked for."""
    return changed(
        marram,
        runs=lambda run: replace(run, breaking_force=20.0) if run.line == 24 else run,
        target={"strength": 3.6},
    )


def test_a_run_that_turns_the_answer_leaves_none(marram: Study, changed: Change) -> None:
    told = told_by_all(slipped(marram, changed))
    assert [told[each][0] for each in ("translate", "speed", "compare")] == [NO_ANSWER] * 3
    assert told["window"][0] == "none"
    outcomes = {
        "translate": ("not transferable", "transferable with changes"),
        "speed": ("no", "yes with changes"),
        "compare": ("no", "yes"),
        "window": ("no", "yes"),
    }
    for answer, (with_it, without_it) in outcomes.items():
        assert "run M7 (runs.csv, line 24)" in told[answer][1]
        assert f'with it it is "{with_it}", without it "{without_it}"' in told[answer][1]


def test_its_finding_is_severe_and_comes_before_what_no_setting_mends(
    marram: Study, changed: Change
) -> None:
    study = slipped(marram, changed)
    risks = {risk.code: risk for risk in translate(study, draws=FEW).risks}
    assert risks["suspect-run-decides"].severity == "severe"
    assert risks["suspect-run-decides"].effect == "lacks evidence"
    stop = Risk("capping", "severe", "capping", "", "", effect="stops")
    against = standing((stop, risks["suspect-run-decides"]))
    assert (against.stops, len(against.lacks)) == (("capping",), 1)
    assert against.in_doubt == risks["suspect-run-decides"].in_doubt
    assert "line 24" in plan_trial(study, draws=FEW).against[0]


def test_a_run_that_turns_nothing_leaves_the_answer(marram: Study, changed: Change) -> None:
    """The same slip where so little is asked for that the lab's pressure holds either way."""
    study = changed(
        marram,
        runs=lambda run: replace(run, breaking_force=20.0) if run.line == 24 else run,
        target={"strength": 0.3},
    )
    translation = translate(study, draws=FEW)
    codes = {risk.code for risk in translation.risks}
    assert "suspicious-run" in codes
    assert "suspect-run-decides" not in codes
    assert translation.verdict.answer == "transferable"


def gentle(marram: Study, changed: Change) -> Study:
    """Return marram of which only the three gentlest forces were pressed, and 3 MPa asked for."""
    few = changed(marram, runs=lambda run: run if run.name in {"M1", "M2", "M3"} else None)
    return replace(few, lab=replace(few.lab, reference="M2"), target=wide(3.0))


def test_a_pressure_far_beyond_any_tested_is_no_answer(marram: Study, changed: Change) -> None:
    study = gentle(marram, changed)
    for answer, (word, reasons) in told_by_all(study).items():
        assert word == ("none" if answer == "window" else NO_ANSWER), answer
        assert "times the highest tested pressure of 128 MPa" in reasons
        assert f"beyond {PRESSURE_MOST:g} times nothing is answered" in reasons
        assert "press lab runs up to" in reasons


def test_a_pressure_the_lab_cannot_reach_is_told(marram: Study, changed: Change) -> None:
    """Lab tips for 11 kN, which is 140 MPa."""
    study = changed(gentle(marram, changed), lab_tooling={"tip_force_rating": 11e3})
    reason = " ".join(map(str, translate(study, draws=FEW).verdict.reasons))
    assert "lab press and lab tips make 140 MPa at most, 11 kN" in reason


def test_within_what_was_tested_the_same_target_is_answered(marram: Study, changed: Change) -> None:
    translation = translate(changed(marram, target={"strength": 3.0}), draws=FEW)
    assert translation.verdict.answer == "transferable with changes"


def test_a_pulse_decades_below_any_tested_is_no_answer(marram: Study, changed: Change) -> None:
    """Lab runs that were all held for 100 s, against milliseconds in production."""
    study = changed(
        marram,
        lab_press={"hold": None},
        runs=lambda run: replace(run, hold=100.0) if run.hold == 1.0 else None,
    )
    for answer, (word, reasons) in told_by_all(study).items():
        assert word == ("none" if answer == "window" else NO_ANSWER), answer
        assert "decades below the shortest tested, 100 s" in reasons
        assert f"beyond {DWELL_MOST:g} nothing is answered" in reasons


def dense(marram: Study, *, stated: bool) -> Study:
    """Return marram with less room for pores: tablets of 2.6 MPa are more than 90 % solid."""
    window = {"solid_fraction": {"min": "80 %", "max": "90 %"}} if stated else {}
    target = read_as(Target, {"strength": "2.6 MPa", **window})
    return replace(marram, blend=replace(marram.blend, stated_true_density=1.40), target=target)


def test_a_window_that_no_input_states_does_not_decide_alone(marram: Study) -> None:
    unstated, stated = (told_by_all(dense(marram, stated=each)) for each in (False, True))
    for answer in ("translate", "speed", "compare"):
        word, reasons = unstated[answer]
        assert word == NO_ANSWER, answer
        assert "outside the usual 80 % to 90 %" in reasons
        assert "state solid_fraction in [target]" in reasons
        assert stated[answer][0] in {"no", "not transferable"}
    assert "since the study states none" in unstated["window"][1]


def test_an_evidence_limit_is_no_limit_of_machine_or_tablet(case: TransferCase) -> None:
    """Far beyond what was tested no limit of evidence is kept, and `within` counts the others."""
    kept = {each.code: each for each in case.limits}
    far = case.process.at(PRESSURE_MOST * 1.001 * 194.3, case.speed)
    assert not kept["tested-pressure"].firm
    assert float(kept["tested-pressure"].holds(far).mean()) == 0.0
    only = (kept["tested-pressure"], kept["main-roller"])
    assert share_within(only, far) == 1.0
    assert np.all(kept["main-roller"].holds(far) == 1.0)


@pytest.mark.parametrize("end", ["min", "max"])
def test_a_speed_of_the_press_itself_does_not_bind(marram: Study, end: str) -> None:
    speed = getattr(marram.production.press.profile.speed, end)
    check = check_speed(marram, speed=speed, draws=FEW)
    assert check.point is not None
    assert check.point.at_lab_pressure.binding.limit.code not in SET_SPEED
    assert "turret speed" not in " ".join(map(str, check.reasons))
