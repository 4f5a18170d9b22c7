"""A slip of a unit buys no verdict, whichever answer is asked, until the user confirms it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

import scaleup
from scaleup import Analysis
from scaleup.answers.functions import learn, plan_trial
from scaleup.calibration.fit import NoFit
from scaleup.errors import InputError
from scaleup.io.study import read_study
from scaleup.io.trial_sheet.reading import read_trial_sheet
from scaleup.model.study import Study
from scaleup.show.pictures import subject_of

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parents[2] / "examples"
FEW = 200


@pytest.fixture(scope="module")
def in_kgf(marram: Study) -> Study:
    """Return marram with its forces in kgf under a heading in N: once transferable at 1.2 kN."""
    runs = tuple(replace(run, force=run.force / 9.80665) for run in marram.lab.runs)
    return replace(marram, lab=replace(marram.lab, runs=runs))


def test_translate_gives_no_verdict_until_confirmed(in_kgf: Study) -> None:
    translation = scaleup.translate(in_kgf, draws=FEW)
    assert translation.verdict.answer == "not enough evidence"
    assert translation.verdict.reasons[0].startswith("Units in doubt: ")
    assert "column force of runs.csv 9.807 times as large" in translation.verdict.reasons[0]
    assert (translation.risks[0].code, translation.risks[0].severity) == (
        "units-doubtful",
        "severe",
    )
    assert translation.fastest.speed.value is None
    given = scaleup.translate(in_kgf, draws=FEW, as_given=True)
    assert given.verdict.answer == "transferable"
    assert [each.severity for each in given.risks if each.code == "units-as-given"] == ["serious"]
    assert given.fastest.speed.value is not None


def test_judge_and_speed_give_no_verdict_until_confirmed(in_kgf: Study) -> None:
    judged = scaleup.judge(in_kgf, draws=FEW)
    assert judged.verdict.answer == "not enough evidence"
    assert judged.verdict.reasons[0].startswith("Units in doubt: ")
    asked = scaleup.check_speed(in_kgf, speeds=(30.0,), draws=FEW)
    assert asked.answer == "not enough evidence"
    assert asked.reasons[0].startswith("Units in doubt: ")
    assert [each.answer for each in asked.curve] == ["not enough evidence"]
    assert asked.fastest.speed.value is None
    assert scaleup.judge(in_kgf, draws=FEW, as_given=True).verdict.answer == "transferable"
    assert scaleup.check_speed(in_kgf, draws=FEW, as_given=True).answer == "yes"


def test_no_press_holds_and_no_point_is_recommended(in_kgf: Study) -> None:
    press = [in_kgf.production.press]
    comparison = scaleup.compare(in_kgf, press, draws=FEW)
    assert not any(each.holds for each in comparison.candidates)
    assert comparison.reasons[0].startswith("Units in doubt: ")
    assert scaleup.compare(in_kgf, press, draws=FEW, as_given=True).candidates[0].holds
    window = scaleup.operating_window(in_kgf, cells=(6, 6), draws=FEW)
    assert (window.centre, window.at_speed) == (None, None)
    assert window.reasons[0].startswith("Units in doubt: ")
    given = scaleup.operating_window(in_kgf, cells=(6, 6), draws=FEW, as_given=True)
    assert given.centre is not None


def test_no_trial_is_planned_and_pictures_say_why(in_kgf: Study) -> None:
    with pytest.raises(InputError, match=r"found units in doubt: .* confirm the figures with --as"):
        plan_trial(in_kgf, draws=FEW)
    assert plan_trial(in_kgf, draws=FEW, as_given=True).runs
    subject = subject_of(Analysis(in_kgf, draws=FEW, seed=1), cells=(4, 4))
    assert subject is not None
    assert subject.case.calibrated.doubts


def test_a_trial_teaches_no_verdict(marram: Study) -> None:
    """Holds in min under a heading in s, which the trial's results do not contradict."""
    rows = read_trial_sheet(EXAMPLES / "marram" / "trial-sheet.csv", "sheet")
    assert learn(marram, rows, draws=FEW).findings.verdict.answer != "not enough evidence"
    runs = tuple(replace(run, hold=run.hold and run.hold / 60.0) for run in marram.lab.runs)
    study = replace(marram, lab=replace(marram.lab, runs=runs))
    learned = learn(study, rows, draws=FEW)
    assert learned.findings.verdict.answer == "not enough evidence"
    assert "column hold of runs.csv 60 times" in learned.findings.verdict.reasons[0]
    assert learned.window.centre is None
    given = learn(study, rows, draws=FEW, as_given=True)
    assert given.findings.verdict.answer != "not enough evidence"


def test_the_way_back_to_the_lab_begins_with_the_doubt() -> None:
    fescue = read_study(EXAMPLES / "fescue")
    runs = tuple(
        replace(run, breaking_force=run.breaking_force and run.breaking_force / 9.80665)
        for run in fescue.lab.runs
    )
    study = replace(fescue, lab=replace(fescue.lab, runs=runs))
    imitation = scaleup.imitate(study, run="P2", draws=FEW)
    assert imitation.can == ()
    assert imitation.cannot[0].startswith("Units in doubt: ")
    assert scaleup.imitate(study, run="P2", draws=FEW, as_given=True).can


def test_runs_that_allow_no_fit_are_doubted_all_the_same(
    in_kgf: Study, changed: Callable[..., Study]
) -> None:
    """Two runs, so that nothing is fitted: the doubt still comes first."""
    few = changed(in_kgf, runs=lambda run: run if run.line in {12, 13} else None)
    translation = scaleup.translate(few, draws=FEW)
    assert isinstance(translation.fit, NoFit)
    assert translation.verdict.reasons[0].startswith("Units in doubt: ")
    assert scaleup.check_speed(few, draws=FEW).reasons[0].startswith("Units in doubt: ")
    assert scaleup.operating_window(few, draws=FEW).reasons[0].startswith("Units in doubt: ")
