"""A plan on a terminal, as JSON and as the files of its sheet."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from rich.console import Console

from scaleup import Analysis, __version__
from scaleup.answers.trial.options import TrialOptions
from scaleup.answers.trial.plan import TrialPlan
from scaleup.answers.trial.planned_rows import record_of
from scaleup.io.trial_sheet.reading import read_trial_sheet
from scaleup.model.study import Study
from scaleup.show.json_form import json_text
from scaleup.show.trial_plan import (
    plan_csv,
    plan_form,
    plan_record,
    plan_samples_csv,
    plan_tablets_csv,
    plan_xlsx,
    show_plan,
)

OPTIONS = TrialOptions(date="2026-03-14", command="scaleup trial plan marram")


@pytest.fixture(scope="module")
def plan(marram: Study) -> TrialPlan:
    return Analysis(marram, draws=200).plan_trial(OPTIONS)


@pytest.fixture(scope="module")
def withheld(sedge: Study) -> TrialPlan:
    return Analysis(sedge, draws=200).plan_trial(OPTIONS)


def screen(plan: TrialPlan, width: int) -> str:
    out = io.StringIO()
    show_plan(Console(file=out, width=width), plan)
    return out.getvalue()


@pytest.mark.parametrize("width", [80, 160])
def test_a_trial_that_is_withheld_says_what_must_be_true_first(
    withheld: TrialPlan, width: int
) -> None:
    told = " ".join(screen(withheld, width).split())
    assert "No trial is planned." in told
    assert "What must be true first: -" in told
    for text in withheld.withheld:
        assert f"- {text}" in told
    for each in withheld.first:
        assert f"- {each.told} ({each.cost.told})" in told
    assert "Powder about" not in told
    assert "stop the run on" not in told
    assert all(len(line) <= width for line in screen(withheld, width).splitlines())


@pytest.mark.parametrize("width", [80, 160])
def test_a_planned_trial_is_told_with_its_stops_and_its_hash(plan: TrialPlan, width: int) -> None:
    told = " ".join(screen(plan, width).split())
    assert "No trial is planned" not in told
    for text in (*plan.reasons, *plan.stop_rules):
        assert f"- {text}" in told
    assert f"plan {record_of(plan).short_hash}" in told
    assert all(len(line) <= width for line in screen(plan, width).splitlines())


def test_the_json_has_what_the_plan_fixes(plan: TrialPlan) -> None:
    form = json.loads(json_text(plan_form(plan)))
    assert form["planned"] is True
    assert (form["withheld"], form["first"]) == ([], [])
    assert form["plan"] == record_of(plan).hash
    assert form["stops"]["force"]["value"] == plan.stops.force
    assert form["stops"]["breaking_force"]["unit"] == "N"
    assert form["weight"]["value"] == plan.weight
    limits = form["weight_limits"]
    assert (limits["low"], limits["high"]) == plan.weight_limits
    for run, told in zip(plan.runs, form["runs"], strict=True):
        assert told["block"] == run.rung.block
        assert told["start"] == {"value": run.start, "unit": "s", "low": run.start,
                                 "high": run.start}  # fmt: skip
        pre = told["settings"]["precompression_force"]["value"]
        assert pre == pytest.approx(run.rung.force * run.rung.pre_share)
        assert told["settings"]["fill_depth"]["value"] == run.settings.fill_depth.value


def test_the_json_of_a_withheld_plan(withheld: TrialPlan) -> None:
    form = json.loads(json_text(plan_form(withheld)))
    assert form["planned"] is False
    assert form["runs"] == []
    assert form["withheld"] == [str(text) for text in withheld.withheld]
    assert [each["told"] for each in form["first"]] == [str(each.told) for each in withheld.first]
    for told, each in zip(form["first"], withheld.first, strict=True):
        assert told["cost"] == each.cost.told
        assert told["narrower"]["needed_force"] == each.narrower["needed force"]


def test_every_csv_says_which_plan_it_is_of(plan: TrialPlan) -> None:
    for text in (plan_csv(plan), plan_samples_csv(plan), plan_tablets_csv(plan)):
        head = [line for line in text.splitlines() if line.startswith("#")]
        for fact in (f"plan: {record_of(plan).short_hash}", f"scaleup: {__version__}", "seed: 1",
                     "date of the plan: 2026-03-14",
                     "command: scaleup trial plan marram"):  # fmt: skip
            assert f"# {fact}" in head


@pytest.mark.parametrize("suffix", [".csv", ".xlsx"])
def test_the_files_of_a_plan_are_read_back_with_it(
    tmp_path: Path, plan: TrialPlan, suffix: str
) -> None:
    (tmp_path / "trial-sheet.csv").write_text(plan_csv(plan), encoding="utf-8")
    (tmp_path / "trial-samples.csv").write_text(plan_samples_csv(plan), encoding="utf-8")
    (tmp_path / "trial-tablets.csv").write_text(plan_tablets_csv(plan), encoding="utf-8")
    (tmp_path / "trial-sheet.xlsx").write_bytes(plan_xlsx(plan))
    (tmp_path / "trial-plan.json").write_text(plan_record(plan), encoding="utf-8")
    sheet = read_trial_sheet(tmp_path / f"trial-sheet{suffix}")
    assert sheet.plan == record_of(plan)
    assert [row.text("run") for row in sheet.rows] == [run.name for run in plan.runs]
    for row, run in zip(sheet.rows, plan.runs, strict=True):
        assert row.number("planned force") == pytest.approx(run.rung.force, rel=1e-4)
        assert row.number("weight") is None
    assert (sheet.samples, sheet.tablets) == ((), ())  # nothing is filled in yet


def test_the_workbook_is_the_same_twice_and_names_its_plan(plan: TrialPlan) -> None:
    data = plan_xlsx(plan)
    assert plan_xlsx(plan) == data
    book: Any = load_workbook(io.BytesIO(data))
    facts = (record_of(plan).short_hash, __version__, "seed 1", "2026-03-14", plan.study.name)
    for sheet in book.worksheets:
        assert all(fact in sheet.oddFooter.left.text for fact in facts)
    record = {row[0].value: row[1].value for row in book["record"].iter_rows()}
    assert record["whole hash of the plan (SHA-256)"] == record_of(plan).hash
    assert record["command"] == "scaleup trial plan marram"
    assert record["blend batch"] is None
    lines = [row[0].value.strip() for row in book["plan"].iter_rows()]
    for text in (*plan.stop_rules, *plan.instructions, *plan.reasons, *plan.acceptance):
        assert str(text) in lines
