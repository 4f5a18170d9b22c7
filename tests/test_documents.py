"""What the documents say is so: commands, code, file names, names of columns and options."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from scaleup.io.run_columns import MEASURED, WORDS
from scaleup.transfer.matches import MATCHES

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
    assert done.stdout.strip() == "transferable"


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
