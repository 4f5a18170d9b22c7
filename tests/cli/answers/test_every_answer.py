"""What the five answers have in common: header, quantities, seed, table, screen and help."""

from __future__ import annotations

import csv
import hashlib
import os
import re
import shlex
import subprocess
import sys
import tomllib
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[3]
EXAMPLES = ROOT / "examples"
FEW = ("--draws", "200")
Command = Callable[..., subprocess.CompletedProcess[str]]
Screen = Callable[..., str]
Ask = Callable[..., dict[str, Any]]
Altered = Callable[..., Path]

MARRAM = str(EXAMPLES / "marram")
ANSWERS: dict[str, tuple[str, ...]] = {
    "speed": ("speed", MARRAM, "--at", "55 rpm", "--range", "10..75 rpm", "--points", "7"),
    "window": ("window", MARRAM, "--cells", "12x8"),
    "compare": ("compare", MARRAM, "--to", "rotary-mid-19", "--to", "rotary-pilot-7"),
    "judge": ("judge", MARRAM),
    "back": ("translate", str(EXAMPLES / "fescue"), "--from-production", "--run", "P2"),
}
FORMATS = {
    "speed": "scaleup speed 1",
    "window": "scaleup window 1",
    "compare": "scaleup comparison 1",
    "judge": "scaleup judgement 1",
    "back": "scaleup imitation 1",
}
OTHERS = [("speed", "sedge"), ("window", "sedge"), ("judge", "dunlin")]
LEFT_OUT = ("M1", "M2", "M3", "M5", "M6", "M7", "M8", "M9", "F1", "F3", "F4", "F5", "F6", "P1")
"""Runs without which the examples allow no fit."""
every = pytest.mark.parametrize("name", ANSWERS)


def quantities(form: object) -> Iterator[dict[str, Any]]:
    """Yield every quantity, however deep; facts have no band."""
    if isinstance(form, dict) and {"value", "unit"} <= set(form):
        yield form
    elif isinstance(form, dict):
        for name, each in form.items():
            yield from quantities(each) if name != "facts" else ()
    elif isinstance(form, list):
        for each in form:
            yield from quantities(each)


def assert_quantities(form: dict[str, Any]) -> None:
    found = list(quantities(form))
    assert found
    for each in found:
        assert set(each) - {"reason"} == {"value", "unit", "low", "high"}
        assert each["unit"]
        ends = [each[key] for key in ("value", "low", "high")]
        if None in ends:
            assert each["reason"]
        else:
            assert each["low"] <= each["high"]
            assert "reason" not in each
        if each["value"] is None:
            assert ends == [None, None, None]


@every
def test_every_answer_begins_with_the_same_header(ask: Ask, name: str) -> None:
    form = ask(*ANSWERS[name])
    assert list(form)[:5] == ["format", "tool", "inputs", "seed", "draws"]
    assert form["format"] == FORMATS[name]
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    assert form["tool"] == {"name": "scaleup", "version": project["version"]}
    assert (form["seed"], form["draws"]) == (1, 200)
    assert list(form)[-1] == "caution"


@every
def test_every_answer_names_what_it_read_with_its_hash(ask: Ask, name: str) -> None:
    folder = Path(ANSWERS[name][1])
    study = tomllib.loads((folder / "study.toml").read_text())
    used = {"study.toml", study["lab"]["runs"]}
    for side in ("lab", "production"):
        used.add(f"profiles/presses/{study[side]['press']}.toml")
        used.add(f"profiles/tooling/{study[side]['tooling']}.toml")
    digests = {item["file"]: item["sha256"] for item in ask(*ANSWERS[name])["inputs"]}
    assert set(digests) == used
    for file, digest in digests.items():
        path = (ROOT if file.startswith("profiles/") else folder) / file
        assert digest == hashlib.sha256(path.read_bytes()).hexdigest()


@every
def test_every_quantity_has_its_unit_and_band_or_a_reason(ask: Ask, name: str) -> None:
    assert_quantities(ask(*ANSWERS[name]))


@pytest.mark.parametrize(("verb", "name"), OTHERS)
def test_every_quantity_of_the_other_examples_has_them_too(ask: Ask, verb: str, name: str) -> None:
    assert_quantities(ask(verb, EXAMPLES / name))


@every
def test_an_existing_table_is_not_replaced_unasked(
    command: Command, altered: Altered, tmp_path: Path, name: str
) -> None:
    def too_few(lines: list[str]) -> list[str]:
        return [line for line in lines if not line.startswith(LEFT_OUT)]

    verb, folder, *asked = ANSWERS[name]
    study = altered(Path(folder).name, runs=too_few)
    file = tmp_path / "out.csv"
    file.write_text("mine")
    done = command(verb, study, *asked, *FEW, "--csv", file)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith(f"scaleup: {file}: found a file that exists")
    assert done.stderr.count("\n") == 1
    assert file.read_text() == "mine"


@every
def test_force_replaces_a_table_and_the_same_seed_gives_the_same_text(
    command: Command, screen: Screen, tmp_path: Path, name: str
) -> None:
    file = tmp_path / "out.csv"
    file.write_text("mine")
    done = command(*ANSWERS[name], "--json", *FEW, "--seed", "1", "--csv", file, "--force")
    assert done.returncode == 0
    assert done.stderr == ""
    assert done.stdout == screen(*ANSWERS[name], "--json")
    assert [path.name for path in tmp_path.iterdir()] == ["out.csv"]
    first, *rows = csv.reader(file.read_text().splitlines())
    assert rows
    assert len(set(first)) == len(first)
    assert {len(row) for row in rows} == {len(first)}


def test_another_seed_gives_another_text(ask: Ask) -> None:
    forms = [ask("judge", MARRAM), ask("judge", MARRAM, "--seed", "2")]
    assert [form["seed"] for form in forms] == [1, 2]
    assert forms[0]["production_strength"] != forms[1]["production_strength"]


def assert_screen(shown: str) -> None:
    assert max(map(len, shown.splitlines())) <= 80
    assert "\x1b" not in shown
    assert not re.search(r"\b(?:nan|inf|None|null)\b|\d[eE][+-]?\d", shown)


def flat(text: str) -> str:
    """Return a text on one line, so that it can be sought however it was wrapped."""
    return " ".join(text.split())


@every
def test_every_screen_fits_in_eighty_columns(screen: Screen, ask: Ask, name: str) -> None:
    shown = screen(*ANSWERS[name])
    assert_screen(shown)
    study = tomllib.loads((Path(ANSWERS[name][1]) / "study.toml").read_text())
    assert shown.startswith(study["name"])
    assert flat(ask(*ANSWERS[name])["caution"]) in flat(shown)


@pytest.mark.parametrize(("verb", "name"), OTHERS)
def test_every_screen_of_the_other_examples_fits_too(screen: Screen, verb: str, name: str) -> None:
    assert_screen(screen(verb, EXAMPLES / name))


def test_a_pipe_gets_no_progress_bar_and_no_escape_codes() -> None:
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "scaleup", *ANSWERS["window"], *FEW],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT), "COLUMNS": "80", "TERM": "xterm-256color"},
    )
    assert done.stderr == ""
    assert_screen(done.stdout)


@every
def test_every_help_shows_an_example_as_it_can_be_copied(command: Command, name: str) -> None:
    done = command(ANSWERS[name][0], "--help")
    assert done.returncode == 0
    assert "\n  Example: scaleup " in done.stdout
    lead = "Back to the bench: " if name == "back" else "Example: "
    found = re.search(rf"\n  {lead}scaleup (.+?)\n\n", done.stdout, re.DOTALL)
    assert found is not None, done.stdout
    words = shlex.split(flat(found[1]))
    assert words[0] == ANSWERS[name][0]
    assert (ROOT / words[1] / "study.toml").is_file()
    shipped = {path.stem for path in (ROOT / "profiles" / "presses").glob("*.toml")}
    asked = {word for option, word in pairwise(words) if option == "--to"}
    assert asked <= shipped
    understood = command(*words, "--draws", "5")
    assert understood.stderr == "scaleup: --draws: found 5; allowed: 200 to 200000\n"
