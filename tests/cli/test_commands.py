"""The command line in anger: what it prints, writes, refuses, and how it ends."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
SETTINGS = {
    "main_pressure", "main_force", "precompression_force", "turret_speed", "output", "fill_depth",
    "tip_separation", "dwell_time", "effective_dwell", "time_above_90", "contact_time",
    "punch_velocity", "strain_rate",
}  # fmt: skip
TABLET = {
    "weight", "solid_fraction", "thickness", "tensile_strength", "breaking_force",
    "ejection_force",
}  # fmt: skip
FEW = ("--draws", "300")


def run(
    *words: str | Path, cwd: Path = ROOT, **environment: str
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-W", "error", "-m", "scaleup", *map(str, words)],
        capture_output=True,
        text=True,
        check=False,
        cwd=cwd,
        env=os.environ | {"PYTHONPATH": str(ROOT), "COLUMNS": "80"} | environment,
    )


@pytest.fixture
def marram(tmp_path: Path) -> Path:
    return Path(shutil.copytree(ROOT / "examples" / "marram", tmp_path / "marram"))


def answer(*words: str | Path) -> dict[str, Any]:
    done = run("translate", *words, *FEW, "--json")
    assert done.returncode == 0, done.stderr
    form = json.loads(done.stdout, parse_constant=pytest.fail)
    assert isinstance(form, dict)
    return form


def quantities(form: Any) -> list[dict[str, Any]]:
    if isinstance(form, dict):
        if "unit" in form and "value" in form:
            return [form]
        return [found for each in form.values() for found in quantities(each)]
    if isinstance(form, list):
        return [found for each in form for found in quantities(each)]
    return []


def test_json_has_the_fixed_shape(marram: Path) -> None:
    form = answer(marram)
    fixed = {
        "format", "tool", "inputs", "seed", "study", "lab", "production", "powder", "equivalents",
        "risks", "verdict", "caution",
    }  # fmt: skip
    assert fixed <= set(form)
    assert form["format"] == "scaleup translation 1"
    assert [item["match"] for item in form["equivalents"]] == [
        "pressure", "solid-fraction", "strength", "dwell",
    ]  # fmt: skip
    for item in form["equivalents"]:
        assert {"match", "reachable", "reason", "settings", "tablet"} <= set(item)
        assert set(item["settings"]) == SETTINGS
        assert set(item["tablet"]) == TABLET
    for risk in form["risks"]:
        assert set(risk) == {"code", "severity", "message", "evidence", "action"}
    for quantity in quantities(form):
        assert {"value", "unit", "low", "high"} <= set(quantity)
        assert quantity["value"] is not None or quantity["reason"]


def test_inputs_carry_the_hash_of_what_was_read(marram: Path) -> None:
    form = answer(marram)
    digests = {item["file"]: item["sha256"] for item in form["inputs"]}
    for name in ("study.toml", "runs.csv"):
        assert digests[name] == hashlib.sha256((marram / name).read_bytes()).hexdigest()
    press = ROOT / "profiles" / "presses" / "rotary-mid-16.toml"
    shown = "profiles/presses/rotary-mid-16.toml"
    assert digests[shown] == hashlib.sha256(press.read_bytes()).hexdigest()


def test_same_seed_same_bytes(marram: Path) -> None:
    first, again, other = (
        run("translate", marram, *FEW, "--json", "--seed", seed).stdout for seed in ("3", "3", "4")
    )
    assert first == again
    assert first != other


def test_csv_holds_what_json_holds_and_is_not_overwritten(marram: Path, tmp_path: Path) -> None:
    file = tmp_path / "out.csv"
    assert run("translate", marram, *FEW, "--csv", file).returncode == 0
    rows = list(csv.DictReader(file.read_text().splitlines()))
    form = answer(marram)
    for item in form["equivalents"]:
        of_match = {row["quantity"]: row for row in rows if row["match"] == item["match"]}
        for name, quantity in (item["settings"] | item["tablet"]).items():
            written = of_match[name]
            assert (written["value"] or None) == (
                None if quantity["value"] is None else str(quantity["value"])
            )
            assert written["unit"] == quantity["unit"]
    before = file.read_bytes()
    again = run("translate", marram, *FEW, "--csv", file)
    assert again.returncode == 2
    assert "exists" in again.stderr
    assert file.read_bytes() == before
    assert run("translate", marram, *FEW, "--csv", file, "--force").returncode == 0


def test_strict_ends_with_three_only_for_a_severe_risk(marram: Path) -> None:
    assert run("translate", ROOT / "examples" / "sedge", *FEW, "--strict").returncode == 3
    assert run("translate", marram, *FEW, "--strict").returncode == 0


def test_options_override_the_study(marram: Path) -> None:
    form = answer(marram, "--to", "rotary-single-36", "--speed", "60 rpm", "--confidence", "95 %")
    assert form["production"]["press"] == "rotary-single-36"
    assert form["production"]["speed"]["value"] == pytest.approx(60.0)
    assert form["study"]["confidence"] == pytest.approx(0.95)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--speed", "45"), "--speed: found"),
        (("--speed", "45 mm"), "--speed: found"),
        (("--speed", "-3 rpm"), "--speed: found"),
        (("--speed", "1e300 rpm"), "--speed: found"),
        (("--confidence", "130 %"), "--confidence: found 1.3"),
        (("--draws", "0"), "--draws: found 0; allowed: 200 to 200000"),
        (("--seed", "-1"), "--seed: found -1"),
        (("--to", "rotary-mid-61"), "rotary-mid-16"),
        (("--to", "lab-hydraulic"), "a press of kind rotary"),
        (("--tooling", "b-flat-11"), "b-flat-10"),
        (("--tooling", "lab-flat-10"), "no punch head"),
    ],
)
def test_a_wrong_option_is_one_clear_line(marram: Path, words: tuple[str, ...], said: str) -> None:
    done = run("translate", marram, *words)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("scaleup: ")
    assert done.stderr.count("\n") == 1
    assert said in done.stderr


DAMAGE: dict[str, tuple[str, str, str]] = {
    "no format": ("study.toml", 'format = "scaleup study 1"\n', ""),
    "bare number": ("study.toml", '"45 rpm"', "45"),
    "wrong dimension": ("study.toml", '"45 rpm"', '"45 kN"'),
    "unknown key": ("study.toml", "speed =", "sped ="),
    "broken toml": ("study.toml", "[lab]", "[lab"),
    "unknown press": ("study.toml", '"rotary-mid-16"', '"rotary-mid"'),
    "unknown reference": ("study.toml", '"M4"', '"M44"'),
    "shares": ("study.toml", '"68 %"', '"58 %"'),
    "runs outside": ("study.toml", '"runs.csv"', '"../runs.csv"'),
    "control character": ("study.toml", "first transfer", "first \\u001b[31m transfer"),
    "no such runs": ("study.toml", '"runs.csv"', '"run.csv"'),
    "density": ("study.toml", '"1.55 g/cm^3"', '"0.55 g/cm^3"'),
    "unit missing": ("runs.csv", "force [kN]", "force"),
    "unknown unit": ("runs.csv", "force [kN]", "force [kiloton]"),
    "wrong unit": ("runs.csv", "force [kN]", "force [mm]"),
    "unknown heading": ("runs.csv", "weight [mg]", "wheight [mg]"),
    "text in a cell": ("runs.csv", "397.7", "light"),
    "not a number": ("runs.csv", "397.7", "nan"),
    "negative": ("runs.csv", "397.7", "-397.7"),
    "denser than solid": ("runs.csv", "3.940", "2.940"),
    "empty": ("runs.csv", "", ""),
}


@pytest.mark.parametrize("name", DAMAGE)
def test_a_damaged_study_is_told_without_a_traceback(marram: Path, name: str) -> None:
    file, old, new = DAMAGE[name]
    path = marram / file
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1) if old else "")
    done = run("translate", marram)
    assert done.returncode == 2, done.stdout
    assert done.stdout == ""
    lines = done.stderr.splitlines()
    assert lines
    for line in lines:
        assert line.startswith("scaleup: ")
        assert "found " in line
        assert "allowed: " in line
        assert "\x1b" not in line
    assert any(each in done.stderr for each in (file, "run.csv", "runs.csv"))


@pytest.mark.parametrize("target", ["nowhere", "file", "binary"])
def test_a_study_that_is_none(tmp_path: Path, target: str) -> None:
    if target == "binary":
        (tmp_path / target).mkdir()
        (tmp_path / target / "study.toml").write_bytes(bytes(range(256)))
    if target == "file":
        (tmp_path / target).write_text("hello")
    done = run("translate", tmp_path / target)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert done.stderr.startswith("scaleup: ")


def test_a_started_study_translates_as_it_stands(tmp_path: Path) -> None:
    started = run("start", tmp_path / "mine")
    assert started.returncode == 0
    assert "next: scaleup translate" in started.stdout
    done = run("translate", tmp_path / "mine", *FEW)
    assert done.returncode == 0
    assert "verdict: " in done.stdout
    again = run("start", tmp_path / "mine")
    assert again.returncode == 2
    assert "not empty" in again.stderr


def test_profiles_are_listed_shown_and_checked(tmp_path: Path) -> None:
    listed = run("profiles").stdout
    for name in ("rotary-mid-16", "lab-hand-pump", "d-elongated-19"):
        assert name in listed
    assert max(map(len, listed.splitlines())) <= 80
    shown = run("profiles", "show", "rotary-mid-16", "--speed", "45 rpm").stdout
    assert "13.91 ms" in shown
    assert "43200 /h" in shown or "43200 1/h" in shown
    outside = run("profiles", "show", "rotary-mid-16", "--speed", "95 rpm").stdout
    assert "outside the speed range" in outside
    for kind in ("lab-hand-pump", "lab-eccentric", "lab-recorded", "rotary-stated-20"):
        assert run("profiles", "show", kind).returncode == 0
    text = (ROOT / "profiles" / "presses" / "rotary-mid-16.toml").read_text()
    bad = tmp_path / "bad.toml"
    bad.write_text(text.replace('"290 mm"', "290").replace('"80 kN"', '"80 s"'))
    checked = run("profiles", "check", bad)
    assert checked.returncode == 2
    assert "pitch_circle" in checked.stderr
    assert "main_roller.force_limit" in checked.stderr


@pytest.mark.parametrize(
    "words",
    [("translate",), ("start",), ("profiles",), ("profiles", "show"), ("profiles", "check"), ()],
)
def test_every_help_shows_an_example_that_runs(words: tuple[str, ...], tmp_path: Path) -> None:
    told = run(*words, "--help", COLUMNS="200").stdout
    found = re.search(r"Example: (scaleup [^\n]+)", told)
    assert found is not None, told
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    shutil.copytree(ROOT / "profiles", tmp_path / "profiles")
    lines = found.group(1).strip().split(" && ")
    for line in lines:
        done = run(*shlex.split(line)[1:], cwd=tmp_path)
        assert done.returncode == 0, done.stderr


def test_start_up_loads_nothing_heavy() -> None:
    code = (
        "import sys, scaleup.cli.app;"
        "heavy = ('numpy', 'scipy', 'pandas', 'pint', 'pydantic');"
        "print([name for name in heavy if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True,
                          cwd=ROOT)  # fmt: skip
    assert done.stdout.strip() == "[]"


def test_no_colour_in_a_pipe_or_when_unwanted(marram: Path) -> None:
    piped = run("translate", marram, *FEW)
    unwanted = run("translate", marram, *FEW, NO_COLOR="1", FORCE_COLOR="1")
    for done in (piped, unwanted):
        assert re.search(r"\x1b\[[0-9;]*3[0-9]m", done.stdout) is None


def test_completion_knows_the_presses() -> None:
    from scaleup.cli.options import press_ids, tooling_ids  # noqa: PLC0415

    assert "rotary-mid-16" in press_ids("rotary-m")
    assert press_ids("zzz") == []
    assert "b-flat-10" in tooling_ids("b-")
