"""``scaleup profiles from-record``: what it writes, what it refuses, and a study that uses it."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.logged_production import FESCUE, Pressed, pulse_of, write_log

Command = Callable[..., subprocess.CompletedProcess[str]]
STATED = {
    "--stations": "19",
    "--speed": "45 rpm",
    "--tooling": "b-flat-10",
    "--force-limit": "60 kN",
    "--slowest": "10 rpm",
    "--fastest": "75 rpm",
    "--stiffness": "160 kN/mm",
}


def options(**other: str) -> list[str]:
    given = STATED | {f"--{key.replace('_', '-')}": value for key, value in other.items()}
    return [word for pair in given.items() for word in pair]


@pytest.fixture
def log(tmp_path: Path) -> Path:
    """Return a log of nine tablets on the mid-size press at 45 rpm, with noise."""
    path = tmp_path / "line4.csv"
    write_log(path, pulse_of(Pressed(), 12e3, 45.0), times=9, every=60.0 / 45.0 / 19.0)
    return path


def test_it_writes_a_profile_that_every_command_takes(
    command: Command, log: Path, tmp_path: Path
) -> None:
    study = Path(shutil.copytree(FESCUE, tmp_path / "study"))
    out = study / "presses" / "line4.toml"
    told = command("profiles", "from-record", log, *options(), "--out", out)
    assert told.returncode == 0, told.stderr
    assert "in agreement with 85" in told.stdout
    assert f"wrote {out}" in told.stdout
    assert (study / "presses" / "line4.csv").read_bytes() == log.read_bytes()
    shown = command("profiles", "show", out, "--speed", "45 rpm", "--tooling", "b-flat-10")
    assert "51300 tablets/h" in shown.stdout
    checked = command("profiles", "check", out)
    assert checked.returncode == 0
    assert "no fill" in checked.stdout
    few = ("--to", "line4", "--draws", "300")
    translated = " ".join(command("translate", study, *few).stdout.split())
    assert "logged pulse of line4.csv in agreement with the geometry" in translated
    speed = command("speed", study, "--at", "60 rpm", *few)
    assert speed.returncode == 0, speed.stderr
    budget = " ".join(command("budget", study, *few).stdout.split())
    assert "by line4.csv logged at 45 rpm; ±12 % there" in budget


def test_what_is_from_the_log_and_what_is_not_stands_in_the_file(
    command: Command, log: Path
) -> None:
    """Beside the log, under its name, where nothing else is asked."""
    pre = options(pre_roller="88 mm", pre_force_limit="18 kN")
    told = command("profiles", "from-record", log, *pre)
    assert told.returncode == 0, told.stderr
    text = log.with_suffix(".toml").read_text(encoding="utf-8")
    assert "effective: they stand for the pulse of" in text
    assert re.search(r"# time above 90 %: 19\.\d+ ms logged \(±0\.\d %", text)
    assert re.search(r'pitch_circle = "3\d\d.* mm"  # effective, \d+\.?\d* to \d+', text)
    assert "stated is to be filled in from the data sheet: fill, ejection_limit" in text
    assert 'record_speed = "45 rpm"' in text
    assert '[pre_roller]\nradius = "88 mm"\nforce_limit = "18 kN"' in text


def test_json_has_the_figures(command: Command, log: Path) -> None:
    told = command("profiles", "from-record", log, *options(), "--json")
    form = json.loads(told.stdout)
    assert form["matches"] is True
    assert form["compressions"] == 9
    assert form["lengths"]["pitch_circle"]["low"] < 317.0 < form["lengths"]["pitch_circle"]["high"]
    times = form["times"]["above_90"]
    assert times["solved"] == pytest.approx(times["logged"], rel=0.02)
    assert f"wrote {log.with_suffix('.toml')}" in told.stderr


@pytest.mark.parametrize(
    ("other", "told"),
    [
        ({"speed": "40 rpm"}, ("main compressions a minute; allowed: 760 a minute, as "
                              "19 stations at 40 rpm give. With 19 stations the turret turned")),
        ({"speed": "45"}, "--speed"),
        ({"tooling": "lab-flat-10"}, "no punch head"),
        ({"compression": "44"}, ("--compression: found 44; allowed: a main compression that could "
                                "be measured: 1, 2")),
        ({"name": "a b"}, '--name: found "a b"; allowed: up to 80 letters'),
        ({"out": "x.txt"}, '--out: found the ending ".txt"; allowed: .toml'),
        ({"feed": "hand"}, '--feed: found "hand"; allowed: gravity or forced'),
        ({"pre_roller": "88 mm"}, "--pre-roller: found one without the other"),
        ({"slowest": "50 rpm"}, "record_speed: found 45 rpm; allowed: a speed that the press runs"),
        ({"stations": "0"}, "--stations: found 0; allowed: 1 to 200"),
    ],
    ids=lambda each: "-".join(each) if isinstance(each, dict) else "",
)  # fmt: skip
def test_bad_input_is_one_clear_error_and_nothing_is_written(
    command: Command, log: Path, other: dict[str, str], told: str
) -> None:
    before = set(log.parent.iterdir())
    answer = command("profiles", "from-record", log, *options(**other))
    assert answer.returncode == 2
    assert told in answer.stderr
    assert "Traceback" not in answer.stderr
    assert set(log.parent.iterdir()) == before


def test_a_file_that_is_there_is_kept(command: Command, log: Path) -> None:
    kept = log.with_suffix(".toml")
    kept.write_text("mine", encoding="utf-8")
    assert command("profiles", "from-record", log, *options()).returncode == 2
    assert kept.read_text(encoding="utf-8") == "mine"
    assert command("profiles", "from-record", log, *options(), "--force").returncode == 0
    assert kept.read_text(encoding="utf-8").startswith("# Made from the force log line4.csv")


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('record_speed = "45 rpm"\n', "", "record_speed: found record without record_speed"),
        ('record = "line4.csv"\n', "", "without record"),
        ('"line4.csv"', '"none.csv"', 'no such file "none.csv"'),
        ("compression = ", "compression = 9", "as many as there are"),
        ('force_limit = "60 kN"', 'force_limit = "1 kN"', "record"),
    ],
)
def test_faults_of_the_keys(command: Command, log: Path, old: str, new: str, told: str) -> None:
    command("profiles", "from-record", log, *options())
    path = log.with_suffix(".toml")
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    answer = command("profiles", "check", path)
    assert answer.returncode == 2
    assert told in answer.stderr
