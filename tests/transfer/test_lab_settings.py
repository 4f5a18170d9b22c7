"""What the lab press can be set to, and what to press where there is no answer yet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from scaleup.answers.first_runs import first_runs
from scaleup.answers.functions import judge
from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing
from scaleup.model.study import Study
from scaleup.transfer.lab_settings import IF_IT_HOLDS, LONG_HOLD, lab_settings
from scaleup.transfer.tested import greatest_lab_force

Change = Callable[..., Study]
SILENT = {"hold": None, "loading_rates": None}
"""A hydraulic profile that says nothing of holds or of loading rates."""


def holds(study: Study) -> dict[float | None, str]:
    return {each.setting.hold: each.condition for each in lab_settings(study.lab)}


def test_a_profile_with_its_ranges_needs_no_condition(marram: Study) -> None:
    assert set(holds(marram).values()) == {""}
    assert max(each or 0.0 for each in holds(marram)) == 60.0


def test_the_runs_show_how_long_the_press_holds(marram: Study, changed: Change) -> None:
    """Runs were held for up to 60 s, of which the profile knows nothing."""
    assert set(holds(changed(marram, lab_press=SILENT)).values()) == {""}
    short = changed(
        marram, lab_press=SILENT, runs=lambda run: run if (run.hold or 0.0) <= 1.0 else None
    )
    assert holds(short)[LONG_HOLD] == IF_IT_HOLDS
    assert holds(short)[0.0] == ""


def test_without_any_hold_one_is_proposed_on_its_condition(marram: Study, changed: Change) -> None:
    """Three tablets held for seconds narrow the bands most; they are proposed first.

    Nearer to the production pulse than 60 s is, they tell more where the exponent may change.
    """
    study = changed(
        marram,
        lab_press=SILENT,
        runs=lambda run: replace(run, hold=None) if run.hold == 1.0 else None,
    )
    judgement = judge(study, draws=300)
    assert judgement.proposals is not None
    assert judgement.proposals.reason == ""
    best = judgement.proposals.best[0]
    assert best.setting.hold is not None
    assert 1.0 < best.setting.hold <= LONG_HOLD
    assert best.condition == IF_IT_HOLDS
    assert best.needed_force > 0.35
    assert best.measures_rate


def test_a_press_that_lets_go_by_itself_is_not_asked_to_hold(dunlin: Study) -> None:
    assert holds(dunlin) == {None: ""}


def test_several_loading_rates_of_the_runs_are_what_the_press_can(
    marram: Study, changed: Change
) -> None:
    rates = iter((2e3, 5e3, 15e3) * 10)
    study = changed(
        marram, lab_press=SILENT, runs=lambda run: replace(run, loading_rate=next(rates))
    )
    assert {each.setting.loading_rate for each in lab_settings(study.lab)} == {2e3, 5e3, 15e3}
    one = changed(marram, lab_press=SILENT)
    assert {each.setting.loading_rate for each in lab_settings(one.lab)} == {5e3}


@pytest.mark.parametrize("run", ["M1", "M4", "M5"])
def test_one_force_asks_for_three_that_span_it(marram: Study, changed: Change, run: str) -> None:
    one = changed(marram, runs=lambda each: each if each.name == run else None)
    one = replace(one, lab=replace(one.lab, reference=run))
    first = first_runs(calibrated(one, Drawing(200, 1)))
    assert first is not None
    tested = one.lab.runs[0].force
    assert len(first.forces) == 3
    assert first.forces[0] < tested < first.forces[-1] <= greatest_lab_force(one.lab)
    assert first.forces[-1] / first.forces[0] == pytest.approx(4.0, rel=0.1)
    assert "all runs at one pressure" in first.why


def test_no_force_is_asked_for_that_the_lab_cannot_make(marram: Study, changed: Change) -> None:
    one = changed(
        marram,
        lab_tooling={"tip_force_rating": 13e3},
        runs=lambda each: each if each.name == "M4" else None,
    )
    first = first_runs(calibrated(one, Drawing(200, 1)))
    assert first is not None
    assert first.forces[-1] == pytest.approx(13e3)
    assert first.forces[0] < 6.6e3


def test_tablets_next_to_solid_ask_for_less_force(marram: Study, changed: Change) -> None:
    thin = 400.0 / (0.99 * 78.5398 * marram.blend.true_density)
    dense = changed(marram, runs=lambda run: replace(run, weight=400.0, thickness=thin))
    first = first_runs(calibrated(dense, Drawing(200, 1)))
    assert first is not None
    assert "hardly a pore" in first.why
    assert first.forces[-1] == pytest.approx(min(run.force for run in dense.lab.runs))
    assert first.forces[0] < 0.5 * first.forces[-1]


def test_whole_runs_need_nothing_first(marram: Study) -> None:
    assert first_runs(calibrated(marram, Drawing(200, 1))) is None
    assert judge(marram, draws=200).first is None
