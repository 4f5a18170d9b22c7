"""What a band is made of, at fixed widths: what each term rests on, what a site cannot do."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from rich.console import Console

from scaleup.answers.analysis import Analysis
from scaleup.answers.budget import BudgetAnswer
from scaleup.io.study import read_study
from scaleup.model.experiments import Cost, Experiments
from scaleup.model.study import Study
from scaleup.model.transfer_terms import NOTHING_STATED
from scaleup.show.budget import show_budget
from scaleup.show.judgement import show_judgement

EXAMPLES = Path(__file__).parents[2] / "examples"


def plover() -> Study:
    return read_study(EXAMPLES / "plover")


def without_its_terms() -> Study:
    """Return plover with neither its table [transfer] nor the columns that measure terms."""
    study = plover()
    runs = tuple(
        replace(run, batch="", revolutions=None, lower_punch_force=None) for run in study.lab.runs
    )
    return replace(study, transfer=NOTHING_STATED, lab=replace(study.lab, runs=runs))


@cache
def budget(stated: bool = True) -> BudgetAnswer:
    return Analysis(plover() if stated else without_its_terms(), draws=400).budget()


def screen(found: BudgetAnswer, width: int) -> str:
    console = Console(file=io.StringIO(), width=width, color_system=None)
    show_budget(console, found)
    text: str = console.file.getvalue()  # type: ignore[attr-defined]
    return text


def on_one_line(text: str) -> str:
    return " ".join(text.split())


def test_a_site_that_measured_its_terms_has_half_the_band_of_strength() -> None:
    widths = []
    for found in (budget(), budget(stated=False)):
        strength = found.figures["strength"]
        assert strength.low is not None
        assert strength.high is not None
        widths.append(strength.high - strength.low)
    assert 0.4 < widths[0] / widths[1] < 0.65


def test_every_term_of_the_site_is_measured_and_none_without_its_columns() -> None:
    graded = {row.term: row.evidence for row in budget().rows}
    assert set(graded.values()) == {"measured"}
    assert "testers" not in graded  # one tester on both sides
    bare = {row.term: row.evidence for row in budget(stated=False).rows}
    assert {bare[each] for each in ("shear", "friction", "testers", "readings")} == {"assumed"}
    assert bare["lot"] == "borrowed"
    assert bare["gauges"] == "measured"  # its profiles state their accuracy


@pytest.mark.parametrize("width", [80, 160])
def test_the_screen_says_what_each_term_rests_on(width: int) -> None:
    found = budget()
    text = on_one_line(screen(found, width))
    assert "what each term rests on" in text
    if width == 160:
        for row in found.rows:
            first_words = " ".join(str(row.told).split()[:4])
            assert f"{row.label} {first_words}" in text
    assert max(map(len, screen(found, width).splitlines())) <= width


def test_strength_and_pressure_of_batches_each_name_their_source() -> None:
    told = next(str(row.told) for row in budget().rows if row.term == "lot")
    assert "(3 batches of runs), pressure ±1.0 % (as the study states)" in told
    bare = next(str(row.told) for row in budget(stated=False).rows if row.term == "lot")
    assert bare.startswith("strength ±7.0 % (published batches), pressure ±3.0 % (assumed)")


def test_what_a_site_cannot_do_is_neither_ranked_nor_hidden() -> None:
    lines = on_one_line(screen(budget(), 160))
    assert "not possible here, as the study states: a run of one batch on the production" in lines
    assert "trial_run" not in {each.name for each in budget().experiments}
    able = Experiments(trial_run=Cost(possible=True))
    open_ = Analysis(replace(plover(), experiments=able), draws=300).budget()
    assert "trial_run" in {each.name for each in open_.experiments}
    assert "not possible here" not in screen(open_, 160)


def test_a_stated_cost_is_the_one_shown() -> None:
    assert "6 tablets, 8 kg, 6 h" in on_one_line(screen(budget(), 160))


def test_judge_does_not_lay_the_spread_of_batches_to_the_dwell() -> None:
    """Most of plover's band is the spread of batches, which is no matter of the lab's dwell."""
    console = Console(file=io.StringIO(), width=160, color_system=None)
    show_judgement(console, Analysis(plover(), draws=300).judge())
    text = on_one_line(console.file.getvalue())  # type: ignore[attr-defined]
    assert "beyond the shortest dwell of this lab press" not in text
    assert budget().of("needed force")[0].term == "lot"


def test_a_term_that_is_the_same_on_both_sides_or_left_out_is_told_with_its_reason() -> None:
    """plover breaks all tablets with one tester: that term takes nothing, and why is told."""
    found = budget()
    assert [term.name for term in found.without if term.grade == "cancels"] == ["testers"]
    reason = str(next(term.told for term in found.without if term.name == "testers"))
    assert " ".join(reason.split()) in on_one_line(screen(found, 160))


def test_lab_runs_are_told_by_tablets_and_force() -> None:
    found = Analysis(read_study(EXAMPLES / "marram"), draws=300).budget()
    told = next(str(each.told) for each in found.experiments if each.name == "lab_runs")
    assert re.fullmatch(r"\d+ lab tablets at [\d.]+ kN, as scaleup judge tells", told)


def test_lab_runs_that_a_site_cannot_make_are_told() -> None:
    study = replace(plover(), experiments=Experiments(lab_runs=Cost(possible=False)))
    able = Analysis(study, draws=300).budget()
    assert "lab_runs" not in {each.name for each in able.experiments}
    assert "not possible here, as the study states: lab runs" in on_one_line(screen(able, 160))
