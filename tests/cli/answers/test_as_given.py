"""``--as-given`` on every command that answers: no verdict before it, the doubt as a risk after."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

Command = Callable[..., subprocess.CompletedProcess[str]]
Altered = Callable[..., Path]
FEW = ("--draws", "200")


def in_kgf(lines: list[str]) -> list[str]:
    """Return the runs of marram with kgf under a heading in N."""
    rows = []
    for line in lines:
        cells = line.split(",")
        if line.startswith("M"):
            cells[1] = f"{float(cells[1]) * 1e3 / 9.80665:.0f}"
        rows.append(",".join(cells).replace("force [kN]", "force [N]", 1))
    return rows


@pytest.mark.parametrize("name", ["translate", "judge", "speed"])
def test_an_answer_in_doubt_and_confirmed(command: Command, altered: Altered, name: str) -> None:
    folder = altered("marram", runs=in_kgf)
    doubted = command(name, folder, *FEW)
    assert doubted.returncode == 0
    text = " ".join(doubted.stdout.split())
    assert "not enough evidence Units in doubt: " in text
    assert "kgf taken for N" in text
    given = " ".join(command(name, folder, *FEW, "--as-given").stdout.split())
    assert "not enough evidence" not in given


@pytest.mark.parametrize(
    "words",
    [
        ("trial", "plan", "{}", "--out", "{out}/trial"),
        ("plot", "{}", "pulse", "--out", "{out}/pulse.svg"),
    ],
)
def test_what_has_no_place_for_a_doubt_is_refused(
    command: Command, altered: Altered, tmp_path: Path, words: tuple[str, ...]
) -> None:
    folder = altered("marram", runs=in_kgf)
    out = tmp_path / "out"
    out.mkdir()
    asked = [str(folder) if word == "{}" else word.replace("{out}", str(out)) for word in words]
    refused = command(*asked, *FEW)
    assert refused.returncode == 2
    assert refused.stderr.startswith("scaleup: runs.csv: found units in doubt: ")
    assert refused.stderr.rstrip().endswith("or confirm the figures with --as-given.")
    assert not list(out.iterdir())
    assert command(*asked, *FEW, "--as-given").returncode == 0
    assert list(out.iterdir())


def test_a_page_and_a_ranking_and_a_map_take_it(
    command: Command, altered: Altered, tmp_path: Path
) -> None:
    folder = altered("marram", runs=in_kgf)
    page = tmp_path / "page.html"
    assert command("report", folder, "--out", page, *FEW).returncode == 0
    assert "Units in doubt: " in page.read_text(encoding="utf-8")
    assert command("report", folder, "--out", page, *FEW, "--force", "--as-given").returncode == 0
    ranked = ("compare", folder, "--to", "rotary-mid-19", *FEW)
    assert "against every press: Units in doubt" in command(*ranked).stdout
    assert "against every press" not in command(*ranked, "--as-given").stdout
    window = ("window", folder, "--cells", "6x6", *FEW)
    assert "Units in doubt" in command(*window).stdout
    assert "Units in doubt" not in command(*window, "--as-given").stdout
