"""The command line in this process."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from scaleup.cli import main

Command = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    """Return the command line in this process, so that whatever it lets slip fails the test."""

    def run(*words: str | Path) -> subprocess.CompletedProcess[str]:
        arguments = ["scaleup", *map(str, words)]
        monkeypatch.setattr(sys, "argv", arguments)
        with pytest.raises(SystemExit) as ended:
            main()
        told = capsys.readouterr()
        assert isinstance(ended.value.code, int)
        return subprocess.CompletedProcess(arguments, ended.value.code, told.out, told.err)

    return run
