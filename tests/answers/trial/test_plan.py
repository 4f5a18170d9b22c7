"""A trial planned: safe, able to tell causes apart, and as large as teaches."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from scaleup.answers.functions import plan_trial
from scaleup.answers.trial.design import AT_CENTRE, BLOCK, CLIMB
from scaleup.answers.trial.options import TrialOptions
from scaleup.answers.trial.plan import TrialPlan
from scaleup.answers.trial.stop_limits import DISTANCE
from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing, Fit
from scaleup.calibration.observations import observe, sides
from scaleup.errors import InputError
from scaleup.io.study import read_study
from scaleup.model.study import Study

Change = Callable[..., Study]


def test_blocks_stand_between_centre_runs(plan: TrialPlan) -> None:
    purposes = [run.rung.purpose for run in plan.runs]
    assert purposes[0] == "start-up"
    assert purposes[-1] == "end"
    assert purposes.count("stop and restart") == 1
    centre = [place for place, purpose in enumerate(purposes) if purpose in AT_CENTRE]
    assert all(second - first - 1 <= BLOCK for first, second in pairwise(centre))
    at_centre = {(plan.runs[at].rung.speed, plan.runs[at].rung.force) for at in centre}
    assert len(at_centre) == 1


@pytest.mark.slow
def test_the_order_is_drawn_by_the_seed(marram: Study) -> None:
    orders = {
        tuple(run.rung.purpose for run in plan_trial(marram, draws=300, seed=seed).runs)
        for seed in range(1, 6)
    }
    assert len(orders) > 1


def test_ladders_are_as_wide_as_is_allowed(plan: TrialPlan, marram: Study) -> None:
    limits = marram.production.press.profile.speed
    speeds = [run.rung.speed for run in plan.runs]
    assert (min(speeds), max(speeds)) == (limits.min, limits.max)
    forces = [run.rung.force for run in plan.runs]
    assert min(forces) == pytest.approx(0.7 * plan.runs[0].rung.force, rel=0.01)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["marram", "dunlin", "plover", "bracken", "fescue", "teasel"])
def test_every_setting_keeps_its_distance_from_every_stop(name: str) -> None:
    study = read_study(f"examples/{name}")
    made = plan_trial(study, draws=300)
    stops = made.stops
    for run in made.runs:
        assert run.rung.force <= (1.0 - DISTANCE) * stops.force
        ejection = run.predicted["ejection_force"].value
        if stops.ejection is not None and ejection is not None:
            assert ejection < (1.0 - DISTANCE) * stops.ejection
        if stops.breaking_force is not None:
            force = run.predicted["breaking_force"].value or 0.0
            assert force > (1.0 + DISTANCE) * stops.breaking_force


@pytest.mark.slow
@pytest.mark.parametrize("name", ["marram", "dunlin", "plover", "bracken", "fescue", "teasel"])
def test_a_trial_stays_within_tested_pressure_or_climbs_to_it(name: str) -> None:
    study = read_study(f"examples/{name}")
    made = plan_trial(study, draws=300)
    area = study.production.tooling.profile.tip_area
    reached = max(seen.pressure for seen in observe(study, sides(study))) * area
    for run in made.runs:
        assert run.rung.force <= CLIMB * 1.01 * reached, run.name
        reached = max(reached, run.rung.force)


def test_a_climb_has_a_gate(marram: Study, changed: Change) -> None:
    strong = changed(marram, target={"strength": 2.6})
    made = plan_trial(strong, draws=300)
    climbing = [run for run in made.runs if run.rung.purpose == "climb"]
    assert climbing
    assert made.runs[: len(climbing)] == tuple(climbing)
    assert "Gate: go on" in str(made.instructions[0])
    assert "above the highest tested force" in str(made.reasons[0])


def test_limits_never_contradict_each_other(plan: TrialPlan) -> None:
    """What a run may be is: stop limit, action limit, prediction; and acceptance lies inside."""
    stops = plan.stops
    assert stops.breaking_force is not None
    for run in plan.runs:
        predicted, action = run.predicted["breaking_force"], run.action["breaking_force"]
        assert stops.breaking_force <= (action.low or 0.0) < (predicted.value or 0.0)
        ejection = run.action["ejection_force"]
        assert (ejection.high or 0.0) <= (stops.ejection or 0.0)
    needed = plan.rule.breaking_force
    assert needed is not None
    assert stops.breaking_force < needed < (plan.runs[-1].action["breaking_force"].high or 0.0)


def test_rules_are_in_what_an_operator_reads(plan: TrialPlan) -> None:
    told = " ".join(map(str, (*plan.stop_rules, *plan.acceptance)))
    assert "Main force above 34.2 kN" in told
    assert "Mean breaking force below" in told
    assert " N in two samples" in told
    assert "mean breaking force of 10 tablets at least" in told
    assert "thickness 3.69" in told
    assert "memory" not in told


def test_no_trial_is_planned_where_strength_fell_in_the_lab(sedge: Study) -> None:
    made = plan_trial(sedge, draws=300)
    assert made.runs == ()
    told = " ".join(map(str, made.withheld))
    assert "Lab strength falls" in told
    assert "tensile strength at least 1.8 MPa" in told
    assert any("lab tablets" in str(each.told) for each in made.first)
    assert all(each.name != "trial_run" for each in made.first)


@pytest.mark.slow
def test_no_trial_is_planned_that_most_draws_would_stop(marram: Study, changed: Change) -> None:
    strong = changed(marram, target={"strength": 4.5})
    made = plan_trial(strong, draws=300)
    assert made.runs == ()
    assert "tensile strength at least 4.5 MPa" in str(made.withheld[0])
    weak = changed(marram, tooling={"tip_force_rating": 13e3})
    made = plan_trial(weak, draws=300)
    assert made.runs == ()


def test_no_run_goes_near_a_rating(marram: Study, changed: Change) -> None:
    weak = plan_trial(changed(marram, tooling={"tip_force_rating": 17e3}), draws=300)
    assert max(run.rung.force for run in weak.runs) <= 0.95 * 0.9 * 17e3 + 1e-6
    assert any("15.3 kN" in rule for rule in weak.stop_rules)


def test_a_press_without_precompression_gets_none(marram: Study, changed: Change) -> None:
    bare = changed(marram, press={"pre_roller": None}, production={"precompression": None})
    plan = plan_trial(bare, draws=300)
    assert "precompression" not in {run.rung.purpose for run in plan.runs}


def test_counts_times_and_powder_follow_from_study_and_options(
    marram: Study, plan: TrialPlan
) -> None:
    more = plan_trial(marram, draws=400, options=TrialOptions(25, 10.0, 5.0, 2e6))
    assert {run.tablets for run in more.runs} == {25}
    made = sum(19 * run.rung.speed * 15.0 for run in more.runs)  # while it is set as well
    assert more.powder.value == pytest.approx(1.1 * made * more.weight + 2e6, rel=1e-6)
    assert more.time.value == pytest.approx(len(more.runs) * 15 * 60.0)
    assert [run.start for run in more.runs] == [900.0 * at for at in range(len(more.runs))]
    assert all(run.tablets >= 10 for run in plan.runs)


def test_tablets_have_weight_limits(marram: Study) -> None:
    made = plan_trial(marram, draws=300, options=TrialOptions(weight_tolerance=0.04))
    low, high = made.weight_limits
    assert low == pytest.approx(0.96 * made.weight)
    assert high == pytest.approx(1.04 * made.weight)
    with pytest.raises(InputError, match="weight_tolerance"):
        plan_trial(marram, draws=300, options=TrialOptions(weight_tolerance=0.5))


def test_action_limits_are_wider_than_the_prediction(plan: TrialPlan) -> None:
    for run in plan.runs:
        for name, predicted in run.predicted.items():
            action = run.action[name]
            assert (action.low or 0.0) < (predicted.low or 0.0), name
            assert (predicted.high or 0.0) < (action.high or 0.0), name


def test_runs_without_a_fit_plan_no_trial(marram: Study, changed: Change) -> None:
    two = changed(marram, runs=lambda run: run if run.line in (4, 16) else None)
    with pytest.raises(InputError, match="2 runs"):
        plan_trial(replace(two, lab=replace(two.lab, reference=None)), draws=300)


def test_settings_can_be_set(plan: TrialPlan) -> None:
    for run in plan.runs:
        for value in (run.rung.force, run.rung.speed):
            assert value == float(f"{value:.3g}")
        assert run.settings.main_force.value == pytest.approx(run.rung.force)
        assert run.settings.tip_separation.value is not None


def test_nothing_is_cited_from_memory(plan: TrialPlan) -> None:
    told = " ".join(map(str, (*plan.notes, *plan.instructions, *plan.acceptance, *plan.equipment)))
    assert "memory" not in told
    assert "SUPAC" not in told


def test_the_trial_before_the_fit_has_a_number_of_its_own(marram: Study) -> None:
    own = replace(marram.lab.runs[0], name="T7")
    named = replace(marram, lab=replace(marram.lab, runs=(*marram.lab.runs, own)))
    assert plan_trial(named, draws=300).runs[0].name == "T8"


@pytest.mark.slow
def test_what_ladders_teach_is_what_a_regression_finds(marram: Study) -> None:
    """The same narrowing by plain least squares of the exponent on what would be measured."""
    made = plan_trial(marram, draws=2000)
    found = calibrated(marram, Drawing(2000, 1)).fit
    assert isinstance(found, Fit)
    reason = next(str(each) for each in made.reasons if "Speed ladder" in str(each))
    assert "rate exponent at production dwell" in reason
    share = float(reason.split("dwell by ")[1].split(" %")[0]) / 100.0
    assert 0.4 < share < 0.7
    from scaleup.answers.trial.centre import centre_setting  # noqa: PLC0415
    from scaleup.answers.trial.worth import Worth  # noqa: PLC0415
    from scaleup.transfer.case import transfer_case  # noqa: PLC0415

    case = transfer_case(calibrated(marram, Drawing(2000, 1)), 45.0, 0.9)
    setting = centre_setting(case)
    worth = Worth(case, setting.point, 10)
    points = [setting.point, case.process.at(190.0, 10.0), case.process.at(190.0, 75.0),
              setting.point, setting.point]  # fmt: skip
    rows = np.array(worth._measured(points))
    noisy = rows + np.random.default_rng(5).standard_normal(rows.shape)
    wanted = next(each for each in worth.wanted if "exponent" in each.name).draws
    terms = np.vstack([np.ones(wanted.size), noisy]).T
    line, *_ = np.linalg.lstsq(terms, wanted, rcond=None)
    by_regression = 1.0 - float(np.std(wanted - terms @ line) / np.std(wanted))
    told = worth.narrowing(points)["the rate exponent at production dwell"]
    assert told == pytest.approx(by_regression, abs=0.04)
