"""Streams that are closed, full or gone, and sizes of a terminal that cannot be."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from scaleup.cli.streams import NARROWEST, WIDEST, set_sensible_size

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
TRANSLATE = "translate examples/marram --draws 200"
COMMANDS = {TRANSLATE: 0, f"{TRANSLATE} --json": 0, "profiles": 0, "translate nowhere": 2, "no": 2}
"""Command: its status where nothing is wrong with the streams."""


def shell(line: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Return what a shell makes of a command line, `scaleup` standing for the program."""
    line = line.replace("scaleup ", f"{sys.executable} -W error -m scaleup ")
    return subprocess.run(
        ["bash", "-c", line], capture_output=True, text=True, check=False, cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT), "COLUMNS": "80"} | environment,
    )  # fmt: skip


@pytest.mark.parametrize("words", COMMANDS)
def test_a_closed_output_is_told_in_a_line(words: str) -> None:
    done = shell(f"scaleup {words} >&-")
    assert done.returncode == (COMMANDS[words] or 1)
    assert "Traceback" not in done.stderr
    if done.returncode == 1:
        assert done.stderr == "scaleup: the output: Bad file descriptor\n"


@pytest.mark.parametrize("where", ["2>/dev/full", "2>&-", "2>&- <&-"])
@pytest.mark.parametrize("words", COMMANDS)
def test_a_complaint_that_nobody_can_take_changes_no_status(words: str, where: str) -> None:
    done = shell(f"scaleup {words} {where}")
    assert done.returncode == COMMANDS[words]
    assert bool(done.stdout) == (done.returncode == 0)


def test_a_file_written_is_not_taken_for_a_closed_stream(tmp_path: Path) -> None:
    done = shell(f"scaleup {TRANSLATE} --csv {tmp_path}/out.csv <&- >&- 2>&-")
    assert done.returncode == 1
    lines = (tmp_path / "out.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("match,reachable,")
    assert all(line.count(",") >= 8 for line in lines)


@pytest.mark.parametrize("words", [TRANSLATE, f"{TRANSLATE} --json", "profiles"])
def test_a_reader_that_has_seen_enough_hears_nothing_more(words: str) -> None:
    done = shell(f"scaleup {words} | head -1")
    assert done.stdout.count("\n") == 1
    assert done.stderr == ""


@pytest.mark.parametrize("size", ["0", "-3", "1", "abc", "", "1e9", "²", "9" * 30, "00"])
def test_a_size_that_cannot_be_still_gives_a_screen(size: str) -> None:
    done = shell("scaleup profiles", COLUMNS=size, LINES=size)
    assert done.returncode == 0, done.stderr
    assert "rotary-mid-19" in done.stdout
    assert NARROWEST <= max(map(len, done.stdout.splitlines())) <= WIDEST


@pytest.mark.parametrize(
    ("given", "taken"),
    [("0", None), ("-80", None), ("8O", None), ("1", "40"), ("0100", "100"), ("80", "80"),
     ("160", "160"), ("501", "500"), ("9" * 5000, "500")],
)  # fmt: skip
def test_what_is_taken_of_a_stated_width(
    monkeypatch: pytest.MonkeyPatch, given: str, taken: str | None
) -> None:
    monkeypatch.setenv("COLUMNS", given)
    set_sensible_size()
    assert os.environ.get("COLUMNS") == taken
