"""What lies between lab and plant on the screens, and a fault of it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from tests.cli.conftest import Command
from tests.studies import EXAMPLES

FEW = ("--draws", "200")


@pytest.fixture
def marram(tmp_path: Path) -> Path:
    """Return a copy of an example study."""
    return Path(shutil.copytree(EXAMPLES / "marram", tmp_path / "marram"))


def stating(folder: Path, lines: str) -> Path:
    file = folder / "study.toml"
    file.write_text(f"{file.read_text(encoding='utf-8')}\n{lines}\n", encoding="utf-8")
    return folder


def words(text: str) -> str:
    """Return a screen as one line of words, however wide it was."""
    return " ".join(text.split())


@pytest.mark.parametrize("columns", ["80", "160"])
@pytest.mark.parametrize("asked", ["translate", "speed", "budget"])
def test_terms_that_are_off_are_told(
    marram: Path, command: Command, monkeypatch: pytest.MonkeyPatch, asked: str, columns: str
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    plain = command(asked, marram, *FEW)
    assert plain.returncode != 2, plain.stderr
    assert "left out" not in words(plain.stdout)
    ended = command(asked, stating(marram, '[transfer]\noff = ["lot", "shear"]'), *FEW)
    assert ended.returncode != 2, ended.stderr
    assert "left out, as the study asks: lot, shear" in words(ended.stdout)
    assert "the mean of the next production batch" in words(ended.stdout)


def test_the_budget_in_json_has_what_is_off(marram: Path, command: Command) -> None:
    ended = command("budget", stating(marram, '[transfer]\noff = ["lot"]'), "--json", *FEW)
    assert json.loads(ended.stdout)["off"] == ["lot"]
    assert '"batch to batch"' not in ended.stdout


@pytest.mark.parametrize("asked", ["translate", "judge", "budget"])
def test_a_lower_punch_force_above_the_upper_one_ends_with_status_2(
    marram: Path, command: Command, asked: str
) -> None:
    file = marram / "runs.csv"
    rows = file.read_text(encoding="utf-8").splitlines()
    rows = [row if row.startswith("#") else f"{row}," for row in rows]
    rows[2] = f"{rows[2]}lower punch force [kN]"
    rows[4] = f"{rows[4]}6.40"
    file.write_text("\n".join(rows) + "\n", encoding="utf-8")
    ended = command(asked, marram, *FEW)
    assert ended.returncode == 2
    assert not ended.stdout
    assert "line 5, column lower punch force" in words(ended.stderr)
    assert "Traceback" not in ended.stderr


def test_no_budget_is_told_of_runs_whose_units_are_in_doubt(marram: Path, command: Command) -> None:
    """Breaking forces written in kgf under a heading in N: a strength that no tablet has."""
    file = marram / "runs.csv"
    lines = file.read_text(encoding="utf-8").splitlines()
    head, *rows = [line for line in lines if not line.startswith("#")]
    place = next(at for at, cell in enumerate(head.split(",")) if cell.startswith("breaking force"))
    cells = [row.split(",") for row in rows]
    for row in cells:
        row[place] = f"{float(row[place]) * 9.80665:.1f}"
    file.write_text("\n".join([head, *map(",".join, cells)]) + "\n", encoding="utf-8")
    ended = command("budget", marram, *FEW)
    assert ended.returncode == 2
    assert "breaking force" in ended.stderr
    assert not ended.stdout


@pytest.mark.parametrize(
    "line",
    [
        "lot_strength = 0.0",
        "wall_friction_factor = 1.0",
        "gauge_ratio = 3.0",
        "shear = 0.1",
        'thickness_accuracy = "0 mm"',
        'weight_accuracy = "0 mg"',
        "tester_accuracy = 0.0",
        "curvature = 0.0",
    ],
)
def test_a_term_that_would_count_for_nothing_or_for_more_than_sense_ends_with_status_2(
    marram: Path, command: Command, line: str
) -> None:
    ended = command("translate", stating(marram, f"[transfer]\n{line}"), *FEW)
    assert ended.returncode == 2
    assert line.partition(" = ")[0] in ended.stderr
    assert "allowed" in ended.stderr
