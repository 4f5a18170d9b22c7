"""A lacking input is told once on a screen; JSON keeps every place that tells of it."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from io import StringIO

import pytest
from rich.console import Console

from scaleup import Analysis
from scaleup.model.study import Study
from scaleup.model.transfer_terms import NOTHING_STATED
from scaleup.show.json_form import translation_form
from scaleup.show.judgement import judgement_form, show_judgement
from scaleup.show.report import ReportParts, report_page
from scaleup.show.speed import show_speed, speed_form
from scaleup.show.terminal import show_translation
from tests.studies import change

ONCE: dict[str, tuple[str, ...]] = {
    "tip rating": ("tip force of the production", "rated tip force of", "tip_force_rating: not"),
    "ejection": ("Ejection was not checked", "ejection force in the lab", "column ejection force:"),
    "ejection limit": ("ejection_limit: not stated", "has no ejection_limit"),
    "feeder arc": ("has no feeder_arc", "feeder_arc: not stated"),
    "deflection": ("leaves out deflection", "stiffness: rigid"),
    "feeder": ("has a forced feeder. Lab strength", "lubricant and shear: production"),
    "strength target": ("none asked for", "asks for no strength", "a target of strength"),
    "elastic part": ("the elastic part is from", "elastic recovery of 2.0 %"),
}
"""The ways in which each may be told."""


@pytest.fixture(scope="module")
def asked(marram: Study) -> Analysis:
    """Return marram with next to nothing stated that may be left open."""
    bare = change(
        marram,
        tooling={"tip_force_rating": None},
        press={"ejection_limit": None, "feeder_arc": None, "stiffness": None},
        target={"strength": None},
        runs=lambda run: replace(run, ejection_force=None),
    )
    return Analysis(replace(bare, transfer=NOTHING_STATED), draws=200)


def shown(show: Callable[..., None], answer: object) -> str:
    out = StringIO()
    show(Console(file=out, width=400), answer)
    return out.getvalue()


@pytest.fixture(scope="module")
def screens(asked: Analysis) -> dict[str, str]:
    answers: dict[str, tuple[Callable[..., None], object]] = {
        "translate": (show_translation, asked.translate()),
        "speed": (show_speed, asked.speed()),
        "judge": (show_judgement, asked.judge()),
    }
    page = report_page(ReportParts(asked.translate(), None, None, None))
    cells = re.sub(r"</td><td[^>]*>", ": ", page).replace("\N{NO-BREAK SPACE}", " ")
    return {name: shown(*each) for name, each in answers.items()} | {"report": cells}


@pytest.mark.parametrize("what", ONCE)
def test_each_is_told_once_on_every_screen(screens: dict[str, str], what: str) -> None:
    for name, text in screens.items():
        assert sum(text.count(way) for way in ONCE[what]) == 1, name


def test_json_keeps_every_place(asked: Analysis) -> None:
    translation = translation_form(asked.translate())
    assert "tip-rating-not-checked" in [each["code"] for each in translation["risks"]]
    for form in (translation, speed_form(asked.speed()), judgement_form(asked.judge())):
        assert "b-flat-10: tip_force_rating" in [each["key"] for each in form["assumed"]]
    point = speed_form(asked.speed())["point"]
    codes = [each["limit"] for each in point["at_lab_pressure"]["not_checked"]]
    assert codes == ["tip-rating", "ejection-force", "strength", "feed-time"]
    missing = list(map(str, judgement_form(asked.judge())["missing"]))
    assert any(each.startswith("the rated tip force") for each in missing)


def test_a_risk_whose_lacking_input_decides_says_so(marram: Study) -> None:
    """At 15 kN tips of the weakest kind, 15.7 kN, would not be enough for the target."""
    bare = change(marram, tooling={"tip_force_rating": None}, target={"strength": 3.1})
    answer = Analysis(bare, draws=200).translate()
    (taken,) = [each for each in answer.assumed if each.about == "tip rating"]
    assert taken.decides
    text = shown(show_translation, answer)
    line = next(each for each in text.splitlines() if "The tip force of the production" in each)
    assert line.endswith("It decides: asked again with 15.7 kN, the answer is another.")
    assert "tip_force_rating: not stated" not in text
