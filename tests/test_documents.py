"""What the documents say is so: commands, code, file names, names of columns and options."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from dataclasses import fields
from pathlib import Path

import pytest

import scaleup
from scaleup.answers.experiments import KINDS
from scaleup.io.run_columns import MEASURED, WORDS
from scaleup.model.experiments import DEFAULT_COSTS, Experiments
from scaleup.model.press import Feeder
from scaleup.model.transfer_terms import TERMS, Blending, TransferTerms
from scaleup.transfer.matches import MATCHES
from scaleup.transfer.verdict import CAUTION

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()
STUDIES = (ROOT / "examples" / "README.md").read_text()
PROFILES = (ROOT / "profiles" / "README.md").read_text()


def test_the_python_of_the_readme_runs() -> None:
    code = re.findall(r"```python\n(.*?)```", README, flags=re.DOTALL)
    assert len(code) == 1
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code[0] + "\nprint(answer.verdict.answer)"],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "transferable with changes"


def test_the_readme_opens_with_the_job_and_has_its_two_commands() -> None:
    assert README.startswith("# scaleup\n\nA formulator")
    assert README.count("# install and run") == 1
    assert README.count("# pass the tests") == 1


def test_the_first_command_installs_what_running_needs_and_the_second_the_test_tools() -> None:
    blocks = dict(re.findall(r"```bash\n# ([a-z ]+)\n(.*?)```", README, flags=re.DOTALL))
    assert re.findall(r"pip install (.*)", blocks["install and run"]) == ["--quiet -e ."]
    assert re.findall(r"pip install (.*)", blocks["pass the tests"]) == ["--quiet -e '.[dev]'"]
    assert "-m pytest" in blocks["pass the tests"]
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    needed, extras = project["dependencies"], project["optional-dependencies"]
    assert not set(needed) & {each for extra in extras.values() for each in extra}
    assert set(extras["cluster"]) <= set(extras["dev"])
    gate = (ROOT / ".ci" / "run").read_text()
    first, _, rest = gate.partition('readme_command "install and run"')
    before_tests = rest.partition('readme_command "pass the tests"')[0]
    for tool in ("pytest", "ruff", "mypy", "lint-imports"):
        assert tool not in before_tests, tool
        assert tool in rest
    assert first


@pytest.mark.parametrize("text", [README, DEVELOPERS, STUDIES, PROFILES])
def test_named_files_exist(text: str) -> None:
    paths = re.findall(r"`((?:examples|profiles|tests|scaleup)/[\w./-]+)`", text)
    assert paths
    for path in paths:
        assert (ROOT / path).exists(), path


def test_every_column_and_match_is_described() -> None:
    for heading in (*MEASURED, *WORDS):
        assert f"`{heading}`" in STUDIES, heading
    for match in MATCHES:
        assert f"`{match}`" in README


def test_the_map_names_every_folder() -> None:
    folders = [
        path.name for path in (ROOT / "scaleup").iterdir() if (path / "__init__.py").exists()
    ]
    for folder in folders:
        if not folder.startswith("_"):
            assert f"`{folder}`" in DEVELOPERS


@pytest.mark.parametrize(
    ("first", "width", "command"),
    [
        ("is this speed all right", 96, ("speed", "examples/marram", "--at", "55 rpm")),
        ("strength in production", 104, ("budget", "examples/marram")),
    ],
)
def test_the_screens_of_the_readme_are_what_the_commands_print(
    first: str, width: int, command: tuple[str, ...]
) -> None:
    blocks = re.findall(r"```text\n(.*?)```", README, flags=re.DOTALL)
    (block,) = [each for each in blocks if each.startswith(first)]
    done = subprocess.run(
        [sys.executable, "-m", "scaleup", *command],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=True,
        cwd=ROOT,
        env=os.environ | {"COLUMNS": str(width), "PYTHONIOENCODING": "utf-8"},
    )
    printed = [line.rstrip() for line in done.stdout.splitlines()]
    at = 0
    for line in block.splitlines():
        assert line in printed[at:], line
        at = printed.index(line, at) + 1


def test_the_caution_of_the_readme_is_the_one_on_every_screen() -> None:
    told = " ".join(README.replace("\n> ", " ").split())
    for sentence in re.findall(r"[^.;]+", CAUTION):
        assert sentence.strip() in told, sentence


def test_every_key_of_the_way_to_the_plant_is_described() -> None:
    for kind in (TransferTerms, Blending, Experiments):
        for key in fields(kind):
            assert f"`{key.name}`" in STUDIES, key.name
    for term in TERMS:
        assert f'`"{term}"`' in STUDIES, term
    for name in ("force_accuracy", "sides", *(key.name for key in fields(Feeder))):
        assert f"`{name}`" in PROFILES, name


def test_every_default_cost_is_as_described() -> None:
    assert {kind.name for kind in KINDS} | {"lab_runs"} == set(DEFAULT_COSTS)
    for name, cost in DEFAULT_COSTS.items():
        (row,) = re.findall(rf"^\| `{name}` \|.*$", STUDIES, flags=re.MULTILINE)
        assert row.endswith(f"| {cost.told} |"), row


def test_every_example_is_listed() -> None:
    for folder in (ROOT / "examples").iterdir():
        if folder.is_dir():
            assert f"`examples/{folder.name}`" in STUDIES


def test_the_version_is_told_alike_and_has_its_changes() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    assert project["version"] == scaleup.__version__
    assert f"**{scaleup.__version__}.**" in DEVELOPERS
