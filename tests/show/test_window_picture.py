"""The picture of the window: edges named by their limits, without colours of their own."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from scaleup import Analysis
from scaleup.io.study import read_study
from scaleup.show.pictures import Picture, picture, subject_of
from scaleup.transfer.limits import broken

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def drawn() -> Picture:
    study = read_study(EXAMPLES / "marram")
    target = replace(study.target, output=30e3, strength=2.2)
    subject = subject_of(Analysis(replace(study, target=target), draws=300, seed=1), cells=(16, 30))
    assert subject is not None
    assert broken(subject.case.limits, subject.case.process.at(10.0, 20.0), 0.9)
    return picture("window", subject)


def test_edges_carry_the_name_of_their_limit(drawn: Picture) -> None:
    texts = re.findall(r"<text[^>]*>([^<]+)</text>", drawn.svg)
    for label in ("output", "tensile strength", "solid fraction, highest"):
        assert label in texts
        assert label in drawn.alternative
    assert {"recommended", "largest margin", "at the asked speed"} <= set(texts)


def test_outside_is_hatched_and_nothing_is_coloured(drawn: Picture) -> None:
    assert "<pattern" in drawn.svg
    colours = set(re.findall(r"#([0-9a-f]{6})\b", drawn.svg))
    assert colours
    assert all(each[:2] == each[2:4] == each[4:] for each in colours)


def test_no_line_is_a_level_of_probability(drawn: Picture) -> None:
    texts = re.findall(r"<text[^>]*>([^<]+)</text>", drawn.svg)
    assert not [each for each in texts if "%" in each]
