"""Runs that say on which other press they were made: read, refused, and written anew."""

from __future__ import annotations

import hashlib
import shutil
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

import scaleup
from scaleup.errors import InputError
from scaleup.io.library import find_press, find_tooling, rotary_profile
from scaleup.io.production_table import with_keys
from scaleup.io.study import read_study
from scaleup.io.updated_study import write_updated_study
from scaleup.model.profile import NamedProfile
from scaleup.model.run import Run
from scaleup.model.study import Study

ROOT = Path(__file__).parents[2]
LINDEN = "rotary-single-31 b-flat-10"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a copy of fescue whose first production run was made on another press."""
    shutil.copytree(ROOT / "examples" / "fescue", tmp_path / "fescue")
    made_on(tmp_path / "fescue", {"P1": LINDEN})
    return tmp_path / "fescue"


def made_on(folder: Path, made: dict[str, str]) -> None:
    """Write the run table with a last column that says of some runs on what they were made."""
    lines = (ROOT / "examples" / "fescue" / "runs.csv").read_text(encoding="utf-8").splitlines()
    first = next(place for place, line in enumerate(lines) if line.startswith("run,"))
    rows = [f"{lines[first]},made on"]
    rows += [f"{line},{made.get(line.split(',')[0], '')}" for line in lines[first + 1 :]]
    (folder / "runs.csv").write_text("\n".join([*lines[:first], *rows]) + "\n", encoding="utf-8")


def by_name(study: Study, name: str) -> Run:
    return next(run for run in study.lab.runs if run.name == name)


def test_a_run_says_on_what_it_was_made(folder: Path) -> None:
    study = read_study(folder)
    assert by_name(study, "P1").made_on == by_name(study, "P1").maker == LINDEN
    assert by_name(study, "P2").made_on == ""
    assert by_name(study, "P2").maker == "production"
    (linden,) = study.made_elsewhere
    assert (linden.press.id, linden.tooling.id, linden.speed) == (
        "rotary-single-31",
        "b-flat-10",
        25.0,
    )
    profile = ROOT / "profiles" / "presses" / "rotary-single-31.toml"
    digest = hashlib.sha256(profile.read_bytes()).hexdigest()
    assert ("profiles/presses/rotary-single-31.toml", digest) in study.inputs


def test_runs_on_the_press_of_the_study_may_say_so(folder: Path) -> None:
    made_on(folder, {"P1": "rotary-mid-19  b-flat-10"})
    study = read_study(folder)
    assert by_name(study, "P1").made_on == ""
    assert study.made_elsewhere == ()


def test_a_press_beside_the_study_is_found(folder: Path) -> None:
    (folder / "presses").mkdir()
    text = (ROOT / "profiles" / "presses" / "rotary-single-31.toml").read_text(encoding="utf-8")
    (folder / "presses" / "teal-31.toml").write_text(text, encoding="utf-8")
    made_on(folder, {"P1": "teal-31 b-flat-10"})
    (teal,) = read_study(folder).made_elsewhere
    assert teal.press.shown == "presses/teal-31.toml"


@pytest.mark.parametrize(
    ("run", "text", "told"),
    [
        ("P1", "rotary-pilot-8 b-flat-10",
         'column made on: found the unknown press "rotary-pilot-8"; allowed: the id of a press'),
        ("P1", "lab-eccentric b-flat-10",
         "column made on: found lab-eccentric, of kind eccentric; allowed: a press of kind rotary"),
        ("P1", "rotary-pilot-7 b-flat-11",
         'column made on: found the unknown tooling "b-flat-11"; allowed: the id of a tooling'),
        ("P1", "rotary-pilot-7 d-flat-16",
         "column made on: found rotary-pilot-7, which takes tooling B, with d-flat-16, which is D"),
        ("P1", "rotary-pilot-7",
         'column made on: found "rotary-pilot-7"; allowed: a press and its tooling by their ids'),
        ("F1", LINDEN,
         'column made on: found "rotary-single-31 b-flat-10" of a run of the lab; allowed: '),
    ],
)  # fmt: skip
def test_what_no_run_can_be_made_on_is_one_fault_with_its_line(
    folder: Path, run: str, text: str, told: str
) -> None:
    made_on(folder, {run: text})
    lines = (folder / "runs.csv").read_text(encoding="utf-8").splitlines()
    line = next(place for place, each in enumerate(lines, 1) if each.startswith(f"{run},"))
    with pytest.raises(InputError) as caught:
        read_study(folder)
    assert str(caught.value).startswith(f"runs.csv: {_lines(run, line)}, {told}")
    assert len(caught.value.faults) == 1


def _lines(run: str, line: int) -> str:
    """Return where a fault stands: a lab run has three rows, and a fault repeated is told once."""
    return f"lines {line} to {line + 2}" if run == "F1" else f"line {line}"


def test_a_run_is_held_against_the_press_that_made_it(folder: Path) -> None:
    """The pilot press turns at 5 to 55 rpm; the press of the study would do 60."""
    made_on(folder, {"P2": "rotary-pilot-7 b-flat-10"})
    with pytest.raises(InputError, match="speed of 60 rpm; allowed: 5 to 55 rpm, the range of"):
        read_study(folder)


def test_one_run_name_is_of_one_press(folder: Path) -> None:
    made_on(folder, {"P1": LINDEN})
    text = (folder / "runs.csv").read_text(encoding="utf-8")
    again = next(line for line in text.splitlines() if line.startswith("P1,"))
    (folder / "runs.csv").write_text(text + again.removesuffix(LINDEN) + "\n", encoding="utf-8")
    with pytest.raises(InputError, match="runs on several production presses; allowed: one press"):
        read_study(folder)


def frame(made: str) -> pd.DataFrame:
    return pd.DataFrame({
        "run": ["A", "B", "P"], "press": ["lab", "lab", "production"], "made on": ["", "", made],
        "force [kN]": [8.0, 16.0, 12.0], "hold [s]": [1.0, 1.0, None],
        "speed [rpm]": [None, None, 30.0], "weight [mg]": 400.0, "thickness [mm]": [4.2, 3.8, 4.1],
    })  # fmt: skip


def study_of(made: str, *others: Any) -> Study:
    return scaleup.study_from(
        frame(made), blend=1.54, lab=("lab-hydraulic", "lab-flat-10"),
        production=("rotary-mid-19", "b-flat-10", "45 rpm"),
        made_elsewhere=others,
    )  # fmt: skip


def test_a_study_from_python_finds_presses_by_id_or_takes_them() -> None:
    assert [side.ids for side in study_of(LINDEN).made_elsewhere] == [LINDEN]
    own = NamedProfile("teal", rotary_profile(find_press("rotary-single-31")).profile)
    (teal,) = study_of("teal b-flat-10", (own, "b-flat-10")).made_elsewhere
    assert teal.press.id == "teal"
    with pytest.raises(InputError, match="row 3, column made on: found the unknown press"):
        study_of("teal b-flat-10")
    with pytest.raises(InputError, match='made_elsewhere: found "teal"; allowed: a press and its'):
        study_of(LINDEN, "teal")


def test_a_study_written_anew_keeps_what_made_its_runs(folder: Path, tmp_path: Path) -> None:
    write_updated_study(read_study(folder), tmp_path / "next", "why")
    again = read_study(tmp_path / "next")
    assert by_name(again, "P1").made_on == LINDEN
    old = read_study(folder)
    assert [replace(run, line=0) for run in again.lab.runs] == [
        replace(run, line=0) for run in old.lab.runs
    ]


def test_a_study_that_takes_the_press_asked_about_as_its_own_is_written_so(
    folder: Path, tmp_path: Path
) -> None:
    """Runs on the press asked about are then the study's own, and those of before say where."""
    asked = read_study(folder, press="rotary-single-31")
    moved = replace(asked, production=replace(asked.production, speed=37.5)).asked_as_own
    write_updated_study(moved, tmp_path / "next", "why")
    text = (tmp_path / "next" / "study.toml").read_text(encoding="utf-8")
    table = tomllib.loads(text)["production"]
    assert table == {
        "press": "rotary-single-31", "tooling": "b-flat-10", "speed": "37.5 rpm",
        "precompression": "15 %",
    }  # fmt: skip
    assert text.startswith("# Invented for demonstration: the blend, the presses")
    again = read_study(tmp_path / "next")
    assert by_name(again, "P1").made_on == ""
    assert by_name(again, "P2").made_on == "rotary-mid-19 b-flat-10"
    assert [side.ids for side in again.made_elsewhere] == ["rotary-mid-19 b-flat-10"]


KEPT = """# first
[lab]
press = "a"  # of the lab

[ production ]  # here
tooling = 't'
press = "a"  # ours
speed = "1 rpm"

[target]
press = "a"
"""


def test_only_the_keys_of_the_table_change() -> None:
    changed = with_keys(KEPT, {"press": "b", "tooling": "u", "speed": "2 rpm"})
    old = ["tooling = 't'", 'press = "a"  # ours', 'speed = "1 rpm"']
    new = ['tooling = "u"', 'press = "b"  # ours', 'speed = "2 rpm"']
    assert changed == KEPT.replace("\n".join(old), "\n".join(new))


@pytest.mark.parametrize(
    "text",
    [
        'production = { press = "a" }\n',
        '[production]\nspeed = "1 rpm"\n',
        'name = """\n[production]\npress = "a"\n"""\n[production]\n"press" = "a"\n',
    ],
    ids=["in one line", "no such key", "a text that looks like it"],
)
def test_a_table_that_is_written_otherwise_is_refused(text: str) -> None:
    with pytest.raises(InputError, match=r"allowed: a table \[production\] with a line of"):
        with_keys(text, {"press": "b"})


def test_the_tooling_must_fit_in_python_too() -> None:
    press, tooling = find_press("rotary-pilot-7"), find_tooling("d-flat-16")
    with pytest.raises(InputError, match="made_elsewhere: found rotary-pilot-7, which takes"):
        study_of(LINDEN, (press, tooling))


def test_tables_of_a_study_say_what_made_its_runs(folder: Path) -> None:
    shown = read_study(folder).to_frame()
    assert shown.set_index("run")["made on"]["P1"] == LINDEN
    made_on(folder, {})
    assert "made on" not in read_study(folder).to_frame().columns


def test_a_study_without_production_runs_takes_press_and_speed_of_its_trial(tmp_path: Path) -> None:
    asked = read_study(ROOT / "examples" / "marram", press="rotary-single-31")
    asked = replace(asked, production=replace(asked.production, speed=70.0)).asked_as_own
    write_updated_study(asked, tmp_path / "next", "why")
    made = read_study(tmp_path / "next").production
    assert (made.ids, made.speed) == (LINDEN, 70.0)
