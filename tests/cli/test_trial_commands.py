"""``scaleup trial``, ``report`` and ``plot`` as commands: files whole or not at all."""

from __future__ import annotations

import hashlib
import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from scaleup.show import printing

pytestmark = pytest.mark.slow

Command = Callable[..., subprocess.CompletedProcess[str]]
EXAMPLES = Path(__file__).parents[2] / "examples"
MARRAM = EXAMPLES / "marram"
SHEET = MARRAM / "trial-sheet.csv"
QUICK = ("--draws", "300")


def test_a_plan_is_six_files_and_never_replaced_unasked(command: Command, tmp_path: Path) -> None:
    out = tmp_path / "trial"
    done = command("trial", "plan", MARRAM, "--out", out, *QUICK)
    assert done.returncode == 0
    names = {path.name for path in out.iterdir()}
    assert names == {
        "trial-sheet.csv", "trial-sheet.xlsx", "trial-samples.csv", "trial-tablets.csv",
        "trial-plan.html", "trial-plan.json",
    }  # fmt: skip
    (out / "trial-sheet.xlsx").unlink()
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    again = command("trial", "plan", MARRAM, "--out", out, *QUICK)
    assert again.returncode == 2
    assert "a file that exists" in again.stderr
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before
    forced = command("trial", "plan", MARRAM, "--out", out, "--force", *QUICK)
    assert forced.returncode == 0
    assert {path.name for path in out.iterdir()} == names


def test_options_of_a_plan_are_used(command: Command, tmp_path: Path) -> None:
    words = ("--tablets", "7", "--minutes", "2 min", "--hold-up", "3 kg", "--json")
    done = command("trial", "plan", MARRAM, "--out", tmp_path / "t", *words, *QUICK)
    plan = json.loads(done.stdout)
    assert plan["format"] == "scaleup trial plan 1"
    assert {run["tablets"] for run in plan["runs"]} == {7}
    assert plan["powder"]["value"] > 3e6
    assert plan["time"]["value"] == len(plan["runs"]) * 7 * 60.0


@pytest.mark.parametrize(
    "words",
    [("--tablets", "0"), ("--minutes", "3"), ("--hold-up", "3 kN"), ("--to", "rotary-large-23")],
)
def test_bad_options_write_nothing(
    command: Command, tmp_path: Path, words: tuple[str, ...]
) -> None:
    done = command("trial", "plan", MARRAM, "--out", tmp_path / "t", *words, *QUICK)
    assert done.returncode == 2
    assert done.stderr.startswith("scaleup: --")
    assert not (tmp_path / "t").exists()


def test_what_was_learned_is_printed_and_written_beside(command: Command, tmp_path: Path) -> None:
    done = command("trial", "learn", MARRAM, SHEET, "--out", tmp_path / "next", *QUICK)
    assert done.returncode == 0
    for text in ("feeder factor", "outside", "left blank: T7", "verdict now"):
        assert text in done.stdout
    again = command("translate", tmp_path / "next", "--json", *QUICK)
    assert json.loads(again.stdout)["powder"]["evidence"] == "measured"


def test_a_typing_mistake_in_the_sheet_is_named_by_cell(command: Command, tmp_path: Path) -> None:
    text = SHEET.read_text(encoding="utf-8").replace(",no,", ",perhaps,", 1)
    (tmp_path / "sheet.csv").write_text(text, encoding="utf-8")
    done = command("trial", "learn", MARRAM, tmp_path / "sheet.csv", *QUICK)
    assert done.returncode == 2
    assert "sheet.csv: cell AN3" in done.stderr
    assert "no or yes" in done.stderr


def test_a_report_is_one_file(command: Command, tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    done = command("report", MARRAM, "--sheet", SHEET, "--out", out, *QUICK)
    assert done.returncode == 0
    text = out.read_text(encoding="utf-8")
    assert text.count("<figure>") == 6
    assert "What the trial taught" in text
    assert hashlib.sha256(SHEET.read_bytes()).hexdigest() in text
    assert command("report", MARRAM, "--out", out, *QUICK).returncode == 2
    wrong = command("report", MARRAM, "--out", tmp_path / "page.pdf", *QUICK)
    assert "ending in .html" in wrong.stderr


def test_without_a_browser_a_pdf_is_refused_and_nothing_written(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(printing, "browser", lambda: None)
    done = command("report", MARRAM, "--out", tmp_path / "page.html", "--pdf", *QUICK)
    assert done.returncode == 2
    assert "no browser" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_single_pictures(command: Command, tmp_path: Path) -> None:
    for name, suffix, head in (("pulse", "svg", b"<svg"), ("window", "png", b"\x89PNG")):
        out = tmp_path / f"{name}.{suffix}"
        assert command("plot", MARRAM, name, "--out", out, *QUICK).returncode == 0
        assert out.read_bytes().startswith(head)
    wrong = command("plot", MARRAM, "windo", "--out", tmp_path / "x.svg", *QUICK)
    assert "Did you mean window" in wrong.stderr
    assert command("plot", MARRAM, "pulse", "--out", tmp_path / "x.gif", *QUICK).returncode == 2
