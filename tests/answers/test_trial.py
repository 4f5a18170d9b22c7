"""A trial planned, run on a simulated powder, and learned from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scaleup.answers.functions import learn, plan_trial
from scaleup.answers.trial.ladders import ladders
from scaleup.answers.trial.learning import Learned, Moved
from scaleup.answers.trial.plan import TrialOptions, TrialPlan
from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing, Fit, fit
from scaleup.calibration.observations import side_of
from scaleup.errors import InputError
from scaleup.io.study import read_study
from scaleup.io.trial_sheet import SheetRow, Value, read_trial_sheet
from scaleup.io.updated_study import write_updated_study
from scaleup.model.study import Study
from scaleup.powder.compression import compress
from scaleup.powder.hardening import Kawakita
from scaleup.powder.law import Powder
from scaleup.presses.press import Setting
from scaleup.sentence import Fact, Sentence
from scaleup.show.trial_plan import plan_page, sheet_rows
from scaleup.transfer.case import transfer_case

pytestmark = pytest.mark.slow

Change = Callable[..., Study]
EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def plan(marram: Study) -> TrialPlan:
    return plan_trial(marram, draws=400)


def test_the_speed_ladder_comes_first_and_at_one_force(plan: TrialPlan) -> None:
    purposes = [run.rung.purpose for run in plan.runs]
    assert purposes[0] == "start-up"
    assert purposes[-2:] == ["stop and restart", "end"]
    first = purposes.index("speed ladder")
    assert first < purposes.index("force ladder") < purposes.index("precompression")
    ladder = [run.rung for run in plan.runs if run.rung.purpose == "speed ladder"]
    assert {rung.force for rung in ladder} == {plan.runs[0].rung.force}
    speeds = [rung.speed for rung in ladder]
    assert max(speeds) / min(speeds) > 1.5


def test_no_run_goes_near_a_rating(marram: Study, changed: Change) -> None:
    weak = plan_trial(changed(marram, tooling={"tip_force_rating": 17e3}), draws=300)
    assert max(run.rung.force for run in weak.runs) <= 0.9 * 17e3 + 1e-6
    limits = marram.production.press.profile.speed
    assert all(limits.min <= run.rung.speed <= limits.max for run in weak.runs)
    assert any("15.3 kN" in rule for rule in weak.stop_rules)


def test_a_ladder_is_as_narrow_as_teaches_nearly_the_most(marram: Study) -> None:
    lab = calibrated(marram, Drawing(1000, 1))
    case = transfer_case(lab, marram.production.speed, 0.9)
    fit_ = case.process.fit
    both = ladders(case, 10)
    slow, fast = sorted(r.speed for r in both.rungs if r.purpose == "speed ladder")
    pressure = both.centre.force / case.process.charge.tip_area

    def taught(*speeds: float) -> float:
        """The same by plain regression of the exponent on what is measured, noise added."""
        points = [case.process.at(pressure, speed) for speed in (45.0, 45.0, 45.0, *speeds)]
        exponent = fit_.powder.exponent_at(np.array(np.median(points[0].effective_dwell)))
        rng = np.random.default_rng(7)
        noise = fit_.solid_fraction_scatter / np.sqrt(10)
        seen = np.vstack([np.ones(1000), *(point.solid_fraction for point in points)]).T
        seen[:, 1:] += noise * rng.standard_normal(seen[:, 1:].shape)
        slope, *_ = np.linalg.lstsq(seen, exponent, rcond=None)
        return 1.0 - float(np.std(exponent - seen @ slope) / np.std(exponent))

    limits = marram.production.press.profile.speed
    widest = taught(limits.min, limits.max)
    assert taught(slow, fast) > 0.85 * widest
    assert taught(np.sqrt(slow * 45.0), np.sqrt(fast * 45.0)) < 0.9 * widest
    assert slow > 1.2 * limits.min


def test_no_rung_of_forces_is_expected_to_miss_a_limit(sedge: Study, dunlin: Study) -> None:
    capping = plan_trial(sedge, draws=300)
    assert "force ladder" not in {run.rung.purpose for run in capping.runs}
    assert any("no force ladder" in reason for reason in capping.reasons)
    case = transfer_case(calibrated(dunlin, Drawing(300, 1)), 40.0, 0.9)
    assert case.target is not None
    for run in plan_trial(dunlin, draws=300).runs:
        measure = "tensile_strength" if case.target.unit == "MPa" else "breaking_force"
        assert (run.predicted[measure].value or 0.0) > case.target.bound


def test_the_trial_narrows_the_exponent_as_the_plan_expects(marram: Study) -> None:
    plan = plan_trial(marram, draws=1000)
    expected = next(reason for reason in plan.reasons if "rate exponent" in reason)
    assert isinstance(expected, Sentence)
    narrowing = expected.facts["narrowing"]
    assert isinstance(narrowing, Fact)
    share = narrowing.value
    dwell = np.array(0.02)
    before = plan.calibrated.fit
    assert isinstance(before, Fit)
    narrowed = []
    for seed in (3, 4, 5):
        after = learn(marram, sheet(marram, plan, seed=seed), draws=1000).after.fit
        assert isinstance(after, Fit)
        spreads = [float(np.std(each.powder.exponent_at(dwell))) for each in (before, after)]
        narrowed.append(1.0 - spreads[1] / spreads[0])
    assert np.mean(narrowed) > share - 0.1


def test_a_press_without_precompression_gets_none(marram: Study, changed: Change) -> None:
    bare = changed(marram, press={"pre_roller": None}, production={"precompression": None})
    plan = plan_trial(bare, draws=300)
    assert "precompression" not in {run.rung.purpose for run in plan.runs}


def test_counts_and_times_follow_from_study_and_options(marram: Study, plan: TrialPlan) -> None:
    more = plan_trial(marram, draws=400, options=TrialOptions(25, 10.0, 5.0, 2e6))
    assert {run.tablets for run in more.runs} == {25}
    minutes = sum(19 * run.rung.speed * 10.0 for run in more.runs)
    weight = calibrated(marram, Drawing(200, 1)).reference.weight or 0.0
    assert more.powder.value == pytest.approx(1.1 * minutes * weight + 2e6, rel=1e-6)
    assert more.time.value == pytest.approx(len(more.runs) * 15 * 60.0)
    assert all(run.tablets >= 10 for run in plan.runs)


def test_action_limits_are_wider_than_the_prediction(plan: TrialPlan) -> None:
    for run in plan.runs:
        for name, predicted in run.predicted.items():
            action = run.action[name]
            assert action.low is not None
            assert action.high is not None
            assert predicted.low is not None
            assert predicted.high is not None
            assert action.low < predicted.low < predicted.high < action.high, name


def test_runs_without_a_fit_plan_no_trial(marram: Study, changed: Change) -> None:
    two = changed(marram, runs=lambda run: run if run.line in (4, 16) else None)
    with pytest.raises(InputError, match="2 runs"):
        plan_trial(replace(two, lab=replace(two.lab, reference=None)), draws=300)


def test_capping_in_the_lab_speaks_against_a_trial(sedge: Study) -> None:
    assert "capping" in plan_trial(sedge, draws=300).against[0]


def test_the_page_escapes_what_the_study_says(marram: Study) -> None:
    named = replace(marram, name="<script>alert(1)</script> & Co")
    text = plan_page(plan_trial(named, draws=300))
    assert "<script>" not in text
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; Co" in text
    assert "http" not in text
    assert text.count("<table>") == 1


def sheet(
    study: Study, plan: TrialPlan, *, feeder: float = 1.0, rate: float = 1.0, seed: int = 3
) -> tuple[SheetRow, ...]:
    """Return a filled sheet: the middle of the fit is the truth, but for the two factors."""
    found = plan.calibrated.fit
    assert isinstance(found, Fit)
    assert found.strength is not None
    powder, hardening = found.powder, found.powder.hardening
    assert isinstance(hardening, Kawakita)
    draw, none = [int(np.argsort(powder.rate_exponent)[powder.draws // 2])], np.zeros(1)
    form = Kawakita(hardening.scale[draw], hardening.rearrangement[draw])
    truth = Powder(form, powder.rate_exponent[draw] * rate, powder.elastic[draw], none, none)
    strength_of_solid = float(found.strength.strength_of_solid[draw][0])
    b = float(found.strength.porosity_exponent[draw][0])
    side, rng = side_of(study.production), np.random.default_rng(seed)
    rows = []
    for number, planned in enumerate(sheet_rows(plan), start=2):
        force, speed = float(planned["planned force"] or 0.0), planned["planned speed"]
        charge = side.tip.charge(400.0, study.blend.true_density)
        assert isinstance(speed, float)
        pulse = compress(side.press, truth, charge, np.array([force / side.tip.area]),
                         Setting(speed=speed))  # fmt: skip
        solid = float(truth.solid_fraction(pulse.static_pressure)[0])
        solid += found.solid_fraction_scatter / np.sqrt(10) * rng.standard_normal()
        thickness = 400.0 / study.blend.true_density / side.tip.area / solid
        strength = strength_of_solid * np.exp(-b * (1.0 - solid)) * feeder
        strength *= np.exp(0.02 * rng.standard_normal())
        measured: dict[str, Value] = {
            "weight": 400.0,
            "thickness": thickness,
            "breaking force": float(strength * np.pi * side.tip.width * thickness / 2.0),
            "tablets": 10.0,
            "capping seen": "no",
        }
        rows.append(SheetRow(number, {**planned, **measured}))
    return tuple(rows)


def moved(learned: Learned, name: str) -> Moved:
    return next(each for each in learned.moved if each.name == name)


def test_a_trial_as_predicted_is_accepted_and_narrows(marram: Study, plan: TrialPlan) -> None:
    learned = learn(marram, sheet(marram, plan), draws=400)
    assert [item.holds for item in learned.accepted] == [True, True, True]
    told = " ".join(map(str, learned.failed))
    assert "moved" not in told
    assert "strength curve" not in told
    strength = moved(learned, "production strength at the lab's pressure")
    width = [(each.high or 0.0) - (each.low or 0.0) for each in (strength.before, strength.after)]
    assert width[1] < 0.8 * width[0]


def test_a_feeder_that_weakens_is_estimated_and_leaves_the_rate_alone(
    marram: Study, plan: TrialPlan
) -> None:
    plain = learn(marram, sheet(marram, plan), draws=400)
    weak = learn(marram, sheet(marram, plan, feeder=0.85), draws=400)
    factor = moved(weak, "feeder factor on strength").after
    assert factor.value == pytest.approx(0.85, abs=0.03)
    assert factor.low is not None
    assert factor.high is not None
    assert factor.low < 0.85 < factor.high
    assert moved(weak, "rate exponent").after == moved(plain, "rate exponent").after
    assert weak.accepted[0].holds is False
    assert any("not an effect of speed" in text for text in weak.failed)


def test_a_rate_the_lab_did_not_show_moves_the_exponent_and_no_factor(
    marram: Study, plan: TrialPlan
) -> None:
    learned = learn(marram, sheet(marram, plan, rate=1.7), draws=400)
    rate = moved(learned, "rate exponent")
    assert rate.clear
    assert (rate.after.value or 0.0) > 1.2 * (rate.before.value or 1.0)
    factor = moved(learned, "feeder factor on strength").after
    assert factor.value == pytest.approx(1.0, abs=0.06)
    assert any("rate exponent moved" in text for text in learned.failed)


def test_a_mean_that_only_just_meets_the_target_is_not_accepted(
    marram: Study, changed: Change, plan: TrialPlan
) -> None:
    """The confidence of the rule is asked of ten tablets, not of their mean alone."""
    rows = sheet(marram, plan)
    strength = learn(marram, rows, draws=300).after.observations[-1].strength
    assert strength is not None

    def met(share: float) -> bool | None:
        target = changed(marram, target={"strength": share * strength})
        return learn(target, rows, draws=300).accepted[1].holds

    assert met(0.995) is False
    assert met(0.9) is True


def test_capping_at_a_slow_speed_fails_the_rule(marram: Study, plan: TrialPlan) -> None:
    rows = list(sheet(marram, plan))
    rows[1] = SheetRow(rows[1].line, {**rows[1].values, "capping seen": "yes"})
    learned = learn(marram, tuple(rows), draws=300)
    assert learned.accepted[2].holds is False
    assert "T2" in learned.accepted[2].why


def filled(row: SheetRow, **values: Value) -> SheetRow:
    """Return a row with other values, names written with underscores."""
    changed = {name.replace("_", " "): value for name, value in values.items()}
    return SheetRow(row.line, {**row.values, **changed})


def test_a_partly_filled_sheet_is_fine_and_an_empty_one_is_not(
    marram: Study, plan: TrialPlan
) -> None:
    rows = sheet(marram, plan)
    nothing = dict.fromkeys(("weight", "thickness", "breaking_force", "capping_seen"))
    blank = tuple(filled(row, **nothing) for row in rows)
    learned = learn(marram, (*rows[:3], *blank[3:]), draws=300)
    assert len(learned.results) == 3
    assert learned.left_blank == tuple(run.name for run in plan.runs[3:])
    assert learned.accepted[1].holds is None
    assert learned.accepted[1].why == "the end run was not filled in"
    with pytest.raises(InputError, match="no run with weight and thickness"):
        learn(marram, blank, draws=300)


def test_what_a_run_without_a_weight_says_still_counts(marram: Study, plan: TrialPlan) -> None:
    rows = list(sheet(marram, plan))
    rows[-1] = filled(rows[-1], weight=None, capping_seen="yes")
    learned = learn(marram, tuple(rows), draws=300)
    name = plan.runs[-1].name
    assert not learned.left_blank
    assert learned.accepted[2].holds is False
    assert learned.accepted[2].why == f"capping in {name}"
    assert learned.accepted[1].holds is None
    assert learned.accepted[1].why == f"run {name} lacks weight or thickness"
    assert any(
        note.startswith(f"run {name} is left out of the fit: no weight;") for note in learned.notes
    )
    assert len(learned.study.lab.runs) == len(marram.lab.runs) + len(rows) - 1


def test_capping_nobody_looked_for_is_not_absent(marram: Study, plan: TrialPlan) -> None:
    rows = tuple(filled(row, capping_seen=None) for row in sheet(marram, plan))
    learned = learn(marram, rows, draws=300)
    assert learned.accepted[2].holds is None
    fast = next(run.name for run in plan.runs if run.rung.speed > plan.speed * 1.01)
    only_fast = tuple(
        filled(row, capping_seen="yes" if row.text("run") == fast else "no") for row in rows
    )
    learned = learn(marram, only_fast, draws=300)
    assert learned.accepted[2].holds is True
    assert any(f"capping above the asked speed: {fast} at" in note for note in learned.notes)


def test_a_mean_outside_the_sheet_s_own_limits_is_outside(marram: Study, plan: TrialPlan) -> None:
    """The limits that were fixed before decide, not those of a later fit."""
    rows = list(sheet(marram, plan))
    narrow = filled(rows[2], lowest_breaking_force=170.0, highest_breaking_force=171.0,
                    breaking_force=172.0)  # fmt: skip
    learned = learn(marram, (*rows[:2], narrow, *rows[3:]), draws=300)
    item = {each.measure: each for each in learned.results[2].compared}["breaking_force"]
    assert (item.lowest, item.highest, item.fixed) == (170.0, 171.0, True)
    assert not item.within
    moved_set = filled(narrow, force=(narrow.number("planned force") or 0.0) * 1.05)
    learned = learn(marram, (*rows[:2], moved_set, *rows[3:]), draws=300)
    item = {each.measure: each for each in learned.results[2].compared}["breaking_force"]
    assert not item.fixed
    assert item.highest > 175.0


def test_a_sheet_that_cannot_be_of_this_trial_is_refused(
    marram: Study, dunlin: Study, plan: TrialPlan
) -> None:
    rows = sheet(marram, plan)
    with pytest.raises(InputError, match='found a sheet of "Marram 400 mg, first transfer"'):
        learn(dunlin, rows, draws=300)
    with pytest.raises(InputError, match="run T3: found 2 rows; allowed: one row for each run"):
        learn(marram, (*rows, rows[2]), draws=300)
    taught = learn(marram, rows, draws=300).study
    with pytest.raises(InputError, match="run T1: found a run that the study has already"):
        learn(taught, rows, draws=300)


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"speed": 550.0}, "row 4, speed: found 550 rpm; allowed: 10 to 75 rpm, the range of"),
        ({"force": 60e3}, "row 4, force: found 60 kN; allowed: up to 38 kN, which tips and"),
        ({"breaking_force": 1700.0}, "row 4, breaking force: found 1.7 kN; allowed: within 3 ti"),
        ({"breaking_force": 17.0}, "row 4, breaking force: found 17 N; allowed: within 3 times"),
    ],
)
def test_values_no_press_or_tablet_can_have_are_refused(
    marram: Study, plan: TrialPlan, values: dict[str, Value], said: str
) -> None:
    rows = list(sheet(marram, plan))
    rows[2] = filled(rows[2], **values)
    with pytest.raises(InputError) as caught:
        learn(marram, tuple(rows), draws=300)
    assert said in str(caught.value)


def test_settings_can_be_set(plan: TrialPlan) -> None:
    for run in plan.runs:
        for value in (run.rung.force, run.rung.speed):
            assert value == float(f"{value:.3g}")


def test_the_new_settings_and_window_are_told(marram: Study, plan: TrialPlan) -> None:
    learned = learn(marram, sheet(marram, plan, feeder=0.9), draws=300)
    before = {item.match: item for item in learned.settings_before}
    now = {item.match: item for item in learned.findings.case.equivalents}
    assert before.keys() == now.keys()
    # Weaker tablets need more force for their strength, and no other solid fraction.
    strength = [each["strength"].settings.main_force.value or 0.0 for each in (before, now)]
    assert strength[1] > 1.05 * strength[0]
    assert learned.window.centre is not None
    edges = {edge.towards: edge for edge in learned.window.centre.edges}
    assert edges["less force"].limit == "tensile strength"
    assert edges["less force"].at == pytest.approx(strength[1], rel=0.05)


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
    taught = learn(marram, sheet(marram, plan), draws=300).study
    write_updated_study(taught, tmp_path / "next", "after the trial")
    again = read_study(tmp_path / "next")
    assert len(again.lab.runs) == len(taught.lab.runs)
    for one, two in zip(again.lab.runs, taught.lab.runs, strict=True):
        assert one.name == two.name
        assert one.press == two.press
        for name in ("force", "speed", "hold", "weight", "thickness", "breaking_force"):
            value = getattr(two, name)
            assert getattr(one, name) == (None if value is None else pytest.approx(value, rel=1e-6))
    assert {path: path.read_bytes() for path in (EXAMPLES / "marram").iterdir()} == before
    with pytest.raises(InputError, match="a folder that exists"):
        write_updated_study(taught, tmp_path / "next", "again")


def test_the_example_sheet_runs_the_whole_circle(marram: Study) -> None:
    rows = read_trial_sheet(EXAMPLES / "marram" / "trial-sheet.csv", "trial-sheet.csv")
    learned = learn(marram, rows, draws=300)
    assert learned.left_blank == ("T7",)
    assert len(learned.results) == len(rows) - 1
    assert {item.holds for item in learned.accepted} == {True, False}


def test_a_second_trial_has_names_of_its_own(marram: Study, plan: TrialPlan) -> None:
    taught = learn(marram, sheet(marram, plan), draws=300).study
    again = plan_trial(taught, draws=300)
    first, last = len(plan.runs) + 1, len(plan.runs) + len(again.runs)
    assert [run.name for run in again.runs] == [f"T{number}" for number in range(first, last + 1)]
    own = replace(marram.lab.runs[0], name="T7")
    named = replace(marram, lab=replace(marram.lab, runs=(*marram.lab.runs, own)))
    assert plan_trial(named, draws=300).runs[0].name == "T8"
    # A sheet made by hand with the old names, but other tablets.
    rows = tuple(filled(row, weight=401.0) for row in sheet(marram, plan))
    with pytest.raises(InputError, match="run T1: found a run that the study has already"):
        learn(taught, rows, draws=300)


def test_a_trial_is_judged_at_the_speed_it_was_planned_for(marram: Study) -> None:
    """Planned at 60 rpm for a study that asks about 45: capping at the end run is in the rule."""
    faster = replace(marram, production=replace(marram.production, speed=60.0))
    plan = plan_trial(faster, draws=300)
    rows = list(sheet(marram, plan))
    rows[-1] = filled(rows[-1], capping_seen="yes")
    learned = learn(marram, tuple(rows), draws=300)
    assert plan.runs[-1].rung.speed == 60.0
    assert learned.accepted[2].holds is False
    assert learned.accepted[2].why == f"capping in {plan.runs[-1].name}"
    assert learned.window.speed == 60.0
    rows[-1] = filled(rows[-1], planned_speed=45.0)
    with pytest.raises(InputError, match="planned speed: found 45 rpm and 60 rpm"):
        learn(marram, tuple(rows), draws=300)


def test_limits_of_another_precompression_are_not_the_sheet_s(
    marram: Study, plan: TrialPlan
) -> None:
    rows = list(sheet(marram, plan))
    force = rows[2].number("planned force") or 0.0
    asked = rows[2].number("planned precompression") or 0.0

    def fixed(pre: float) -> set[bool]:
        changed = [*rows[:2], filled(rows[2], precompression=pre), *rows[3:]]
        found = learn(marram, tuple(changed), draws=300).results[2].compared
        return {item.fixed for item in found if item.measure != "solid_fraction"}

    assert fixed(asked + 0.01 * force) == {True}
    assert fixed(asked + 0.3 * force) == {False}


def test_a_study_without_a_strength_target_is_judged_by_its_solid_fraction(
    marram: Study, changed: Change, plan: TrialPlan
) -> None:
    bare = changed(marram, target={"strength": None})
    rule = plan_trial(bare, draws=300).acceptance[1]
    assert rule == "The tablet is met if the solid fraction of the end run is 80 % to 90 %."
    met = learn(bare, sheet(marram, plan), draws=300).accepted[1]
    assert met.holds is True
    assert "solid fraction" in met.why
    assert "strength" not in met.why
    rows = list(sheet(marram, plan))
    thick = 1.2 * (rows[-1].number("thickness") or 0.0)
    rows[-1] = filled(rows[-1], thickness=thick)
    assert learn(bare, tuple(rows), draws=300).accepted[1].holds is False
