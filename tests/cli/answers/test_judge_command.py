"""``scaleup judge``: the verdict, what is missing, and what to press next."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from scaleup.model.transfer_terms import TERMS

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[3]
EXAMPLES = ROOT / "examples"
Screen = Callable[..., str]
Table = Callable[..., list[dict[str, str]]]
Ask = Callable[..., dict[str, Any]]
Altered = Callable[..., Path]

MARRAM, DUNLIN, SEDGE = (EXAMPLES / name for name in ("marram", "dunlin", "sedge"))
VERDICTS = {
    "transferable", "transferable with changes", "not transferable", "not enough evidence",
}  # fmt: skip
examples = pytest.mark.parametrize("study", [MARRAM, DUNLIN, SEDGE])


def number(text: str) -> float:
    return float(text.split(maxsplit=1)[0])


def headings(study: Path) -> set[str]:
    """Return the columns of a run table without their units."""
    lines = (study / "runs.csv").read_text().splitlines()
    first = next(line for line in lines if not line.startswith("#"))
    return {heading.split("[")[0].strip() for heading in first.split(",")}


def lab_press(study: Path) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the profiles of a study's lab press and lab tooling."""
    lab = tomllib.loads((study / "study.toml").read_text())["lab"]
    return (
        tomllib.loads((ROOT / "profiles" / "presses" / f"{lab['press']}.toml").read_text()),
        tomllib.loads((ROOT / "profiles" / "tooling" / f"{lab['tooling']}.toml").read_text()),
    )


@pytest.mark.parametrize("study", [MARRAM, SEDGE])
def test_the_verdict_is_that_of_translating(ask: Ask, study: Path) -> None:
    form = ask("judge", study)
    assert form["verdict"]["answer"] in VERDICTS
    assert form["verdict"] == ask("translate", study)["verdict"]
    assert 2 <= len(form["facts"]) <= 3


@pytest.mark.parametrize("study", [MARRAM, DUNLIN])
def test_the_screen_tells_the_verdict_the_facts_and_what_is_missing(
    screen: Screen, ask: Ask, study: Path
) -> None:
    form = ask("judge", study)
    shown = " ".join(screen("judge", study).split())
    assert f"verdict: {form['verdict']['answer']} " in shown
    for line in (*form["verdict"]["reasons"], *form["facts"], *form["missing"]):
        assert " ".join(line.split()) in shown


@examples
def test_a_column_is_missing_where_the_run_table_has_none(ask: Ask, study: Path) -> None:
    told = " ".join(ask("judge", study)["missing"])
    for column in ("ejection force", "fill depth", "in-die thickness"):
        assert (column in told) == (column not in headings(study))


def test_a_borrowed_exponent_is_told_and_so_is_tooling_without_a_rating(
    ask: Ask, altered: Altered
) -> None:
    assert any("borrowed" in line for line in ask("judge", DUNLIN)["missing"])
    assert not any("rate exponent" in line for line in ask("judge", MARRAM)["missing"])
    assert not any("rated tip force" in line for line in ask("judge", MARRAM)["missing"])
    study = altered("marram", ('tooling = "b-flat-10"', 'tooling = "unrated"'))
    text = (ROOT / "profiles" / "tooling" / "b-flat-10.toml").read_text()
    (study / "tooling").mkdir()
    (study / "tooling" / "unrated.toml").write_text(text.replace('tip_force_rating = "38 kN"', ""))
    assert any("rated tip force" in line for line in ask("judge", study)["missing"])


def test_a_study_without_a_target_is_told_so(ask: Ask, altered: Altered) -> None:
    study = altered("marram", ('strength = "2.0 MPa"\n', ""))
    assert any(line.startswith("a target of strength") for line in ask("judge", study)["missing"])


@examples
def test_proposals_come_best_first_and_each_setting_once(ask: Ask, study: Path) -> None:
    best = ask("judge", study)["proposals"]["best"]
    worth = [each["strength_narrower"] + each["needed_force_narrower"] for each in best]
    assert worth == sorted(worth, reverse=True)
    assert worth
    settings = [
        tuple(each[name]["value"] for name in ("hold", "loading_rate", "speed") if name in each)
        for each in best
    ]
    assert len(set(settings)) == len(settings)
    for each in best:
        assert each["strength_narrower"] < 1.0
        assert each["needed_force_narrower"] < 1.0
        assert each["tablets"] >= 1


@examples
def test_proposals_are_what_the_lab_press_can_make(ask: Ask, study: Path) -> None:
    press, tooling = lab_press(study)
    limit = number(press["force_limit"]) * 1e3
    if "tip_force_rating" in tooling:
        limit = min(limit, number(tooling["tip_force_rating"]) * 1e3)
    for each in ask("judge", study)["proposals"]["best"]:
        assert 0.0 < each["force"]["value"] <= limit
        assert ("hold" in each) == ("hold" in press)
        assert ("loading_rate" in each) == ("loading_rates" in press)
        assert "speed" not in each
        if "hold" in press:
            low, high = (number(press["hold"][end]) for end in ("min", "max"))
            assert low <= each["hold"]["value"] <= high
            low, high = (number(press["loading_rates"][end]) * 1e3 for end in ("min", "max"))
            assert low <= each["loading_rate"]["value"] <= high


def test_no_proposal_is_above_the_rating_of_the_lab_tooling(ask: Ask, altered: Altered) -> None:
    study = altered("marram", ('tooling = "lab-flat-10"', 'tooling = "weak"'))
    text = (ROOT / "profiles" / "tooling" / "lab-flat-10.toml").read_text()
    (study / "tooling").mkdir()
    (study / "tooling" / "weak.toml").write_text(text.replace('"40 kN"', '"8 kN"'))
    best = ask("judge", study)["proposals"]["best"]
    assert best
    assert all(each["force"]["value"] <= 8e3 for each in best)


def test_a_press_with_a_speed_is_told_which_to_set(ask: Ask, altered: Altered) -> None:
    study = altered(
        "marram",
        ('press = "lab-hydraulic"', 'press = "lab-eccentric"'),
        ('loading_rate = "5 kN/s"', 'speed = "40 strokes/min"'),
        ("[blend]\n", '[blend]\nhardening = "kawakita"\n'),
        runs=lambda lines: [
            line.replace(",1,", ",,", 1)
            for line in lines
            if line[:3] in {"run", "M1,", "M4,", "M5,"}
        ],
    )
    best = ask("judge", study)["proposals"]["best"]
    assert best
    for each in best:
        assert 20.0 <= each["speed"]["value"] <= 80.0
        assert "hold" not in each
        assert each["force"]["value"] <= 40e3


def test_the_screen_shows_the_first_proposals_in_their_order(
    screen: Screen, ask: Ask, altered: Altered
) -> None:
    """Where nothing lies between lab and plant but the law, lab runs are what is left to press."""
    off = "off = [" + ", ".join(f'"{each}"' for each in TERMS if each != "curvature") + "]"
    study = altered("marram", ("[target]", f"[transfer]\n{off}\n\n[target]"))
    best = ask("judge", study)["proposals"]["best"]
    shown = " ".join(screen("judge", study).split())
    places = []
    for each in best[:5]:
        hold = each["hold"]["value"]
        held = "no hold" if hold == 0.0 else f"held {hold:g} s"
        rate = f"loaded at {each['loading_rate']['value'] / 1e3:g}"
        places.append(shown.index(f", {held}, {rate} "))
    assert places == sorted(places)


def test_where_no_lab_run_is_worth_pressing_other_experiments_are_told(
    screen: Screen, ask: Ask
) -> None:
    form = ask("judge", MARRAM)
    assert form["proposals"]["nothing_worth_pressing"]
    shown = " ".join(screen("judge", MARRAM).split())
    assert "what could be measured next" in shown
    names = [each["name"] for each in form["experiments"]]
    assert names[0] in {"feeder_blend", "trial_run"}
    narrowest = [each["narrower"]["strength"] for each in form["experiments"]]
    assert narrowest[0] == max(narrowest)


def test_slower_tablets_are_stronger(ask: Ask) -> None:
    slow = ("judge", MARRAM, "--speed", "20 rpm")
    usual = ask("judge", MARRAM)["production_strength"]["value"]
    assert ask(*slow)["production_strength"]["value"] > usual
    assert ask(*slow)["needed_force"]["value"] < ask("judge", MARRAM)["needed_force"]["value"]


def test_the_table_has_a_line_for_each_proposal(table: Table, ask: Ask) -> None:
    rows = table("judge", MARRAM)
    best = ask("judge", MARRAM)["proposals"]["best"]
    assert [row["rank"] for row in rows] == [str(rank + 1) for rank in range(len(best))]
    for row, each in zip(rows, best, strict=True):
        for name, unit in (("force", "N"), ("hold", "s"), ("loading_rate", "N/s")):
            assert float(row[f"{name} [{unit}]"]) == each[name]["value"]
        assert row["speed [rpm]"] == ""
        assert int(row["tablets"]) == each["tablets"]
        assert float(row["strength_narrower"]) == each["strength_narrower"]
        assert float(row["needed_force_narrower"]) == each["needed_force_narrower"]
