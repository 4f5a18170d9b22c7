"""One question has one number on every screen, and a sample of draws is no certainty on any."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parents[3] / "examples"
MARRAM, DUNLIN, SEDGE = (EXAMPLES / name for name in ("marram", "dunlin", "sedge"))
Screen = Callable[..., str]
Ask = Callable[..., dict[str, Any]]
Refused = Callable[..., str]


@pytest.mark.parametrize("study", [MARRAM, DUNLIN], ids=["marram", "dunlin"])
def test_judge_tells_the_force_that_translate_dials(ask: Ask, screen: Screen, study: Path) -> None:
    judged, translated = ask("judge", study), ask("translate", study)
    match = judged["proposals"]["needed_force_of_match"]
    (dialled,) = [each for each in translated["equivalents"] if each["match"] == match]
    assert judged["needed_force"] == dialled["settings"]["main_force"]
    assert judged["needed_force_is"] == dialled["force_is"]
    assert match == "strength"
    assert "meets the target with 90 % confidence" in " ".join(screen("judge", study).split())


SCREENS = [
    ("translate", MARRAM), ("translate", SEDGE), ("judge", MARRAM), ("judge", SEDGE),
    ("speed", MARRAM, "--range", "10..75 rpm", "--points", "3"), ("speed", SEDGE),
    ("compare", MARRAM), ("compare", SEDGE), ("window", MARRAM, "--cells", "12x8"),
    ("window", SEDGE),
]  # fmt: skip


@pytest.mark.parametrize("words", SCREENS, ids=lambda words: f"{words[0]}-{words[1].name}")
def test_no_screen_takes_its_draws_for_certainty(
    screen: Screen, words: tuple[str | Path, ...]
) -> None:
    shown = " ".join(screen(*words).split())
    assert not re.search(r"(?<![\d.])(?:100|0) % (?:of the draws|conf)", shown)
    assert not re.search(r"(?<![\d.])100 %", shown)
    if words[1] == MARRAM and words[0] in {"speed", "window"}:
        assert "above 98.5 %" in shown


def test_the_json_tells_of_how_many_draws_a_share_is(ask: Ask) -> None:
    form = ask("speed", MARRAM)["point"]["at_lab_pressure"]
    assert form["draws"] == 200
    assert {margin["draws"] for margin in form["margins"]} == {200}
    assert {0.0 <= margin["share"] <= 1.0 for margin in form["margins"]} == {True}


def test_a_confidence_beyond_the_draws_is_refused_with_the_draws_it_takes(refused: Refused) -> None:
    for command in ("judge", "translate", "speed", "compare", "window"):
        told = refused(command, MARRAM, "--confidence", "99.99 %", "--draws", "200")
        assert "--confidence: found 99.99 % with 200 draws; allowed: at most 95 %" in told
        assert "It takes 100,000 draws." in told
