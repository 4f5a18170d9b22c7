"""Answers of the command line: each asked once in a session, refusals, and studies altered."""

from __future__ import annotations

import csv
import json
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import pytest

EXAMPLES = Path(__file__).parents[3] / "examples"
FEW = ("--draws", "200")
Command = Callable[..., subprocess.CompletedProcess[str]]
Screen = Callable[..., str]
Table = Callable[..., list[dict[str, str]]]
Ask = Callable[..., dict[str, Any]]
Refused = Callable[..., str]
Altered = Callable[..., Path]


@dataclass
class Given:
    """What a command printed, and the table it wrote beside it."""

    printed: str
    table: str


@pytest.fixture(scope="session")
def given() -> dict[tuple[str, ...], Given]:
    """Return the answers of this session by what was asked."""
    return {}


@pytest.fixture
def answer(
    command: Command,
    given: dict[tuple[str, ...], Given],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path_factory: pytest.TempPathFactory,
) -> Callable[..., Given]:
    """Return what a command gives in 80 columns; it must succeed and complain of nothing."""
    monkeypatch.setenv("COLUMNS", "80")

    def once(*words: str | Path) -> Given:
        asked = (*map(str, words), *FEW)
        if asked not in given:
            file = tmp_path_factory.mktemp("table") / "out.csv"
            done = command(*asked, "--csv", file)
            assert done.returncode == 0, done.stderr
            assert done.stderr == ""
            given[asked] = Given(done.stdout, file.read_text(encoding="utf-8"))
        return given[asked]

    return once


@pytest.fixture
def screen(answer: Callable[..., Given]) -> Screen:
    """Return what a command prints in 80 columns."""
    return lambda *words: answer(*words).printed


@pytest.fixture
def table(answer: Callable[..., Given]) -> Table:
    """Return the lines of the table that a command writes, by their headings."""
    return lambda *words: list(csv.DictReader(answer(*words, "--json").table.splitlines()))


@pytest.fixture
def ask(screen: Screen) -> Ask:
    """Return the JSON of a command; a number that strict JSON does not know fails."""

    def form(*words: str | Path) -> dict[str, Any]:
        found = json.loads(screen(*words, "--json"), parse_constant=pytest.fail)
        assert isinstance(found, dict)
        return found

    return form


@pytest.fixture
def refused(command: Command, tmp_path: Path) -> Refused:
    """Return the complaints of a command that must end with status 2 and write nothing."""

    def complaints(*words: str | Path, faults: int = 1) -> str:
        file = tmp_path / "must_not_be_written.csv"
        done = command(*words, "--csv", file)
        assert done.returncode == 2, done.stdout + done.stderr
        assert done.stdout == ""
        lines = done.stderr.splitlines()
        assert len(lines) == faults, done.stderr
        for line in lines:
            assert line.startswith("scaleup: ")
            assert "found " in line
            assert "; allowed: " in line
            assert line.isprintable()
        assert not file.exists()
        return done.stderr

    return complaints


@pytest.fixture
def altered(tmp_path: Path) -> Altered:
    """Return an example with changes: of the text of its study, and of the lines of its runs."""

    def copy(
        name: str,
        *replaced: tuple[str, str],
        runs: Callable[[list[str]], list[str]] = lambda lines: lines,
    ) -> Path:
        folder = Path(mkdtemp(dir=tmp_path)) / name  # a new one: answers are kept by their path
        shutil.copytree(EXAMPLES / name, folder)
        text = (folder / "study.toml").read_text()
        for old, new in replaced:
            assert text.count(old) == 1, f"{old} is in the study {text.count(old)} times"
            text = text.replace(old, new)
        (folder / "study.toml").write_text(text)
        lines = (folder / "runs.csv").read_text().splitlines()
        (folder / "runs.csv").write_text("\n".join(runs(lines)) + "\n")
        return folder

    return copy
