"""What answers say of themselves in a session: short, and what they are."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import scaleup
from scaleup.answers.force_log import force_log_answer
from scaleup.answers.functions import learn, plan_trial
from scaleup.io.library import presses_taking
from scaleup.io.logs import open_log
from scaleup.io.trial_sheet.reading import read_trial_sheet

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parents[1] / "examples"
LONGEST = 500


def inside(whole: Any, seen: dict[int, Any]) -> Iterator[Any]:
    """Yield every dataclass that an answer holds, itself first."""
    if id(whole) in seen:
        return
    seen[id(whole)] = whole
    if dataclasses.is_dataclass(whole):
        yield whole
        for field in dataclasses.fields(whole):
            yield from inside(getattr(whole, field.name), seen)
    elif isinstance(whole, tuple | list | dict):
        for each in whole.values() if isinstance(whole, dict) else whole:
            yield from inside(each, seen)


@pytest.fixture(scope="module")
def answers() -> dict[str, Any]:
    study, logged = (scaleup.read_study(EXAMPLES / name) for name in ("marram", "bracken"))
    fescue = scaleup.read_study(EXAMPLES / "fescue")
    sheet = EXAMPLES / "marram" / "trial-sheet.csv"
    return {
        "Study": logged,
        "Fit": scaleup.fit(logged, draws=200),
        "Translation": scaleup.translate(study, draws=200),
        "Judgement": scaleup.judge(study, draws=200),
        "SpeedCheck": scaleup.check_speed(study, speed=50.0, speeds=[30.0, 50.0], draws=200),
        "Window": scaleup.operating_window(study, cells=(8, 8), draws=200),
        "Comparison": scaleup.compare(study, presses_taking("B")[:2], draws=200),
        "Imitation": scaleup.imitate(fescue, run="P2", draws=200),
        "TrialPlan": plan_trial(study, draws=200),
        "Learned": learn(study, read_trial_sheet(sheet, "sheet"), draws=200),
        "ForceLogAnswer": force_log_answer(open_log(EXAMPLES / "bracken" / "records" / "B1.csv")),
    }


def test_every_answer_and_all_it_holds_is_told_in_a_line_or_two(answers: dict[str, Any]) -> None:
    seen: dict[int, Any] = {}
    long = {
        type(part).__name__: len(repr(part))
        for answer in answers.values()
        for part in inside(answer, seen)
        if len(repr(part)) > LONGEST
    }
    assert long == {}
    assert len(seen) > 1000


def test_an_answer_says_what_it_is(answers: dict[str, Any]) -> None:
    for name, answer in answers.items():
        assert repr(answer).startswith(f"{name}("), name
        assert "array(" not in repr(answer)
        assert " object at 0x" not in repr(answer)
    told = repr(answers["Translation"])
    assert "Marram 400 mg, first transfer" in told
    assert "verdict=<Verdict 'transferable with changes'>" in told
    assert "equivalents=<4 Equivalent>" in told
