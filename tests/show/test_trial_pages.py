"""The pages of a trial: what stands on which sheet, and that every sheet says what it is of."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest
from openpyxl import load_workbook

from scaleup import Analysis, __version__, read_study
from scaleup.answers.trial.design import AT_CENTRE
from scaleup.answers.trial.documents import BETWEEN, START_UP, STOP_AND_RESTART
from scaleup.answers.trial.options import TrialOptions
from scaleup.answers.trial.plan import TrialPlan
from scaleup.answers.trial.planned_rows import record_of
from scaleup.model.defects import ON_TABLETS
from scaleup.model.study import Study
from scaleup.show.trial_page_parts import LETTERS, flowed, listing
from scaleup.show.trial_pages import plan_page
from scaleup.show.trial_plan import plan_xlsx
from scaleup.show.trial_words import without_source

EXAMPLES = Path(__file__).parents[2] / "examples"
COMMAND = "scaleup trial plan examples/marram"
Change = Callable[..., Study]


def planned(study: Study, tablets: int | None = None) -> TrialPlan:
    options = TrialOptions(tablets, date="2026-03-14", command=COMMAND)
    return Analysis(study, draws=200).plan_trial(options)


@pytest.fixture(scope="module")
def plan(marram: Study) -> TrialPlan:
    return planned(marram)


@pytest.fixture(scope="module")
def sheets(plan: TrialPlan) -> list[str]:
    return sheets_of(plan_page(plan))


def sheets_of(page: str) -> list[str]:
    """Return the text of every sheet, a space between its cells."""
    return [text_of(each) for each in page.split('<section class="sheet">')[1:]]


def text_of(html: str) -> str:
    text = unescape(re.sub(r"<[^>]*>", " ", html)).replace("\N{SOFT HYPHEN}", "")
    return " ".join(text.split())


def of_run(sheets: list[str], name: str) -> str:
    (found,) = (each for each in sheets if each.startswith(f"{name} "))
    return found


def test_every_sheet_says_what_it_was_made_from(plan: TrialPlan, sheets: list[str]) -> None:
    facts = (plan.study.name, f"plan {record_of(plan).short_hash}", "2026-03-14", COMMAND,
             f"scaleup {__version__}", "seed 1", "200 draws")  # fmt: skip
    for number, sheet in enumerate(sheets, start=1):
        assert sheet.endswith(f"page {number} of {len(sheets)}")
        for fact in facts:
            assert fact in sheet, (number, fact)
    whole = [record_of(plan).hash, *(digest for _, digest in plan.study.inputs)]
    for digest in whole:
        assert sum(digest in sheet for sheet in sheets) == 1
        assert digest in sheets[-1]


def test_the_first_sheet_has_blanks_for_what_only_the_press_room_knows(
    plan: TrialPlan, sheets: list[str]
) -> None:
    for name in ("blend batch", "press number", "tooling number", "balance number",
                 "thickness gauge number", "breaking force tester number",
                 "friability drum number", "room", "date of the trial"):  # fmt: skip
        assert f"<dt>{name}</dt><dd></dd>" in plan_page(plan)
    for text in (*plan.stop_rules, *plan.instructions, plan.objective, plan.caution):
        assert str(text) in sheets[0]
    low, high = plan.weight_limits
    assert f"a single tablet {low:.1f} to {high:.1f} mg" in sheets[0]


def test_all_runs_stand_in_one_table_in_order(plan: TrialPlan, sheets: list[str]) -> None:
    names = re.findall(r"\bT\d+\b", sheets[1])
    assert names == [run.name for run in plan.runs]
    for text in (*plan.reasons, *plan.acceptance):
        assert str(text) in sheets[1]
    assert "Powder about" in sheets[1]


def test_the_set_up_has_the_centre_and_the_inspection(
    plan: TrialPlan, sheets: list[str], marram: Study, changed: Change
) -> None:
    sheet = sheets[2]
    centre = next(run for run in plan.runs if run.rung.purpose in AT_CENTRE)
    assert f"main force, kN {centre.rung.force / 1e3:.3g}" in sheet
    for word in ("punch tips", "punch heads", "length record", "dies", "cam tracks", "lubrication",
                 "keys", "guards and interlocks", "emergency stop", "signature", "remarks",
                 "local codes", "Lock the press out"):  # fmt: skip
        assert word in sheet
    assert f"set to {plan.stops.force / 1e3:.3g} kN or less" in sheet
    assert "upper punch penetration, mm 4 (press profile)" in sheet
    bare = sheets_of(plan_page(planned(changed(marram, press={"penetration": None}))))
    assert "penetration" not in bare[2]


def test_every_run_has_one_sheet_with_its_own_settings(plan: TrialPlan, sheets: list[str]) -> None:
    pages = [of_run(sheets, run.name) for run in plan.runs]
    for run, page in zip(plan.runs, pages, strict=True):
        pre = run.rung.force * run.rung.pre_share / 1e3
        told = [
            f"{run.rung.speed:.3g}",
            f"{run.rung.force / 1e3:.3g}",
            f"{pre:.3g}" if pre else "none",
            f"{run.settings.fill_depth.value:.2f}",
            f"{run.settings.tip_separation.value:.2f}",
        ]
        assert f"planned {' '.join(told)}" in page
        force = run.action["breaking_force"]
        assert f"{force.low:.3g}–{force.high:.3g}" in page
        assert f"below {plan.stops.breaking_force:.3g}" in page
        assert f"above {plan.stops.force / 1e3:.3g}" in page
        assert all(name in page for name in ON_TABLETS)
        for word in ("hopper level %", "temperature °C", "humidity %", "SD", "friability %",
                     "done by", "checked by", "Stops, deviations"):  # fmt: skip
            assert word in page
    assert len({page.split("planned ")[2] for page in pages}) > 4  # settings differ


def test_a_run_says_what_its_purpose_asks_for(plan: TrialPlan) -> None:
    climb = replace(plan.runs[1], rung=replace(plan.runs[1].rung, purpose="climb"))
    gate = "The force climbs. Gate: go on only if every mean lies within its limits."
    whole = replace(
        plan, runs=(climb, *plan.runs[:1], *plan.runs[2:]), instructions=(gate, *plan.instructions)
    )
    sheets = sheets_of(plan_page(whole))
    asked = {"climb": gate, "start-up": START_UP, "stop and restart": STOP_AND_RESTART,
             "end": BETWEEN}  # fmt: skip
    seen = set()
    for run in whole.runs:
        page = of_run(sheets, run.name)
        for purpose, text in asked.items():
            assert (text in page) is (text == asked.get(run.rung.purpose)), (run.name, purpose)
        seen.add(run.rung.purpose)
    assert set(asked) <= seen


def test_tablets_without_room_go_on_the_tablets_sheet(plan: TrialPlan) -> None:
    def with_tablets(count: int) -> str:
        run = replace(plan.runs[0], tablets=count)
        return of_run(sheets_of(plan_page(replace(plan, runs=(run,)))), run.name)

    assert "more go on" not in with_tablets(18)
    page = with_tablets(19)
    assert "1 more go on the tablets sheet" in page
    numbers = re.findall(r"(?<=force N )[\d ]+(?= )", page)
    assert [len(each.split()) for each in numbers] == [6, 6, 6]


@pytest.mark.parametrize("name", ["marram", "dunlin", "bracken"])
def test_no_document_tells_a_source_that_it_lacks(name: str) -> None:
    plan = planned(read_study(EXAMPLES / name))
    book = load_workbook(io.BytesIO(plan_xlsx(plan)))
    cells = [str(cell.value) for sheet in book for row in sheet.iter_rows() for cell in row]
    for told in (text_of(plan_page(plan)), " ".join(cells)):
        assert "usual of a lubricated blend" in told
        assert "from memory" not in told


def test_a_value_is_told_without_its_source() -> None:
    assert without_source("a, cited from memory.") == "a."
    assert without_source("0.05 (usual of a blend, from memory)") == "0.05 (usual of a blend)"
    assert without_source("2 to 8 % (from memory); b") == "2 to 8 %; b"


def test_a_trial_that_is_not_planned_is_one_sheet_of_what_to_do_first(sedge: Study) -> None:
    plan = planned(sedge)
    (sheet,) = sheets_of(plan_page(plan))
    assert "No trial is planned" in sheet
    for text in (*plan.withheld, *(each.told for each in plan.first)):
        assert str(text) in sheet


def test_long_lists_go_on_over_sheets_and_nothing_is_lost() -> None:
    texts = [f"{number}: {'x' * (3 * LETTERS - 10)}" for number in range(40)]
    pages = list(flowed("Notes", listing("Taken for granted", texts)))
    assert [page.told for page in pages] == ["", *["continued"] * (len(pages) - 1)]
    assert len(pages) == 3
    whole = "".join(part for page in pages for part in page.parts)
    assert re.findall(r"<li>(\d+):", whole) == [str(number) for number in range(40)]


def test_a_study_s_name_is_text_on_every_sheet(plan: TrialPlan, marram: Study) -> None:
    named = replace(marram, name="<script>alert(1)</script> & Co")
    page = plan_page(planned(named))
    assert "<script>" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; Co" in page
    assert "http" not in page


def test_a_command_that_is_long_is_whole_on_the_last_sheet_alone(plan: TrialPlan) -> None:
    command = f"scaleup trial plan {'a' * 300}"
    long = replace(plan, options=replace(plan.options, command=command))
    sheets = sheets_of(plan_page(long))
    assert [command in sheet for sheet in sheets] == [*[False] * (len(sheets) - 1), True]
    assert all(f"{command[:90]}" in sheet for sheet in sheets)
