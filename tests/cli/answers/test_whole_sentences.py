"""Every sentence of every answer is whole, whatever a study lacks or whatever binds."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.slow

Ask = Callable[..., dict[str, Any]]
Screen = Callable[..., str]
Altered = Callable[..., Path]
Lines = list[str]

PRESS = Path(__file__).parents[3] / "profiles" / "presses"
TOOLING = Path(__file__).parents[3] / "profiles" / "tooling"
TARGET = (
    '[target]\nstrength = "2.0 MPa"\nsolid_fraction = { min = "80 %", max = "90 %" }\n'
    'confidence = "90 %"\n'
)


def without(*columns: str) -> Callable[[Lines], Lines]:
    """Return a change of a run table: some columns are left out."""

    def change(lines: Lines) -> Lines:
        rows = [line.split(",") for line in lines if not line.startswith("#")]
        drop = {at for at, heading in enumerate(rows[0]) if heading.startswith(columns)}
        return [",".join(cell for at, cell in enumerate(row) if at not in drop) for row in rows]

    return change


def only(*names: str) -> Callable[[Lines], Lines]:
    return lambda lines: [line for line in lines if line.split(",")[0] in {"run", *names}]


def as_they_are(lines: Lines) -> Lines:
    return lines


def slip(lines: Lines) -> Lines:
    """Return the runs with one breaking force of a tenth."""
    return [line.replace(",150.9,", ",15.09,") for line in lines]


Study = tuple[Callable[[Lines], Lines], tuple[tuple[str, str], ...]]
STUDIES: dict[str, Study] = {
    "whole": (as_they_are, ()),
    "no ejection": (without("ejection"), ()),
    "no fill depth": (without("fill"), ()),
    "no breaking force": (without("breaking"), ()),
    "one force": (only("M4"), ()),
    "two forces": (only("M3", "M4"), ()),
    "no thickness": (without("thickness"), ()),
    "no target": (as_they_are, ((TARGET, ""),)),
    "target beyond reach": (as_they_are, (('"2.0 MPa"', '"9.5 MPa"'),)),
    "target beyond what was tested": (
        only("M1", "M2", "M3"), (('"M4"', '"M2"'), ('"2.0 MPa"', '"3.0 MPa"'),
                                 ('max = "90 %"', 'max = "97 %"')),
    ),
    "a slip": (slip, (('"2.0 MPa"', '"2.4 MPa"'),)),
    "window not stated": (
        as_they_are, (('solid_fraction = { min = "80 %", max = "90 %" }\n', ""),
                      ('[blend]\n', '[blend]\ntrue_density = "1.75 g/cm^3"\n')),
    ),
    "no hold": (without("hold"), ()),
    "slowest speed": (as_they_are, (('"45 rpm"', '"10 rpm"'),)),
    "fastest speed": (as_they_are, (('"45 rpm"', '"75 rpm"'),)),
    "output beyond reach": (as_they_are, (('[target]\n', '[target]\noutput = "900000/h"\n'),)),
    "bare profiles": (
        without("ejection", "fill"), (('"rotary-mid-19"', '"bare"'), ('"b-flat-10"', '"tips"')),
    ),
}  # fmt: skip
VERBS: dict[str, tuple[str, ...]] = {
    "translate": (),
    "judge": (),
    "speed": ("--range", "10..75 rpm", "--points", "2"),
    "window": ("--cells", "4x4"),
    "compare": ("--to", "rotary-mid-19"),
}
BROKEN = re.compile(
    r":\s*[.;,]|\(\s*\)|[;,]\s*[.;,]|\.\.(?!\.)|\b(?:None(?! of )|nan|inf)\b|:\s*$|^\s*[.;,]"
)


@pytest.fixture
def poor(altered: Altered) -> Callable[[str], Path]:
    """Return a study that lacks something, its bare profiles beside it."""

    def made(case: str) -> Path:
        runs, replaced = STUDIES[case]
        study = altered("marram", *replaced, runs=runs)
        for folder, name, source, keys in (
            ("presses", "bare", PRESS / "rotary-mid-19.toml",
             ("ejection_limit", "feeder_arc", "stiffness")),
            ("tooling", "tips", TOOLING / "b-flat-10.toml", ("tip_force_rating",)),
        ):  # fmt: skip
            (study / folder).mkdir()
            lines = source.read_text().splitlines()
            kept = [line for line in lines if not line.startswith(keys)]
            (study / folder / f"{name}.toml").write_text("\n".join(kept) + "\n")
        return study

    return made


def texts(value: Any, place: str = "") -> Iterator[tuple[str, str]]:
    """Yield every text of a JSON form with its place."""
    if isinstance(value, dict):
        for key, each in value.items():
            yield from texts(each, f"{place}.{key}")
    elif isinstance(value, list):
        for each in value:
            yield from texts(each, place)
    elif isinstance(value, str):
        yield place, value


def broken_in(form: dict[str, Any]) -> list[str]:
    return [
        f"{place}: {text}"
        for place, text in texts(form)
        if BROKEN.search(text) or "  " in text or text != text.strip()
    ]


def sentences(form: dict[str, Any]) -> list[str]:
    """Return what has to be a whole sentence in any answer."""
    verdict = form.get("verdict", {})
    told = [*verdict.get("reasons", ()), *form.get("reasons", ())]
    told += [risk[part] for risk in form.get("risks", ()) for part in ("message", "action")]
    return [*told, *form.get("facts", ())]


@pytest.mark.parametrize("verb", VERBS)
@pytest.mark.parametrize("case", STUDIES)
def test_no_sentence_has_an_empty_part(
    ask: Ask, poor: Callable[[str], Path], case: str, verb: str
) -> None:
    form = ask(verb, poor(case), *VERBS[verb])
    assert broken_in(form) == []
    for sentence in sentences(form):
        assert sentence[0].isupper() or sentence[0].isdigit() or sentence[0] == "b", sentence
        assert sentence[-1] == ".", sentence
    answer = form.get("answer", form.get("verdict", {}).get("answer"))
    if answer is not None:
        assert form.get("reasons") or form["verdict"]["reasons"]
    for each in form.get("candidates", ()):
        assert each["reason"]
    keys = {"key", "value", "origin", "decides", "instead", "about", "facts"}
    assert form["assumed"]
    assert all(set(each) == keys for each in form["assumed"])


def test_the_search_for_broken_sentences_finds_them() -> None:
    for text in ("At the lab's own 30.8 kN: .", "kept, ; and", "a  b", "is None", "nan MPa", "x:",
                 "not known ()", "two.. stops"):  # fmt: skip
        assert broken_in({"reasons": [text]}), text
    whole = "At 45 rpm: kept by 89 % of the draws, since each limit is asked by itself."
    assert broken_in({"reasons": [whole]}) == []


ROWS = {"tip-rating", "ejection-force", "strength", "feed-time"}


def test_rows_that_cannot_be_computed_stay_with_their_reason(
    ask: Ask, screen: Screen, poor: Callable[[str], Path]
) -> None:
    study = poor("bare profiles")
    text = (study / "study.toml").read_text()
    (study / "study.toml").write_text(text.replace('strength = "2.0 MPa"\n', ""))
    set_point = ask("speed", study)["point"]["at_lab_pressure"]
    missing = {each["limit"]: each for each in set_point["not_checked"]}
    assert set(missing) == ROWS
    assert not ROWS & {each["limit"] for each in set_point["margins"]}
    for each in missing.values():
        reasons = [part["reason"] for part in (each["bound"], each["value"]) if "reason" in part]
        assert all(reason.startswith(("not stated: ", "not available: ")) for reason in reasons)
        assert reasons
    shown = screen("speed", study)
    assert re.search(r"ejection force \(not\s", shown)
    assert "tip force (not" not in shown, "the risk tells it"
    assert "The tip force of the production tooling was not checked" in " ".join(shown.split())
    whole = ask("speed", poor("whole"))["point"]["at_lab_pressure"]
    assert whole["not_checked"] == []
    assert {"tip-rating", "ejection-force", "strength"} <= {
        each["limit"] for each in whole["margins"]
    }


def test_a_window_that_is_not_stated_is_told_and_does_not_decide(
    ask: Ask, poor: Callable[[str], Path]
) -> None:
    form = ask("translate", poor("window not stated"))
    assert form["verdict"]["answer"] == "not enough evidence"
    assert "state solid_fraction in [target]" in form["verdict"]["reasons"][0]
    taken = {each["key"]: each for each in form["assumed"]}
    assert taken["target.solid_fraction"]["origin"] == "default"
    assert taken["target.solid_fraction"]["decides"]


@pytest.mark.parametrize("verb", [*VERBS])
def test_a_screen_tells_what_was_taken_for_granted(
    screen: Screen, poor: Callable[[str], Path], verb: str
) -> None:
    shown = screen(verb, poor("no hold"), *VERBS[verb])
    assert "taken for granted" in shown
    gap = "hold of 29 of 29 lab runs: they count as not held"
    taken = "column hold: none in 29 of 29 lab runs"
    assert (gap if verb == "judge" else taken) in " ".join(shown.split())
    assert shown.index("taken for granted") < shown.index("caution: A screening")


def test_the_verdict_comes_before_the_table(screen: Screen, poor: Callable[[str], Path]) -> None:
    shown = screen("translate", poor("whole"))
    assert shown.index("verdict: transferable") < shown.index("to set")
    assert shown.count("verdict: ") == 1
    assert shown.index("risks, worst first") < shown.index("caution: A screening calculation")


def test_what_to_press_first_is_told_where_there_is_no_fit(
    ask: Ask, screen: Screen, poor: Callable[[str], Path]
) -> None:
    study = poor("one force")
    first = ask("judge", study)["first_runs"]
    forces = [each["value"] for each in first["forces"]]
    assert len(forces) >= 3
    assert forces == sorted(forces)
    assert forces[-1] / forces[0] >= 2.0
    assert forces[-1] <= 40e3
    assert first["columns"] == ["weight", "thickness", "breaking force"]
    assert first["held"]["hold"]["value"] == 60.0
    assert "all runs at one pressure" in first["why"]
    shown = " ".join(screen("judge", study).split())
    assert "what to press first 3 tablets at each of" in shown
    assert ask("judge", poor("whole"))["first_runs"] is None
    assert ask("judge", poor("no thickness"))["first_runs"]["columns"][0] == "thickness"
    unbroken = ask("judge", poor("no breaking force"))["first_runs"]
    assert unbroken["columns"][0] == "breaking force"
    assert unbroken["held"] is None


def test_json_is_strict(ask: Ask, poor: Callable[[str], Path]) -> None:
    form = ask("speed", poor("bare profiles"))
    assert json.loads(json.dumps(form, allow_nan=False)) == form
