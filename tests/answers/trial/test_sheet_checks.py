"""The sheet belongs to its plan, and the plan to its study."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from scaleup.answers.functions import learn
from scaleup.answers.trial.plan import TrialPlan
from scaleup.answers.trial.planned_rows import record_of
from scaleup.errors import InputError
from scaleup.io.trial_record import read_trial_record, record_text
from scaleup.model.study import Study
from tests.answers.trial.simulated_trial import Put, sheet, with_rows

Change = Callable[..., Study]


def test_edited_limits_are_refused_and_named(marram: Study, plan: TrialPlan) -> None:
    """Limits widened in the workbook would let every mean pass."""
    made = sheet(marram, plan)
    edited = with_rows(made, T2={"lowest_breaking_force": 10.0, "highest_breaking_force": 400.0})
    with pytest.raises(InputError) as caught:
        learn(marram, edited, draws=300)
    told = str(caught.value)
    assert "lowest breaking force: found 10.0 N; allowed: " in told
    assert "highest breaking force: found 400.0 N" in told
    assert ", as planned" in told


@pytest.mark.slow
def test_numbers_as_a_sheet_rounds_them_are_the_plan_s(marram: Study, plan: TrialPlan) -> None:
    made = sheet(marram, plan)
    first = made.rows[0]
    rounded = {
        name.replace(" ", "_"): float(f"{value:.5g}")
        for name, value in first.values.items()
        if isinstance(value, float) and name.startswith(("lowest", "highest", "predicted"))
    }
    assert learn(marram, with_rows(made, T1=rounded), draws=300).results


def test_a_blanked_planned_cell_is_refused(marram: Study, plan: TrialPlan) -> None:
    made = with_rows(sheet(marram, plan), T1={"highest_thickness": None})
    with pytest.raises(InputError, match="highest thickness: found a blank cell"):
        learn(marram, made, draws=300)


def test_a_sheet_of_another_plan_is_refused(marram: Study, plan: TrialPlan) -> None:
    other = replace(record_of(plan), date="2026-03-15")
    with pytest.raises(InputError, match=r"found a sheet of plan .*; allowed: the sheet of plan"):
        learn(marram, replace(sheet(marram, plan), plan=other), draws=300)


def test_another_weight_or_density_is_refused(
    marram: Study, changed: Change, plan: TrialPlan
) -> None:
    made = sheet(marram, plan)
    with pytest.raises(InputError, match="target weight: found a trial planned for 402 mg"):
        learn(changed(marram, target={"weight": 450.0}), made, draws=300)
    blend = replace(marram.blend, stated_true_density=1.02 * marram.blend.true_density)
    with pytest.raises(InputError, match="true density: found a trial planned with"):
        learn(replace(marram, blend=blend), made, draws=300)


@pytest.mark.slow
def test_a_changed_target_is_told_and_the_planned_one_decides(
    marram: Study, changed: Change, plan: TrialPlan
) -> None:
    made = sheet(marram, plan, Put(feeder=0.95))
    easier = changed(marram, target={"strength": 0.5})
    learned = learn(easier, made, draws=300)
    assert "The study now asks for tensile strength of 0.5 MPa" in str(learned.changed[0])
    tablet = learned.accepted[2]
    assert "against 2 MPa" in str(tablet.why)
    harder = learn(changed(marram, target={"strength": 3.5}), made, draws=300)
    assert harder.accepted[2].holds == tablet.holds


@pytest.mark.slow
def test_without_the_plan_nothing_is_said_to_be_as_planned(marram: Study, plan: TrialPlan) -> None:
    learned = learn(marram, replace(sheet(marram, plan), plan=None), draws=300)
    assert learned.plan is None
    assert learned.changed == ()


@pytest.mark.slow
def test_files_that_changed_since_are_told(marram: Study, plan: TrialPlan) -> None:
    other = replace(marram, inputs=tuple((file, "0" * 64) for file, _ in marram.inputs))
    told = learn(other, sheet(marram, plan), draws=300).changed
    assert any("Changed since the plan was made: " in str(each) for each in told)


def test_a_record_is_read_back_and_held_to_its_hash(plan: TrialPlan, tmp_path: Path) -> None:
    record = record_of(plan)
    file = tmp_path / "trial-plan.json"
    file.write_text(record_text(record), encoding="utf-8")
    assert read_trial_record(file) == record
    content = json.loads(file.read_text(encoding="utf-8"))
    content["bound"] = 0.5
    file.write_text(json.dumps(content), encoding="utf-8")
    with pytest.raises(InputError, match=r"trial-plan.json: plan: found content whose hash is"):
        read_trial_record(file)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("{", "no JSON"),
        ("[]", 'no "format"'),
        ('{"format": "scaleup trial record 1"}', 'the key "bound" missing or unknown'),
    ],
)
def test_what_is_no_record_is_refused(text: str, found: str, tmp_path: Path) -> None:
    (tmp_path / "plan.json").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=found):
        read_trial_record(tmp_path / "plan.json")


def test_the_same_inputs_give_the_same_record(marram: Study, plan: TrialPlan) -> None:
    from scaleup.answers.functions import plan_trial  # noqa: PLC0415

    again = plan_trial(marram, draws=400)
    assert record_text(record_of(again)) == record_text(record_of(plan))
    assert record_of(plan_trial(marram, draws=400, seed=2)).hash != record_of(plan).hash
