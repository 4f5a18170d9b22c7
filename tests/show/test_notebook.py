"""What a notebook shows of every answer: its HTML, its table, its picture."""

from __future__ import annotations

import csv
import io
from html import unescape
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import matplotlib as mpl
import pint
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from pandas import DataFrame
from pandas.api.types import is_bool_dtype, is_numeric_dtype

import scaleup
from scaleup.errors import InputError
from scaleup.model.estimate import Estimate, exactly, unavailable
from scaleup.show.notebook import ANSWERS, frame_of
from scaleup.shown import Drawn, Shown

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = [
    "Translation", "Judgement", "BudgetAnswer", "SpeedCheck", "Comparison", "Window", "Imitation",
    "TrialPlan",
    "Learned", "Fit", "Study",
]  # fmt: skip
OPEN = {"br"}
"""Elements that are never closed."""


@pytest.fixture(scope="module")
def answers() -> dict[str, Any]:
    """Return every answer, of few draws."""
    study = scaleup.read_study(EXAMPLES / "marram")
    analysis = scaleup.Analysis(study, draws=200)
    rows = scaleup.read_trial_sheet(EXAMPLES / "marram" / "trial-sheet.csv", "the sheet")
    fescue = scaleup.read_study(EXAMPLES / "fescue")
    every = [
        analysis.translate(),
        analysis.judge(),
        analysis.budget(),
        analysis.speed(at=55.0, speeds=[20.0, 40.0, 75.0]),
        analysis.compare(["rotary-mid-19", "rotary-pilot-7"]),
        analysis.window((8, 6)),
        scaleup.Analysis(fescue, draws=200).imitate("P2"),
        analysis.plan_trial(),
        analysis.learn(rows),
        analysis.fit,
        study,
    ]
    return {type(answer).__name__: answer for answer in every}


class Elements(HTMLParser):
    """Holds whether the elements of a text are closed as they were opened."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.inside: list[str] = []
        self.seen: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: object) -> None:  # noqa: ARG002  the base's form
        self.seen.append(tag)
        if tag not in OPEN:
            self.inside.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.inside.pop() == tag


def test_every_answer_is_known_to_the_notebook(answers: dict[str, Any]) -> None:
    assert list(answers) == NAMES
    assert {kind.__name__ for kind in ANSWERS} == set(NAMES)
    for answer in answers.values():
        assert isinstance(answer, Shown)


@pytest.mark.parametrize("name", NAMES)
def test_an_answer_is_whole_html(answers: dict[str, Any], name: str) -> None:
    page = answers[name]._repr_html_()
    elements = Elements(page)
    assert elements.inside == []
    assert "table" in elements.seen
    assert "nan" not in page
    study = answers[name] if name == "Study" else getattr(answers[name], "study", None)
    if study is not None:
        assert study.name in unescape(page)
    caution = getattr(answers[name], "caution", "")
    assert caution in unescape(page)
    assert len(repr(answers[name])) <= 400


def test_the_html_tells_what_the_answer_holds(answers: dict[str, Any]) -> None:
    speed, compared = answers["SpeedCheck"], answers["Comparison"]
    told = " ".join(unescape(speed._repr_html_()).replace("\xa0", " ").split())
    assert speed.answer in told
    for reason in speed.reasons:
        assert str(reason) in told
    for margin in speed.point.at_lab_pressure.margins:
        assert margin.limit.label in told
    for each in compared.candidates:
        assert each.production.press.id in compared._repr_html_()
    for risk in speed.risks:
        assert str(risk.message) in told


@pytest.mark.parametrize("name", NAMES)
def test_the_frame_is_what_a_csv_file_gets(answers: dict[str, Any], name: str) -> None:
    frame = answers[name].to_frame()
    assert isinstance(frame, DataFrame)
    head, *lines = csv.reader(io.StringIO(frame_of(answers[name]).csv()))
    assert list(frame.columns) == head
    assert len(frame) == len(lines) > 0
    for place, heading in enumerate(head):
        cells = [line[place] for line in lines]
        if heading in {"value", "low", "high"} or heading.endswith("]"):
            assert is_numeric_dtype(frame[heading]), heading
            told = [float(cell) if cell else None for cell in cells]
            held = [None if value != value else float(value) for value in frame[heading]]  # noqa: PLR0124
            assert held == told
        elif is_bool_dtype(frame[heading]):
            assert cells == ["yes" if value else "no" for value in frame[heading]]


def test_a_frame_holds_the_figures_of_its_answer(answers: dict[str, Any]) -> None:
    translation = answers["Translation"].to_frame()
    force = answers["Translation"].equivalent("solid-fraction").settings.main_force
    row = translation.query("match == 'solid-fraction' and quantity == 'main_force'").iloc[0]
    assert (row["value"], row["low"], row["high"], row["unit"]) == (
        force.value, force.low, force.high, "N",
    )  # fmt: skip
    compared = answers["Comparison"]
    assert list(compared.to_frame()["output [1/h]"]) == [
        each.output.value for each in compared.candidates
    ]
    grid = answers["Window"].grid
    window = answers["Window"].to_frame()
    assert window["share_within_limits"].to_list() == grid.together.ravel().tolist()
    runs = answers["Study"].to_frame()
    assert runs["force [N]"].to_list() == [run.force for run in answers["Study"].lab.runs]
    fit = answers["Fit"].to_frame()
    assert len(fit) == len(answers["Fit"].runs)


@pytest.mark.parametrize(
    "name", [name for name in NAMES if name not in {"Imitation", "TrialPlan", "Learned", "Study"}]
)
def test_a_picture_is_drawn_into_given_axes(answers: dict[str, Any], name: str) -> None:
    answer = answers[name]
    assert isinstance(answer, Drawn)
    axes = Figure().add_subplot()
    assert answer.plot(axes) is axes
    assert axes.get_title()
    assert axes.get_xlabel()
    assert axes.has_data()


def test_a_picture_makes_its_own_axes(answers: dict[str, Any]) -> None:
    before = mpl.rcParams["backend"]
    mpl.use("Agg")
    try:
        from matplotlib import pyplot as plt  # noqa: PLC0415

        axes = answers["Comparison"].plot()
        assert isinstance(axes, Axes)
        widths = sorted(patch.get_width() for patch in axes.patches)  # type: ignore[attr-defined]
        outputs = sorted(each.output.value / 1e3 for each in answers["Comparison"].candidates)
        assert widths == outputs
        plt.close("all")
    finally:
        mpl.use(before)


def test_where_there_is_no_fit_table_and_picture_say_so() -> None:
    runs = DataFrame(
        {"run": ["A"], "force [kN]": [8.0], "weight [mg]": [400.0], "thickness [mm]": [4.2]}
    )
    study = scaleup.study_from(
        runs, blend=1.54, lab=("lab-hydraulic", "lab-flat-10"),
        production=("rotary-mid-19", "b-flat-10", "45 rpm"),
    )  # fmt: skip
    analysis = scaleup.Analysis(study, draws=200)
    for answer in (analysis.translate(), analysis.judge(), analysis.speed(), analysis.window()):
        axes = Figure().add_subplot()
        answer.plot(axes)
        assert axes.texts[0].get_text().startswith("not available: ")
        assert "not" in answer._repr_html_()
        assert isinstance(answer.to_frame(), DataFrame)


FORCE = Estimate(12027.0, "N", 11000.0, 13000.0)


@pytest.mark.parametrize(
    ("estimate", "how", "told"),
    [
        (FORCE, "", "12.0 (11.0–13.0) kN"),
        (FORCE, "kN", "12.0 (11.0–13.0) kN"),
        (FORCE, "N", "12027 (11000–13000) N"),
        (FORCE, "kgf", "1226 (1122–1326) kgf"),
        (FORCE, ".3f kN", "12.027 (11.000–13.000) kN"),
        (FORCE, ".1f", "12.0 (11.0–13.0) kN"),
        (exactly(45.0, "rpm"), "", "45 rpm"),
        (Estimate(0.123, "1", 0.1, 0.15), "%", "12.3 (10.0–15.0) %"),
        (Estimate(0.853, "1", 0.84, 0.86), ".2f", "0.85 (0.84–0.86)"),
        (unavailable("mm", "no fill depth"), "mm", "not available: no fill depth"),
        (Estimate(3.2, "MPa", reason="one run: no band"), "", "3.2 MPa"),
    ],
)
def test_an_estimate_formats_itself(estimate: Estimate, how: str, told: str) -> None:
    assert format(estimate, how) == told
    if not how:
        assert str(estimate) == f"{estimate}" == told


def test_an_estimate_becomes_a_quantity_of_pint() -> None:
    kilonewtons = FORCE.to("kN")
    assert isinstance(kilonewtons, pint.Quantity)
    assert kilonewtons.magnitude == pytest.approx(12.027)
    assert Estimate(0.2, "1").to("percent").magnitude == pytest.approx(20.0)
    with pytest.raises(InputError, match='unit: found "mm"; allowed: a unit that N converts to'):
        FORCE.to("mm")
    with pytest.raises(InputError, match='unit: found "bananas"'):
        FORCE.to("bananas")
    with pytest.raises(InputError, match='unit: found "bananas"'):
        format(FORCE, "bananas")
    with pytest.raises(InputError, match="value: found not available: no fill depth"):
        unavailable("mm", "no fill depth").to("cm")


def test_an_estimate_in_a_notebook_is_escaped() -> None:
    assert Estimate(None, "mm", reason="<b>")._repr_html_() == "<i>not available: &lt;b&gt;</i>"
    assert FORCE._repr_html_() == "<span>12.0 <small>(11.0–13.0)</small> kN</span>"
