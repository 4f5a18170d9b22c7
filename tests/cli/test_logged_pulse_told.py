"""Whether the pulse of a logged press is the one of its profile, as screens and JSON tell it."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.logged_production import Pressed, with_logs

Command = Callable[..., subprocess.CompletedProcess[str]]
FEW = ("--draws", "300")


def one_line(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.slow
def test_agreement_is_told_and_is_no_risk(command: Command, tmp_path: Path) -> None:
    study = with_logs(tmp_path / "study", {"P2": Pressed()})
    told = one_line(command("translate", study, *FEW).stdout)
    assert "logged pulse of run P2 in agreement with the geometry of the profile: 14.6 ms" in told
    assert "is not the one that the geometry" not in told
    judged = one_line(command("judge", study, *FEW).stdout)
    assert "logged pulse of run P2 in agreement with the geometry of the profile" in judged
    form = json.loads(command("translate", study, *FEW, "--json").stdout)
    (log,) = form["logged_pulses"]
    assert (log["log"], log["conflict"], log["speed"]["value"]) == ("run P2", False, 60.0)
    geometry = log["above_90"]["from_geometry"]
    assert geometry["low"] < log["above_90"]["logged"] < geometry["high"]


def test_conflict_is_told_with_its_numbers(command: Command, tmp_path: Path) -> None:
    study = with_logs(tmp_path / "study", {"P2": Pressed(clock=0.5)})
    told = one_line(command("translate", study, *FEW).stdout)
    assert "logged pulse of run P2 in conflict with the geometry" in told
    assert "serious The logged pulse of run P2 at 60 rpm is not the one that the geometry" in told
    assert "pitch_circle (a diameter) in profiles/presses/rotary-mid-19.toml" in told
    assert "measured pulse" in one_line(command("budget", study, *FEW).stdout)


@pytest.mark.slow
def test_without_a_log_nothing_is_told_of_one(command: Command, tmp_path: Path) -> None:
    study = with_logs(tmp_path / "study", {})
    form = json.loads(command("translate", study, *FEW, "--json").stdout)
    assert form["logged_pulses"] == []
    told = command("translate", study, *FEW).stdout + command("budget", study, *FEW).stdout
    assert "logged pulse" not in one_line(told)
    assert "measured pulse" not in one_line(told)
