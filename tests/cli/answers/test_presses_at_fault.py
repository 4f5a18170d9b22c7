"""A press at fault beside good ones: one row with its reason, wherever presses are ranked."""

from __future__ import annotations

import csv
import json
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from scaleup.answers.many import compare_many

ROOT = Path(__file__).parents[3]
PRESSES = ROOT / "profiles" / "presses"
FEW = ("--draws", "200")
Command = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """Return a study with presses at fault beside it, one of them only with its tooling."""
    folder = Path(shutil.copytree(ROOT / "examples" / "marram", tmp_path / "study"))
    beside = folder / "presses"
    beside.mkdir()
    (beside / "broken.toml").write_text("kind = ")
    mid = (PRESSES / "rotary-mid-19.toml").read_text(encoding="utf-8")
    (beside / "soft.toml").write_text(mid.replace("160 kN/mm", "160 N/mm"))
    # What the check passes for heads rounded by 16 mm, heads rounded by 80 mm do not allow.
    stated = (PRESSES / "rotary-stated-17.toml").read_text(encoding="utf-8")
    (beside / "stated.toml").write_text(stated.replace("149.1", "230"))
    tooling = (ROOT / "profiles" / "tooling" / "b-flat-10.toml").read_text(encoding="utf-8")
    (folder / "tooling").mkdir()
    (folder / "tooling" / "b-flat-10.toml").write_text(tooling.replace("15.9 mm", "80 mm"))
    return folder


def test_a_press_at_fault_is_one_row_beside_the_others(
    command: Command, study: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out.csv"
    done = command("compare", study, *FEW, "--json", "--csv", out)
    assert done.returncode == 0, done.stderr
    form = json.loads(done.stdout)
    reasons = {each["press"]: each["reason"] for each in form["at_fault"]}
    assert set(reasons) == {"broken", "soft", "stated"}
    assert 'Did you mean "160 kN/mm"?' in reasons["soft"]
    assert "roller radius by the stated values" in reasons["stated"]
    assert "a line that is not TOML" in reasons["broken"]
    ranked = [each["press"] for each in form["candidates"]]
    assert "rotary-mid-19" in ranked
    rows = list(csv.DictReader(out.read_text(encoding="utf-8").splitlines()))
    assert [row["press"] for row in rows] == [*ranked, *reasons]
    assert [row["reason"] for row in rows if not row["rank"]] == list(reasons.values())


def test_the_screen_tells_what_is_wrong_with_it(command: Command, study: Path) -> None:
    done = command("compare", study, *FEW, "--to", "soft", "--to", "rotary-mid-19")
    assert done.returncode == 0, done.stderr
    shown = " ".join(done.stdout.split())
    assert "- soft no n/a n/a n/a n/a profile at fault" in shown
    assert "soft is at fault presses/soft.toml: stiffness" in shown


def test_where_every_press_is_at_fault_the_command_ends_so(command: Command, study: Path) -> None:
    done = command("compare", study, *FEW, "--to", "soft", "--to", "stated")
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 2


def test_many_studies_go_on_past_a_press_at_fault(study: Path) -> None:
    rows = list(compare_many([study], ["soft", "rotary-mid-19"], draws=200))
    assert [(row.press, row.speed is None) for row in rows] == [
        ("rotary-mid-19", False),
        ("soft", True),
    ]
    assert "160 N/mm" in rows[1].reason


def test_a_fault_leaves_nothing_half_shown(command: Command, study: Path) -> None:
    path = study / "presses" / "stated.toml"
    done = command("profiles", "show", path, "--tooling", "b-flat-10")
    assert done.returncode == 2
    assert done.stdout == ""
