"""A trial carried out on a simulated powder, and learned from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import scaleup
from scaleup.answers.functions import learn, plan_trial
from scaleup.answers.trial.learning import Learned
from scaleup.answers.trial.moved import ALONE, Moved
from scaleup.answers.trial.plan import TrialPlan
from scaleup.calibration.fit import Fit, fit
from scaleup.errors import InputError
from scaleup.io.study import read_study
from scaleup.io.trial_sheet.columns import Value
from scaleup.io.trial_sheet.reading import SheetRow, read_trial_sheet
from scaleup.io.updated_study import write_updated_study
from scaleup.model.study import Study
from tests.answers.trial.simulated_trial import Put, filled, sheet, with_rows

pytestmark = pytest.mark.slow

Change = Callable[..., Study]
EXAMPLES = Path(__file__).parents[3] / "examples"


def moved(learned: Learned, name: str) -> Moved:
    return next(each for each in learned.moved if each.name == name)


def run_at(plan: TrialPlan, purpose: str) -> str:
    return next(run.name for run in plan.runs if run.rung.purpose == purpose)


def test_a_trial_as_predicted_is_accepted_and_narrows(marram: Study, plan: TrialPlan) -> None:
    learned = learn(marram, sheet(marram, plan), draws=400)
    assert [item.holds for item in learned.accepted] == [True] * 6
    assert learned.causes[0].code == "as-predicted"
    assert not learned.withheld
    assert learned.verdict.answer == learned.findings.verdict.answer
    strength = moved(learned, "production strength at the lab's pressure")
    width = [(each.high or 0.0) - (each.low or 0.0) for each in (strength.before, strength.after)]
    assert width[1] < 0.8 * width[0]


def test_a_feeder_that_weakens_is_estimated_and_leaves_the_rate_alone(
    marram: Study, plan: TrialPlan
) -> None:
    plain = learn(marram, sheet(marram, plan), draws=400)
    weak = learn(marram, sheet(marram, plan, Put(feeder=0.85)), draws=400)
    factor = moved(weak, "feeder factor on strength").after
    assert factor.value == pytest.approx(0.85, abs=0.03)
    assert (factor.low or 1.0) < 0.85 < (factor.high or 0.0)
    assert moved(weak, "rate exponent").after == moved(plain, "rate exponent").after


def test_the_ladder_alone_tells_an_exponent_beside_the_joint_one(
    marram: Study, plan: TrialPlan
) -> None:
    learned = learn(marram, sheet(marram, plan, Put(rate=2.0)), draws=400)
    alone, joint = moved(learned, ALONE).after, moved(learned, "rate exponent")
    assert (alone.value or 0.0) > 1.3 * (joint.before.value or 1.0)
    assert (joint.after.value or 0.0) > 1.1 * (joint.before.value or 1.0)
    assert (alone.low or 1.0) < 2.0 * (joint.before.value or 0.0) < (alone.high or 0.0)


def test_a_drift_is_no_feeder_factor_and_withholds_the_verdict(
    marram: Study, plan: TrialPlan
) -> None:
    """A factor that falls from 0.97 to 0.79 is told as falling, its middle as the factor."""
    put = Put(feeder=0.875, drift=float(np.log(0.79 / 0.97)))
    learned = learn(marram, sheet(marram, plan, put), draws=400)
    drift = moved(learned, "change of strength through the trial").after
    assert (drift.low or 0.0) < 0.79 / 0.97 - 1.0 < (drift.high or -1.0)
    assert moved(learned, "feeder factor on strength").after.value == pytest.approx(0.875, abs=0.04)
    assert learned.causes[0].code == "strength-drift"
    assert learned.verdict.answer == "not enough evidence"
    assert learned.settings == ()
    assert learned.fastest.speed.value is None


def test_a_drift_still_stands_in_later_answers(
    marram: Study, plan: TrialPlan, tmp_path: Path
) -> None:
    learned = learn(marram, sheet(marram, plan, Put(drift=-0.25)), draws=400)
    write_updated_study(learned.study, tmp_path / "next", "after the trial")
    found = scaleup.translate(read_study(tmp_path / "next"), draws=300)
    assert found.verdict.answer == "not enough evidence"
    assert "production-drift" in {item.code for item in found.risks}


def test_weights_read_wrongly_end_in_no_verdict_and_no_exponent(
    marram: Study, plan: TrialPlan, tmp_path: Path
) -> None:
    learned = learn(marram, sheet(marram, plan, Put(balance=1.08)), draws=400)
    assert learned.causes[0].code == "solid-fraction-reading"
    assert "balance" in str(learned.causes[0].told)
    assert learned.verdict.answer == "not enough evidence"
    assert learned.moved_told == ()
    write_updated_study(learned.study, tmp_path / "next", "after the trial")
    found = scaleup.translate(read_study(tmp_path / "next"), draws=300)
    assert found.verdict.answer == "not enough evidence"
    assert "production-readings" in {item.code for item in found.risks}


def test_capping_above_the_asked_speed_bounds_every_later_answer(
    marram: Study, plan: TrialPlan, tmp_path: Path
) -> None:
    learned = learn(marram, sheet(marram, plan, Put(caps_above=60.0)), draws=400)
    assert learned.accepted[3].holds is True
    assert any(", bounds the window" in str(each) for each in learned.verdict.reasons)
    write_updated_study(learned.study, tmp_path / "next", "after the trial")
    again = read_study(tmp_path / "next")
    assert [run.seen for run in again.lab.runs if run.seen] == [("capping",)]
    found = scaleup.check_speed(again, speed=70.0, draws=300)
    assert found.answer != "yes"
    fastest = found.fastest.speed.value
    assert fastest is not None
    assert fastest <= 1.03 * 45.0
    assert any("Capping seen in" in str(item.message) for item in found.risks)


def test_capping_at_a_slow_speed_fails_the_rule(marram: Study, plan: TrialPlan) -> None:
    name = run_at(plan, "start-up")
    rows = with_rows(sheet(marram, plan), **{name: {"capping": "yes"}})
    learned = learn(marram, rows, draws=300)
    assert learned.accepted[3].holds is False
    assert name in learned.accepted[3].why
    assert learned.verdict.answer == "not enough evidence"


@pytest.mark.parametrize("values", [{"sticking": "yes"}, {"picking": "yes"}, {"friability": 0.02}])
def test_what_was_seen_at_the_asked_speed_fails_the_rule(
    marram: Study, plan: TrialPlan, values: dict[str, Value]
) -> None:
    rows = with_rows(sheet(marram, plan), **{run_at(plan, "end"): values})
    learned = learn(marram, rows, draws=300)
    assert learned.accepted[3].holds is False
    assert learned.withheld


def test_centre_runs_apart_withhold_the_verdict(marram: Study, plan: TrialPlan) -> None:
    made = sheet(marram, plan)
    name = run_at(plan, "stop and restart")
    row = next(each for each in made.rows if each.text("run") == name)
    force = 0.8 * (row.number("breaking force") or 0.0)
    learned = learn(marram, with_rows(made, **{name: {"breaking_force": force}}), draws=300)
    assert learned.centre.together is False
    assert learned.accepted[1].holds is False
    assert any("Centre runs are apart" in str(each) for each in learned.verdict.reasons)


def test_a_mean_that_only_just_meets_the_target_is_not_accepted(
    marram: Study, changed: Change, plan: TrialPlan
) -> None:
    """The confidence of the rule is asked of ten tablets, not of their mean alone."""
    made = sheet(marram, plan)
    strength = learn(marram, made, draws=300).after.observations[-1].strength
    assert strength is not None

    def met(share: float) -> bool | None:
        target = changed(marram, target={"strength": share * strength})
        rows = replace(made, plan=replace(made.plan or pytest.fail(), bound=share * strength))
        rows = with_rows(rows, **{row.text("run"): {"plan": (rows.plan or pytest.fail()).short_hash}
                                  for row in rows.rows})  # fmt: skip
        return learn(target, rows, draws=300).accepted[2].holds

    assert met(0.995) is False
    assert met(0.9) is True


def test_slower_runs_that_are_looser_are_no_powder(marram: Study, plan: TrialPlan) -> None:
    """Slow and fast speed exchanged in the sheet."""
    made = sheet(marram, plan, Put(rate=1.8))
    slow, fast = sorted(
        (row for row in made.rows if row.text("purpose") == "speed ladder"),
        key=lambda row: row.number("planned speed") or 0.0,
    )
    names = ("weight", "thickness", "breaking_force")

    def of(row: SheetRow) -> dict[str, Value]:
        return {name: row.values[name.replace("_", " ")] for name in names}

    swapped = with_rows(made, **{slow.text("run"): of(fast), fast.text("run"): of(slow)})
    learned = learn(marram, swapped, draws=300)
    alone = moved(learned, ALONE).after
    assert alone.high is not None
    assert alone.high < 0.0
    assert any("Slower runs made looser" in str(each) for each in learned.verdict.reasons)


@pytest.mark.parametrize(
    ("values", "holds", "told"),
    [
        ({"speed": 10.0}, None, "it ran at 10 rpm"),
        ({"force": 17e3}, None, "it was pressed at 17 kN"),
        ({"tablets": 1.0}, None, "1 tablets were sampled"),
        ({"weight": 420.0}, False, "weighs 420 mg"),
    ],
)
def test_an_end_run_made_otherwise_is_not_accepted(
    marram: Study, plan: TrialPlan, values: dict[str, Value], holds: bool | None, told: str
) -> None:
    made = with_rows(sheet(marram, plan), **{plan.runs[-1].name: values})
    tablet = learn(marram, made, draws=300).accepted[2]
    assert tablet.holds is holds
    assert told in str(tablet.why)


def test_a_stop_limit_that_was_passed_fails_the_trial(marram: Study, plan: TrialPlan) -> None:
    made = with_rows(sheet(marram, plan), **{plan.runs[-1].name: {"breaking_force": 45.0}})
    learned = learn(marram, made, draws=300)
    assert learned.accepted[5].holds is False
    assert "mean breaking force 45 N, stop limit" in str(learned.accepted[5].why)
    assert learned.withheld


def test_a_stop_limit_counts_in_a_run_that_was_not_weighed(marram: Study, plan: TrialPlan) -> None:
    values: dict[str, Value] = {"breaking_force": 45.0, "weight": None}
    made = with_rows(sheet(marram, plan), **{plan.runs[1].name: values})
    assert learn(marram, made, draws=300).accepted[5].holds is False


def test_friability_that_nobody_measured_is_not_known_to_be_low(
    marram: Study, plan: TrialPlan
) -> None:
    made = sheet(marram, plan)
    none = replace(made, rows=tuple(filled(row, friability=None) for row in made.rows))
    rule = learn(marram, none, draws=300).accepted[3]
    assert rule.holds is None
    assert rule.why == "friability was not measured"


def test_force_and_precompression_exchanged_are_refused(marram: Study, plan: TrialPlan) -> None:
    values: dict[str, Value] = {"force": 2.28e3, "precompression": 15.2e3}
    made = with_rows(sheet(marram, plan), **{plan.runs[1].name: values})
    with pytest.raises(InputError, match=r"precompression: found 15\.2 kN before 2\.28 kN"):
        learn(marram, made, draws=300)


def test_what_the_sheet_does_not_tell_bounds_the_verdict(marram: Study, plan: TrialPlan) -> None:
    made = replace(sheet(marram, plan), plan=None)
    learned = learn(marram, made, draws=300)
    assert learned.accepted[4].holds is None
    assert learned.verdict.answer != "transferable"
    assert any("the plan's file is not at hand" in str(each) for each in learned.verdict.reasons)


def test_a_partly_filled_sheet_is_fine_and_an_empty_one_is_not(
    marram: Study, plan: TrialPlan
) -> None:
    made = sheet(marram, plan)
    names = ("weight", "thickness", "breaking_force", "capping", "lamination", "picking",
             "sticking", "friability", "black_specks", "take-off", "dust")  # fmt: skip
    nothing: dict[str, Value] = dict.fromkeys(names)
    blank = tuple(filled(row, **nothing) for row in made.rows)
    learned = learn(marram, replace(made, rows=(*made.rows[:3], *blank[3:])), draws=300)
    assert len(learned.results) == 3
    assert learned.left_blank == tuple(run.name for run in plan.runs[3:])
    assert learned.accepted[2].holds is None
    assert learned.accepted[2].why == "the end run was not filled in"
    with pytest.raises(InputError, match="no run with weight and thickness"):
        learn(marram, replace(made, rows=blank), draws=300)


def test_what_a_run_without_a_weight_says_still_counts(marram: Study, plan: TrialPlan) -> None:
    name = plan.runs[-1].name
    made = with_rows(sheet(marram, plan), **{name: {"weight": None, "capping": "yes"}})
    learned = learn(marram, made, draws=300)
    assert not learned.left_blank
    assert learned.accepted[3].holds is False
    assert learned.accepted[3].why == f"capping in {name}"
    assert learned.accepted[2].holds is None
    assert learned.accepted[2].why == f"run {name} lacks weight or thickness"
    assert any(
        note.startswith(f"run {name} is left out of the fit: no weight;") for note in learned.notes
    )
    assert len(learned.study.lab.runs) == len(marram.lab.runs) + len(made.rows) - 1


def test_defects_nobody_looked_for_are_not_absent(marram: Study, plan: TrialPlan) -> None:
    made = sheet(marram, plan)
    silent = tuple(filled(row, picking=None) for row in made.rows)
    learned = learn(marram, replace(made, rows=silent), draws=300)
    assert learned.accepted[3].holds is None


def test_a_mean_outside_the_planned_limits_is_outside(marram: Study, plan: TrialPlan) -> None:
    """The limits that were fixed before decide, not those of a later fit."""
    made = sheet(marram, plan)
    name = plan.runs[2].name
    action = plan.runs[2].action["breaking_force"]
    high = with_rows(made, **{name: {"breaking_force": 1.02 * (action.high or 0.0)}})
    item = {each.measure: each for each in learn(marram, high, draws=300).results[2].compared}
    assert item["breaking_force"].fixed
    assert item["breaking_force"].highest == pytest.approx(action.high)
    assert not item["breaking_force"].within
    force = 1.05 * plan.runs[2].rung.force
    moved_set = with_rows(high, **{name: {"force": force}})
    item = {each.measure: each for each in learn(marram, moved_set, draws=300).results[2].compared}
    assert not item["breaking_force"].fixed
    heavy = with_rows(made, **{name: {"weight": 1.03 * plan.weight}})
    item = {each.measure: each for each in learn(marram, heavy, draws=300).results[2].compared}
    assert not item["thickness"].fixed  # a heavier tablet is thicker


def test_limits_of_another_precompression_are_not_the_sheet_s(
    marram: Study, plan: TrialPlan
) -> None:
    made, name = sheet(marram, plan), plan.runs[2].name
    force, share = plan.runs[2].rung.force, plan.runs[2].rung.pre_share

    def fixed(pre: float) -> set[bool]:
        rows = with_rows(made, **{name: {"precompression": pre}})
        found = learn(marram, rows, draws=300).results[2].compared
        return {item.fixed for item in found if item.measure != "solid_fraction"}

    assert fixed((share + 0.01) * force) == {True}
    assert fixed((share + 0.3) * force) == {False}


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"speed": 550.0}, "row 4, speed: found 550 rpm; allowed: 10 to 75 rpm, the range of"),
        ({"force": 60e3}, "row 4, force: found 60 kN; allowed: up to 38 kN, which tips and"),
        ({"breaking_force": 1700.0}, "row 4, breaking force: found 1.7 kN; allowed: 1/6 to 3 ti"),
        ({"breaking_force": 17.0}, "row 4, breaking force: found 17 N; allowed: 1/6 to 3 times"),
    ],
)
def test_values_no_press_or_tablet_can_have_are_refused(
    marram: Study, plan: TrialPlan, values: dict[str, Value], said: str
) -> None:
    made = with_rows(sheet(marram, plan), **{plan.runs[2].name: values})
    with pytest.raises(InputError) as caught:
        learn(marram, made, draws=300)
    assert said in str(caught.value)


def test_a_sheet_that_cannot_be_of_this_trial_is_refused(
    marram: Study, dunlin: Study, plan: TrialPlan
) -> None:
    made = replace(sheet(marram, plan), plan=None)
    with pytest.raises(InputError, match='found a sheet of "Marram 400 mg, first transfer"'):
        learn(dunlin, made, draws=300)
    with pytest.raises(InputError, match="run T3: found 2 rows; allowed: one row for each run"):
        learn(marram, replace(made, rows=(*made.rows, made.rows[2])), draws=300)
    taught = learn(marram, made, draws=300).study
    with pytest.raises(InputError, match="run T1: found a run that the study has already"):
        learn(taught, made, draws=300)


def test_the_new_settings_and_window_are_told(marram: Study, plan: TrialPlan) -> None:
    learned = learn(marram, sheet(marram, plan, Put(feeder=0.8)), draws=300)
    before = {item.match: item for item in learned.settings_before}
    now = {item.match: item for item in learned.settings}
    assert before.keys() == now.keys()
    assert learned.window.centre is not None
    edges = {edge.towards: edge for edge in learned.window.centre.edges}
    assert edges["less force"].limit == "tensile strength"


def test_production_runs_alone_are_fitted(marram: Study, plan: TrialPlan) -> None:
    alone = replace(marram, lab=replace(marram.lab, runs=(), reference=None))
    taught = learn(marram, sheet(marram, plan), draws=300).study.lab.runs
    made = tuple(run for run in taught if run.press == "production")
    fitted = fit(replace(alone, lab=replace(alone.lab, runs=made)), draws=300)
    assert isinstance(fitted, Fit)
    assert fitted.strength is not None
    assert not fitted.strength.feeder_known


def test_the_updated_study_reads_back_and_the_old_one_is_untouched(
    marram: Study, plan: TrialPlan, tmp_path: Path
) -> None:
    before = {path: path.read_bytes() for path in (EXAMPLES / "marram").iterdir()}
    taught = learn(marram, sheet(marram, plan, Put(caps_above=60.0)), draws=300).study
    write_updated_study(taught, tmp_path / "next", "after the trial")
    again = read_study(tmp_path / "next")
    assert len(again.lab.runs) == len(taught.lab.runs)
    for one, two in zip(again.lab.runs, taught.lab.runs, strict=True):
        assert (one.name, one.trial, one.seen) == (two.name, two.trial, two.seen)
        assert bool(one.trial) == (one.press == "production")
        for name in ("force", "speed", "hold", "elapsed", "weight", "thickness", "breaking_force"):
            value = getattr(two, name)
            assert getattr(one, name) == (None if value is None else pytest.approx(value, rel=1e-6))
    assert {path: path.read_bytes() for path in (EXAMPLES / "marram").iterdir()} == before
    with pytest.raises(InputError, match="a folder that exists"):
        write_updated_study(taught, tmp_path / "next", "again")


def test_the_example_sheet_runs_the_whole_circle(marram: Study) -> None:
    made = read_trial_sheet(EXAMPLES / "marram" / "trial-sheet.csv")
    assert made.plan is not None
    learned = learn(marram, made, draws=300)
    assert learned.left_blank == ("T7",)
    assert [item.holds for item in learned.accepted] == [True] * 6
    assert learned.causes[0].code == "defects"
    assert learned.verdict.answer == "transferable with changes"


def test_the_next_trial_is_three_runs_with_names_of_their_own(
    marram: Study, plan: TrialPlan
) -> None:
    taught = learn(marram, sheet(marram, plan), draws=400).study
    again = plan_trial(taught, draws=400)
    first = len(plan.runs) + 1
    assert [run.name for run in again.runs] == [f"T{first}", f"T{first + 1}", f"T{first + 2}"]
    assert [run.rung.purpose for run in again.runs] == ["start-up", "stop and restart", "end"]
    told = " ".join(map(str, again.reasons))
    assert "it is left out" in told
    assert "The plan starts from 8 production runs learned on rotary-mid-19." in told


def test_a_trial_is_judged_at_the_speed_it_was_planned_for(marram: Study) -> None:
    """Planned at 60 rpm for a study that asks about 45: capping at the end run is in the rule."""
    faster = replace(marram, production=replace(marram.production, speed=60.0))
    plan = plan_trial(faster, draws=300)
    made = with_rows(sheet(marram, plan), **{plan.runs[-1].name: {"capping": "yes"}})
    learned = learn(marram, made, draws=300)
    assert plan.runs[-1].rung.speed == 60.0
    assert learned.accepted[3].holds is False
    assert learned.window.speed == 60.0


def test_a_study_without_a_strength_target_is_judged_by_its_solid_fraction(
    marram: Study, changed: Change
) -> None:
    bare = changed(marram, target={"strength": None})
    plan = plan_trial(bare, draws=300)
    assert "The tablet is met if the end run has: thickness" in str(plan.acceptance[1])
    made = sheet(bare, plan)
    met = learn(bare, made, draws=300).accepted[2]
    assert met.holds is True
    assert "strength" not in str(met.why)
    thick = 1.2 * (made.rows[-1].number("thickness") or 0.0)
    loose = with_rows(made, **{made.rows[-1].text("run"): {"thickness": thick}})
    assert learn(bare, loose, draws=300).accepted[2].holds is False
