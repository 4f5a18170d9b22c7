"""Pages and pictures: self-contained, escaped, with texts for those who do not see."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest

from scaleup import Analysis
from scaleup.answers.functions import translate
from scaleup.io.study import read_study
from scaleup.model.study import Study
from scaleup.show.pictures import PICTURES, Subject, picture, picture_png, subject_of
from scaleup.show.report import ReportParts, report_page

EXAMPLES = Path(__file__).parents[2] / "examples"


def pictured(study: Study) -> Subject:
    found = subject_of(Analysis(study, draws=300, seed=1), cells=(12, 10))
    assert found is not None
    return found


def report_of(study: Study) -> str:
    subject = pictured(study)
    return report_page(
        ReportParts(translate(study, draws=300), subject.window, subject, learned=None)
    )


@pytest.fixture(scope="module")
def marram() -> Study:
    return read_study(EXAMPLES / "marram")


@pytest.fixture(scope="module")
def report(marram: Study) -> str:
    return report_of(marram)


def test_the_page_asks_nothing_of_a_network(report: str) -> None:
    loads = re.findall(r"""(?:src|href|action|data)\s*=\s*["']([^"'#]*)""", report)
    assert [each for each in loads if each and not each.startswith("data:")] == []
    assert "@import" not in report
    assert not re.search(r"url\((?!#)", report)
    assert "<script" not in report


def test_the_page_has_answer_inputs_and_caution(report: str, marram: Study) -> None:
    for file, digest in marram.inputs:
        assert file in report
        assert digest in report
    for text in (
        "Verdict: transferable",
        "A screening calculation",
        "seed 1",
        "Risks, worst first",
    ):
        assert text in report
    assert not re.search(
        r"\b(nan|inf|None)\b", re.sub(r"<svg.*?</svg>", "", report, flags=re.DOTALL)
    )


def test_what_a_study_says_never_becomes_markup(marram: Study) -> None:
    name = '<img src=x onerror="alert(1)">'
    text = report_of(replace(marram, name=name, description=f"{name}&amp;"))
    assert "<img" not in text
    assert "&lt;img src=x onerror=" in text


@pytest.mark.parametrize("name", PICTURES)
def test_every_picture_is_a_vector_graphic_with_texts(name: str, marram: Study) -> None:
    drawn = picture(name, pictured(marram))
    root = ET.fromstring(drawn.svg)  # noqa: S314  our own text
    texts = " ".join(root.itertext())
    assert drawn.title in texts
    for unit in {"pulse": ("ms", "MPa"), "solid-fraction": ("MPa",), "strength": ("MPa",),
                 "speed": ("rpm", "MPa"), "window": ("rpm", "kN"),
                 "budget": ("%",)}[name]:  # fmt: skip
        assert unit in texts
    assert len(drawn.alternative) > 40


def test_pictures_of_one_seed_are_the_same(marram: Study) -> None:
    first, again = (picture("strength", pictured(marram)).svg for _ in range(2))
    assert first == again


def test_curves_differ_in_more_than_colour(marram: Study) -> None:
    svg = picture("strength", pictured(marram)).svg
    assert "stroke-dasharray" in svg
    png = picture_png("window", pictured(marram))
    assert png.startswith(b"\x89PNG")


def test_a_study_without_a_window_says_why() -> None:
    text = report_of(read_study(EXAMPLES / "sedge"))
    assert "No speed and force keep every limit" in text
    assert "Verdict: not transferable" in text
