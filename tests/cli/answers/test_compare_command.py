"""``scaleup compare``: which presses are compared, and in what order."""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[3]
EXAMPLES = ROOT / "examples"
PRESSES = ROOT / "profiles" / "presses"
Screen = Callable[..., str]
Table = Callable[..., list[dict[str, str]]]
Ask = Callable[..., dict[str, Any]]
Refused = Callable[..., str]
Altered = Callable[..., Path]

MARRAM, SEDGE = EXAMPLES / "marram", EXAMPLES / "sedge"
NONE = ("compare", SEDGE, "--to", "rotary-mid-19", "--to", "rotary-pilot-7")
TWO = ("compare", MARRAM, "--to", "rotary-mid-19", "--to", "rotary-pilot-7")


def profile(name: str) -> dict[str, Any]:
    return tomllib.loads((PRESSES / f"{name}.toml").read_text())


def rotary_presses(standard: str) -> set[str]:
    """Return the ids of the shipped rotary presses that take tooling of a standard."""
    names = [path.stem for path in PRESSES.glob("*.toml")]
    return {
        name
        for name in names
        if profile(name)["kind"] == "rotary" and standard in profile(name)["accepts"]
    }


def told_of(candidate: dict[str, Any]) -> str:
    """Return what the screen says of whether a press holds."""
    if not candidate["holds"]:
        return "no"
    return "with changes" if candidate["changes"] else "yes"


either = pytest.mark.parametrize("words", [("compare", MARRAM), NONE])


def test_all_presses_that_take_the_tooling_are_compared(ask: Ask) -> None:
    found = [each["press"] for each in ask("compare", MARRAM)["candidates"]]
    assert len(found) == len(set(found))
    assert set(found) == rotary_presses("B")


def test_other_tooling_brings_other_presses(ask: Ask) -> None:
    form = ask("compare", MARRAM, "--tooling", "d-flat-16")
    assert {each["press"] for each in form["candidates"]} == rotary_presses("D")
    assert form["tooling"] == "d-flat-16"


@either
def test_every_press_is_named_with_its_hash(ask: Ask, words: tuple[str | Path, ...]) -> None:
    for each in ask(*words)["candidates"]:
        path = PRESSES / f"{each['press']}.toml"
        assert each["sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()


@either
def test_every_output_is_that_of_the_speed_and_the_speed_one_of_the_press(
    ask: Ask, words: tuple[str | Path, ...]
) -> None:
    for each in ask(*words)["candidates"]:
        press = profile(each["press"])
        speed = each["speed"]["value"]
        low, high = (float(press["speed"][end].split()[0]) for end in ("min", "max"))
        assert low <= speed <= high
        per_turn = press["stations"] * press.get("tablets_per_station_per_turn", 1)
        assert each["output"]["value"] == pytest.approx(speed * 60 * per_turn)


@either
def test_those_that_hold_come_first_and_the_largest_output_of_them(
    ask: Ask, words: tuple[str | Path, ...]
) -> None:
    form = ask(*words)
    holds = [each["holds"] for each in form["candidates"]]
    assert holds == sorted(holds, reverse=True)
    outputs = [each["output"]["value"] for each in form["candidates"] if each["holds"]]
    assert outputs == sorted(outputs, reverse=True)
    assert all(each["reason"] for each in form["candidates"])


def test_where_a_press_holds_every_limit_is_kept(ask: Ask) -> None:
    form = ask("compare", MARRAM)
    assert any(each["holds"] for each in form["candidates"])
    for each in form["candidates"]:
        firm = [margin for margin in each["dialled"]["margins"] if not margin["watched"]]
        shares = {margin["limit"]: margin["share"] for margin in firm}
        assert each["holds"] == (min(shares.values()) >= form["confidence"])
        assert shares[each["dialled"]["binding"]] == min(shares.values())
        assert each["stopped_by"]


def test_where_no_press_holds_the_answer_says_why(ask: Ask, screen: Screen) -> None:
    form = ask(*NONE)
    assert not any(each["holds"] for each in form["candidates"])
    assert form["reasons"]
    shown = " ".join(screen(*NONE).split())
    for reason in form["reasons"]:
        assert f"against every press: {reason}" in shown


def test_a_reason_says_how_much_less_output_a_press_gives(ask: Ask) -> None:
    first, *others = ask("compare", MARRAM)["candidates"]
    assert others
    for each in others:
        found = re.match(rf"(\d+) % less output than {first['press']}; ", each["reason"])
        assert found is not None
        lost = 1.0 - each["output"]["value"] / first["output"]["value"]
        assert float(found[1]) == pytest.approx(lost * 100, abs=0.5)


def test_neither_order_nor_repetition_of_the_presses_matters(ask: Ask) -> None:
    other = ("rotary-pilot-7", "rotary-mid-19", "rotary-pilot-7")
    asked = [word for name in other for word in ("--to", name)]
    assert ask("compare", MARRAM, *asked) == ask(*TWO)


def test_a_press_alone_gets_the_same_answer_from_speed(ask: Ask) -> None:
    (alone,) = [each for each in ask(*TWO)["candidates"] if each["press"] == "rotary-mid-19"]
    form = ask("speed", MARRAM, "--at", "55 rpm", "--range", "10..75 rpm", "--points", "7")
    assert form["production"]["press"] == "rotary-mid-19"
    fastest = form["production"]["fastest_speed"], form["production"]["fastest_speed_pressure"]
    assert alone["speed"] == fastest[0]
    assert alone["dialled"]["pressure"]["value"] == pytest.approx(fastest[1]["value"], rel=1e-6)
    assert alone["stopped_by"] == form["production"]["stopped_by"]


def test_a_press_beside_the_study_is_compared_too(ask: Ask, altered: Altered) -> None:
    study = altered("marram")
    text = (PRESSES / "rotary-mid-19.toml").read_text()
    (study / "presses").mkdir()
    (study / "presses" / "mine.toml").write_text(text.replace("stations = 19", "stations = 23"))
    asked = ("--to", "mine", "--to", "rotary-mid-19")
    first, second = ask("compare", study, *asked)["candidates"]
    assert (first["press"], second["press"]) == ("mine", "rotary-mid-19")
    assert first["output"]["value"] == pytest.approx(second["output"]["value"] * 23 / 19)


def test_the_table_has_a_line_for_each_press(table: Table, ask: Ask) -> None:
    rows = table(*TWO)
    candidates = ask(*TWO)["candidates"]
    assert [row["rank"] for row in rows] == ["1", "2"]
    for row, each in zip(rows, candidates, strict=True):
        assert row["press"] == each["press"]
        assert row["holds"] == told_of(each)
        assert row["changes"] == "; ".join(each["changes"])
        assert float(row["speed [rpm]"]) == each["speed"]["value"]
        assert float(row["output [1/h]"]) == each["output"]["value"]
        assert float(row["force [N]"]) == each["dialled"]["force"]["value"]
        assert float(row["share_within_limits"]) == each["dialled"]["share_within_limits"]
        assert (row["stopped_by"], row["reason"]) == (each["stopped_by"], each["reason"])


def test_the_screen_lists_the_presses_in_order(screen: Screen, ask: Ask) -> None:
    candidates = ask(*TWO)["candidates"]
    lines = screen(*TWO).splitlines()
    form = re.compile(r"\d (\S+) +(yes|with changes|no) +\S+ rpm +(\S+)")
    rows = [found.groups() for found in map(form.match, lines) if found]
    assert [row[0] for row in rows] == [each["press"] for each in candidates]
    assert [row[1] for row in rows] == [told_of(each) for each in candidates]
    assert [float(row[2]) for row in rows] == [each["output"]["value"] for each in candidates]


def test_a_press_without_precompression_needs_a_change(ask: Ask, screen: Screen) -> None:
    """The study asks for precompression, and one of the two presses has no roller for it."""
    with_roller, without = ask(*TWO)["candidates"]
    assert with_roller["changes"] == []
    (change,) = without["changes"]
    assert "no precompression roller" in change
    assert without["holds"]
    assert change in " ".join(screen(*TWO).split())


def test_a_fault_of_every_press_is_told(refused: Refused) -> None:
    asked = ("rotary-mid", "rotary-large-23", "lab-hydraulic")
    words = [word for name in asked for word in ("--to", name)]
    told = refused("compare", MARRAM, *words, faults=3).splitlines()
    assert all(line.startswith("scaleup: --to: found ") for line in told)
    assert "Did you mean rotary-mid-19" in told[0]
    assert "rotary-large-23, which takes tooling D" in told[1]
    assert "lab-hydraulic, of kind hydraulic" in told[2]


def test_only_production_presses_are_offered_for_a_lab_press(refused: Refused) -> None:
    told = refused("compare", MARRAM, "--to", "lab-hand-pump")
    assert "rotary-mid-19" in told
    assert "lab-hydraulic" not in told
