"""``scaleup compare`` of many studies: one row each, resumed, interrupted, on workers."""

from __future__ import annotations

import csv
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from scaleup.answers import many
from scaleup.answers.functions import compare
from scaleup.io.study import read_study

EXAMPLES = Path(__file__).parents[2] / "examples"
ASKED = ("--to", "rotary-mid-19", "--draws", "200")
Command = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def studies(tmp_path: Path) -> list[Path]:
    """Return three studies, the second of them at fault."""
    folders = [tmp_path / name for name in ("one", "broken", "three")]
    for folder, source in zip(folders, ("marram", "marram", "dunlin"), strict=True):
        shutil.copytree(EXAMPLES / source, folder)
    text = (folders[1] / "study.toml").read_text()
    (folders[1] / "study.toml").write_text(text.replace("b-flat-10", "b-none"))
    return folders


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return the names of the studies that are compared from now on."""
    names: list[str] = []

    def once(study: Any, *presses: Any, **asked: Any) -> Any:
        names.append(Path(study.folder).name)
        return compare(study, *presses, **asked)

    monkeypatch.setattr(many, "compare", once)
    return names


def rows_of(file: Path) -> list[dict[str, str]]:
    head, *lines = file.read_text(encoding="utf-8").splitlines()
    assert head.startswith("# scaleup compare: version ")
    return list(csv.DictReader(lines))


def test_each_study_is_a_row_and_one_at_fault_stops_none(
    command: Command, studies: list[Path], tmp_path: Path
) -> None:
    file = tmp_path / "many.csv"
    done = command("compare", *studies, *ASKED, "--csv", file, "--json")
    assert done.returncode == 0, done.stderr
    rows = json.loads(done.stdout)["rows"]
    assert [row["study"] for row in rows] == [str(each) for each in studies]
    assert [row["answer"] for row in rows] == ["yes", "at fault", "yes"]
    assert "b-none" in rows[1]["reason"]
    alone = compare(read_study(studies[0]), ["rotary-mid-19"], draws=200).candidates[0]
    assert rows[0]["output"]["value"] == alone.output.value
    assert rows[0]["speed"]["value"] == alone.speed.value
    written = rows_of(file)
    assert [row["study"] for row in written] == [str(each) for each in studies]
    assert float(written[0]["output [1/h]"]) == alone.output.value
    assert written[1]["output [1/h]"] == ""


def test_the_screen_has_a_row_for_each(command: Command, studies: list[Path]) -> None:
    done = command("compare", *studies, *ASKED)
    assert done.returncode == 0
    assert done.stderr == ""
    told = " ".join(done.stdout.split())
    assert "75 rpm 85500" in told
    assert told.count(" at fault ") == 1
    assert 'found the unknown tooling "b-none"' in told


def test_where_every_study_is_at_fault_the_command_says_so(
    command: Command, studies: list[Path], tmp_path: Path
) -> None:
    done = command("compare", studies[1], tmp_path / "none", *ASKED)
    assert done.returncode == 2
    assert "found no study without a fault" in done.stderr


def test_what_is_there_is_not_done_again(
    command: Command, studies: list[Path], tmp_path: Path, counted: list[str]
) -> None:
    file, asked = tmp_path / "many.csv", (*studies, *ASKED, "--csv", tmp_path / "many.csv")
    assert command("compare", *asked).returncode == 0
    whole = file.read_bytes()
    assert counted == ["one", "three"]
    first = command("compare", *asked, "--json")
    assert counted == ["one", "three"]
    assert sorted(file.read_bytes().splitlines()) == sorted(whole.splitlines())
    assert [row["answer"] for row in json.loads(first.stdout)["rows"]] == ["yes", "at fault", "yes"]
    shutil.copy(EXAMPLES / "marram" / "study.toml", studies[1])  # the fault is mended
    runs = studies[2] / "runs.csv"
    runs.write_text(runs.read_text() + "\n")  # and another study is not what it was
    assert command("compare", *asked).returncode == 0
    assert counted == ["one", "three", "broken", "three"]
    assert [row["answer"] for row in rows_of(file)] == ["yes", "yes", "yes"]


@pytest.mark.parametrize(
    "left", [40, *(pytest.param(each, marks=pytest.mark.slow) for each in (1, 120, 400))]
)
def test_a_line_that_was_not_finished_is_repaired(
    command: Command, studies: list[Path], tmp_path: Path, counted: list[str], left: int
) -> None:
    file, asked = tmp_path / "many.csv", ("--to", "rotary-mid-19", "--to", "rotary-pilot-7")
    words = (studies[0], studies[2], *asked, "--draws", "200", "--csv", file)
    assert command("compare", *words).returncode == 0
    whole = file.read_bytes()
    file.write_bytes(whole[:-left])
    counted.clear()
    assert command("compare", *words).returncode == 0
    assert counted == ["three"]
    assert file.read_bytes() == whole


def test_a_table_of_other_options_is_refused(
    command: Command, studies: list[Path], tmp_path: Path
) -> None:
    file = tmp_path / "many.csv"
    assert command("compare", *studies[:2], *ASKED, "--csv", file).returncode == 0
    before = file.read_bytes()
    done = command("compare", *studies[:2], *ASKED, "--seed", "2", "--csv", file)
    assert done.returncode == 2
    assert "found the table of another comparison (seed 1); allowed: seed 2" in done.stderr
    assert file.read_bytes() == before
    other = tmp_path / "mine.csv"
    other.write_text("mine\n")
    done = command("compare", *studies[:2], *ASKED, "--csv", other)
    assert done.returncode == 2
    assert "no table of many studies" in done.stderr
    assert other.read_text() == "mine\n"
    assert command("compare", *studies[:2], *ASKED, "--csv", other, "--force").returncode == 0
    assert len(rows_of(other)) == 2


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--workers", "0"), "--workers: found 0; allowed: 1 to 256"),
        (("--workers", "2", "--scheduler", "tcp://a:1"), "--workers: found both --workers and"),
        (("--csv", "."), "found a folder; allowed: a file"),
        (("--csv", "none/many.csv"), "found no such folder"),
    ],
)
def test_what_cannot_be_done_is_refused(
    command: Command, studies: list[Path], words: tuple[str, ...], told: str
) -> None:
    done = command("compare", *studies, *ASKED, *words)
    assert done.returncode == 2
    assert told in done.stderr
    assert done.stdout == ""


def test_without_the_client_it_is_told_how_to_install_it(
    command: Command, studies: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    done = command("compare", *studies, *ASKED, "--scheduler", "tcp://127.0.0.1:8786")
    assert done.returncode == 2
    assert "--scheduler: found no client of a cluster" in done.stderr
    assert "pip install 'scaleup[cluster]'" in done.stderr


def test_an_address_without_scheduler_is_refused(command: Command, studies: list[Path]) -> None:
    done = command("compare", *studies, *ASKED, "--scheduler", "nonsense")
    assert done.returncode == 2
    assert '--scheduler: found "nonsense"' in done.stderr


@pytest.mark.slow
def test_workers_give_the_same_rows(command: Command, studies: list[Path], tmp_path: Path) -> None:
    alone = command("compare", *studies, *ASKED, "--json")
    shared = command("compare", *studies, *ASKED, "--json", "--workers", "2")
    assert shared.returncode == 0, shared.stderr
    assert shared.stdout == alone.stdout


@pytest.mark.slow
def test_an_interruption_keeps_what_is_written(studies: list[Path], tmp_path: Path) -> None:
    file, begun = tmp_path / "many.csv", tmp_path / "begun"
    os.mkfifo(begun)
    more = [tmp_path / f"more{number}" for number in range(4)]
    for folder in more:
        shutil.copytree(EXAMPLES / "marram", folder)
    words = ["compare", *map(str, (studies[0], *more)), *ASKED, "--csv", str(file)]
    # The first row that is written sends what Ctrl-C sends, to the command and its workers.
    code = (
        "import os, signal, scaleup.cli.many_file as table; from scaleup.cli import run\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"  # ignored in a background job
        "write = table._lines\n"
        "def lines(rows):\n"
        "    if rows: os.killpg(0, signal.SIGINT)\n"
        "    return write(rows)\n"
        "if __name__ == '__main__':\n"
        "    table._lines = lines\n"
        "    run()\n"
    )
    script = tmp_path / "script.py"
    script.write_text(code)
    done = subprocess.run(
        [sys.executable, str(script), *words, "--workers", "2"],
        capture_output=True, text=True, check=False, start_new_session=True,
    )  # fmt: skip
    assert done.returncode == 130, done.stderr
    assert done.stdout == ""
    assert done.stderr == f"scaleup: interrupted; after {file} had been written\n"
    assert file.read_text().startswith("# scaleup compare: ")
