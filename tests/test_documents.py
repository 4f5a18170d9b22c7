"""What the documents say is so: commands, code, file names, names of columns and options."""

from __future__ import annotations

import re
import subprocess
import sys
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
