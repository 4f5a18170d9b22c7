"""A trial on another press than the study's own: planned, filled in, learned, asked again."""

from __future__ import annotations

import csv
import json
import shutil
import subprocess
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

Command = Callable[..., subprocess.CompletedProcess[str]]
FESCUE = Path(__file__).parents[2] / "examples" / "fescue"
OTHER = ("--to", "rotary-single-31", "--tooling", "b-flat-10")
QUICK = ("--draws", "300")
STRONGER = 1.1
"""Strength of the trial's tablets over that predicted."""


def fill_in(sheet: Path) -> None:
    """Fill a sheet in as predicted, but with stronger tablets."""
    lines = sheet.read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    for row in rows:
        row |= {"tablets": "10", "weight [mg]": row["target weight [mg]"]}
        row["thickness [mm]"] = row["predicted thickness [mm]"]
        row["breaking force [N]"] = f"{STRONGER * float(row['predicted breaking force [N]']):.1f}"
    with sheet.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)


@pytest.fixture
def filled(command: Command, tmp_path: Path) -> Path:
    """Return a filled sheet of a trial planned on another press, beside a copy of the study."""
    shutil.copytree(FESCUE, tmp_path / "fescue")
    words = ("trial", "plan", tmp_path / "fescue", *OTHER, "--speed", "50 rpm")
    assert command(*words, "--out", tmp_path / "trial", *QUICK).returncode == 0
    fill_in(tmp_path / "trial" / "trial-sheet.csv")
    return tmp_path / "trial" / "trial-sheet.csv"


def test_a_trial_on_another_press_makes_a_study_of_that_press(
    command: Command, filled: Path, tmp_path: Path
) -> None:
    words = ("trial", "learn", tmp_path / "fescue", filled, *OTHER, "--out", tmp_path / "next")
    learned = command(*words, *QUICK)
    assert learned.returncode == 0, learned.stderr
    told = " ".join(learned.stdout.split())
    where = "production runs were made on rotary-single-31, 2 on rotary-mid-19; each press has its"
    assert where in told
    assert "what the trial on Linden 31-station press (rotary-single-31, b-flat-10) taught" in told

    old, new = (
        tomllib.loads((tmp_path / each / "study.toml").read_text(encoding="utf-8"))
        for each in ("fescue", "next")
    )
    assert new.pop("name") == f"{old.pop('name')}, with its trial"
    changed = {"press": "rotary-single-31", "tooling": "b-flat-10", "speed": "50 rpm"}
    assert new == old | {"production": old["production"] | changed}

    text = (tmp_path / "next" / "runs.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()[1:]))
    made = {row["run"]: row["made on"] for row in rows if row["press"] == "production"}
    assert {name for name, each in made.items() if each} == {"P1", "P2"}
    assert made["P1"] == "rotary-mid-19 b-flat-10"
    assert made["T1"] == ""

    again = command("translate", tmp_path / "next", *QUICK)
    assert where in " ".join(again.stdout.split())
    form = json.loads(command("translate", tmp_path / "next", "--json", *QUICK).stdout)
    assert form["production"]["press"] == "rotary-single-31"
    assert form["production"]["speed"]["value"] == 50.0
    of_trial, of_before = form["powder"]["production_runs"]
    assert (of_trial["press"], of_before["press"]) == ("rotary-single-31", "rotary-mid-19")
    gained = of_trial["strength_factor"]["value"] / of_before["strength_factor"]["value"]
    assert 1.03 < gained < STRONGER + 0.03  # drawn towards what is believed of the factor


def test_a_trial_on_another_press_is_not_taken_for_one_on_the_own(
    command: Command, filled: Path, tmp_path: Path
) -> None:
    done = command(
        "trial", "learn", tmp_path / "fescue", filled, "--out", tmp_path / "next", *QUICK
    )
    assert done.returncode == 2
    assert "found a trial planned on rotary-single-31; allowed: rotary-mid-19" in done.stderr
    assert "Say --to and --tooling as the trial was planned." in done.stderr
    assert not (tmp_path / "next").exists()


def test_a_production_run_of_before_is_still_imitated_on_its_own_press(
    command: Command, filled: Path, tmp_path: Path
) -> None:
    words = ("trial", "learn", tmp_path / "fescue", filled, *OTHER, "--out", tmp_path / "next")
    assert command(*words, *QUICK).returncode == 0
    back = ("translate", tmp_path / "next", "--from-production", "--json", *QUICK)
    presses = {
        run: json.loads(command(*back, "--run", run).stdout)["production"]["press"]
        for run in ("P1", "T1")
    }
    assert presses == {"P1": "rotary-mid-19", "T1": "rotary-single-31"}
