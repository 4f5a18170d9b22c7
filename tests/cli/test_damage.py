"""What is wrong with the input: one line for each fault, status 2, never a traceback."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from scaleup.answers.functions import translate
from scaleup.errors import InputError
from scaleup.io.study import read_study

EXAMPLES = Path(__file__).parents[2] / "examples"
Command = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def marram(tmp_path: Path) -> Path:
    return Path(shutil.copytree(EXAMPLES / "marram", tmp_path / "marram"))


def assert_told(done: subprocess.CompletedProcess[str], said: str, faults: int = 1) -> None:
    """Assert that the input is at fault, in so many readable lines, and nothing else happened."""
    assert done.returncode == 2, done.stdout + done.stderr
    assert done.stdout == ""
    lines = done.stderr.splitlines()
    assert len(lines) == faults, done.stderr
    for line in lines:
        assert line.startswith("scaleup: ")
        assert "found " in line
        assert "allowed: " in line
        assert line.isprintable()
    assert said in done.stderr


STUDY: dict[str, tuple[str, str, str]] = {
    "no format": ('format = "scaleup study 1"\n', "", "study.toml: format: found nothing"),
    "a later format": ("scaleup study 1", "scaleup study 2", 'allowed: "scaleup study 1"'),
    "another format": ("scaleup study 1", "scaleup press 1", 'allowed: "scaleup study 1"'),
    "no name": ('name = "Marram 400 mg, first transfer"\n', "", "study.toml: name: found nothing"),
    "empty name": ("Marram 400 mg, first transfer", "", "study.toml: name: found"),
    "endless name": ("Marram 400 mg, first transfer", "x" * 5000, "study.toml: name: found"),
    "name turns the line": ("Marram 400", "Marram \\u202e 400", "study.toml: name: found"),
    "control character": ("A cellulose", "\\u001b[31m A cellulose", "study.toml: description"),
    "no component name": ('name = "lactose monohydrate"\n', "", "blend.component[2].name"),
    "no share": ('share = "31 %"\n', "", "blend.component[2].share"),
    "no density": ('true_density = "1.54 g/cm^3"\n', "", "none for lactose monohydrate"),
    "shares": ('"68 %"', '"58 %"', "shares that sum to 90 %"),
    "negative share": ('"68 %"', '"-68 %"', "blend.component[1].share"),
    "area density": ('"1.55 g/cm^3"', '"1.55 g/cm^2"', "blend.component[1].true_density"),
    "density in kg/m3": ('"1.55 g/cm^3"', '"1550 g/cm^3"', "blend.component[1].true_density"),
    "density of froth": ('"1.55 g/cm^3"', '"0.55 g/cm^3"', "runs.csv: line"),
    "component twice": ("magnesium stearate", "lactose monohydrate", "blend.component"),
    "one component table": ("[[blend.component]]", "[blend.component]", "is not TOML"),
    "no lab": ("[lab]\n", "", "blend.component[3].press"),
    "no lab press": ('press = "lab-hydraulic"\n', "", "lab.press: found nothing"),
    "no lab tooling": ('tooling = "lab-flat-10"\n', "", "lab.tooling: found nothing"),
    "no run table": ('runs = "runs.csv"\n', "", "lab.runs: found nothing"),
    "no production press": ('press = "rotary-mid-19"\n', "", "production.press: found nothing"),
    "no speed": ('speed = "45 rpm"\n', "", "production.speed: found nothing"),
    "unknown press": ('"rotary-mid-19"', '"rotary-mid"', "Did you mean rotary-mid-19"),
    "unknown tooling": ('"b-flat-10"', '"b-flat-1"', "Did you mean b-flat-10"),
    "a press as tooling": ('"b-flat-10"', '"rotary-mid-19"', "unknown tooling"),
    "tooling without heads": ('"b-flat-10"', '"lab-flat-10"', "no punch head"),
    "lab press in production": ('"rotary-mid-19"', '"lab-hydraulic"', "a press of kind rotary"),
    "rotary press without lab speed": ('"lab-hydraulic"', '"rotary-mid-19"', "column speed"),
    "press beside is missing": ('"lab-hydraulic"', '"mine.toml"', 'no such file "mine.toml"'),
    "press is the study": ('"lab-hydraulic"', '"study.toml"', 'allowed: "scaleup press 1"'),
    "press outside": ('"lab-hydraulic"', '"../mine.toml"', "leads out of the folder"),
    "unknown reference": ('"M4"', '"M44"', 'the unknown run "M44"'),
    "unknown key": ("speed =", "sped =", "Did you mean speed?"),
    "unknown table": ("[target]", "[tarjet]", "Did you mean target?"),
    "key too deep": ("[target]", "[target]\nstrong.er = 1", "target.strong"),
    "table twice": ("[lab]", "[lab]\n[lab]", "is not TOML"),
    "open bracket": ("[lab]", "[lab", "line 23: found a line that is not TOML"),
    "open quote": ('"45 rpm"', '"45 rpm', "line 33: found a line that is not TOML"),
    "bare number": ('"45 rpm"', "45", "production.speed: found 45"),
    "number without unit": ('"45 rpm"', '"45"', "a number without a unit"),
    "decimal comma": ('"45 rpm"', '"45,5 rpm"', "a comma where a decimal point belongs"),
    "a date": ('"45 rpm"', "2020-01-01", "production.speed: found 2020-01-01"),
    "a list": ('"45 rpm"', '["45 rpm"]', "production.speed: found a list"),
    "true": ('"45 rpm"', "true", "production.speed: found true"),
    "no quantity": ('"45 rpm"', '"fast"', 'production.speed: found "fast"'),
    "not a number": ('"45 rpm"', '"nan rpm"', 'production.speed: found "nan rpm"'),
    "standstill": ('"45 rpm"', '"0 rpm"', "a speed above zero"),
    "absurd speed": ('"45 rpm"', '"1e13 rpm"', "absurdly large"),
    "wrong dimension": ('"45 rpm"', '"45 kN"', "does not measure a speed"),
    "unknown unit": ('"45 rpm"', '"45 furlong/h"', "unknown unit"),
    "rate without time": ('"5 kN/s"', '"5 kN"', "does not measure a loading rate"),
    "precompression above main": ('"15 %"', '"150 %"', "production.precompression"),
    "window upside down": ('max = "90 %"', 'max = "70 %"', "target.solid_fraction"),
    "window half open": ('min = "80 %", ', "", "target.solid_fraction.min: found nothing"),
    "two strengths": ('"2.0 MPa"', '"2.0 MPa"\nbreaking_force = "99 N"', "one of the two"),
    "sure as death": ('confidence = "90 %"', 'confidence = "100 %"', "target.confidence"),
    "a guess": ('confidence = "90 %"', 'confidence = "10 %"', "target.confidence"),
    "runs missing": ('"runs.csv"', '"run.csv"', "Did you mean runs.csv?"),
    "runs outside": ('"runs.csv"', '"../runs.csv"', "leads out of the folder"),
    "runs elsewhere": ('"runs.csv"', '"/etc/hostname"', "leads out of the folder"),
    "runs are no table": ('"runs.csv"', '"study.toml"', 'the ending ".toml"'),
    "runs are the folder": ('"runs.csv"', '"."', "a table ending in .csv"),
    "runs with a null": ('"runs.csv"', '"runs\\u0000.csv"', "lab.runs"),
}
"""What is replaced in study.toml, by what, and what must be said."""

RUNS: dict[str, tuple[str, str, str]] = {
    "no run column": ("run,", "name,", 'a column headed "run"'),
    "no force column": ("force [kN]", "note", 'a column headed "force [kN]"'),
    "unit missing": ("force [kN]", "force", "column force: found no unit"),
    "unit open": ("force [kN]", "force [kN", "Did you mean force?"),
    "unknown unit": ("force [kN]", "force [kiloton]", "column force: found the unknown unit"),
    "wrong unit": ("force [kN]", "force [mm]", "does not measure a force"),
    "unit for a name": ("run,", "run [kN],", 'the unit "kN"'),
    "unknown heading": ("weight [mg]", "wheight [mg]", "Did you mean weight?"),
    "no heading": ("weight [mg]", "", "cells without a heading"),
    "column twice": ("hold [s]", "force [kN]", "a second column of this name"),
    "nameless run": ("M1,6.00", ",6.00", "line 4, column run: found a blank cell"),
    "blank force": ("6.00,1,", ",1,", "line 4, column force: found a blank cell"),
    "text in a cell": ("406.4", "light", 'line 4, column weight: found "light"'),
    "not a number": ("406.4", "nan", 'line 4, column weight: found "nan"'),
    "infinite": ("406.4", "inf", 'line 4, column weight: found "inf"'),
    "overflow": ("406.4", "1e400", "line 4, column weight: found"),
    "negative": ("406.4", "-406.4", "line 4, column weight: found -406.4 mg"),
    "zero": ("406.4", "0", "line 4, column weight: found 0 mg"),
    "grams": ("406.4", "0.4064", "Check the number and the unit of the column"),
    "negative hold": ("6.00,1,", "6.00,-1,", "line 4, column hold: found -1 s"),
    "formula": ("406.4", "=400+6.4", 'line 4, column weight: found "=400+6.4"'),
    "digits of another script": ("406.4", "٤٠٦", "line 4, column weight"),
    "underscore": ("406.4", "4_06", "line 4, column weight"),
    "cell steers the terminal": ("406.4", "\x1b[31m406", r"\x1b[31m406"),
    "name steers the terminal": ("M1,6.00", "M\x1b[2J1,6.00", r"M\x1b[2J1"),
    "null in a cell": ("406.4", "406\x00", r"406\x00"),
    "decimal comma": ("406.4", "406,4", "line 4: found 9 cells"),
    "open quote": ("6.00,1", '"6.00,1', "line 4: found a line that cannot be parted"),
    "denser than solid": ("4.568", "2.9", "line 4, thickness: found a solid fraction of 1.158"),
    "a foam": ("4.568", "49", "line 4, thickness: found a solid fraction of 0.0"),
}
"""The same for the run table."""

WHOLE: dict[str, tuple[str, bytes, str]] = {
    "empty study": ("study.toml", b"", "study.toml: format: found nothing"),
    "binary study": ("study.toml", bytes(range(256)), "not UTF-8"),
    "study in UTF-16": ("study.toml", 'format = "x"'.encode("utf-16"), "not UTF-8"),
    "study in Latin-1": ("study.toml", b"# \xfc", "line 1: found a character that is not UTF-8"),
    "carriage returns": ("study.toml", b"a = 1\rb = 2\r", "is not TOML"),
    "nested study": ("study.toml", b"a = " + b"[" * 30 + b"]" * 30, "tables nested too deep"),
    "abyss": ("study.toml", b"a = " + b"[" * 9000 + b"]" * 9000, "tables nested too deep"),
    "huge study": ("study.toml", b"#" * 1_100_000, "allowed: up to 1 MB"),
    "empty runs": ("runs.csv", b"", "runs.csv: found an empty table"),
    "only comments": ("runs.csv", b"# nothing yet\n", "runs.csv: found an empty table"),
    "only headings": ("runs.csv", b"run,force [kN]\n", "runs.csv: found no rows"),
    "blank rows": ("runs.csv", b"run,force [kN]\n,\n,\n", "runs.csv: found no rows"),
    "binary runs": ("runs.csv", bytes(range(256)), "not UTF-8"),
    "runs of zeros": ("runs.csv", b"\0" * 400, "runs.csv: found no rows"),
    "runs in UTF-16": ("runs.csv", "run,force [kN]\nM4,12\n".encode("utf-16"), "not UTF-8"),
    "too many rows": (
        "runs.csv", b"run,force [kN]\n" + b"M4,12\n" * 10_001, "allowed: up to 10000 rows",
    ),
    "no lab run of the name": (
        "runs.csv",
        b"run,press,force [kN],speed [rpm]\nP1,production,12,30\n",
        "allowed: a production run of runs.csv",
    ),
}  # fmt: skip


def expected_faults(study: Path) -> int:
    """Return how many faults the library finds."""
    with pytest.raises(InputError) as found:
        translate(read_study(study), draws=200)
    return len(found.value.faults)


def damage(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


@pytest.mark.parametrize("name", STUDY)
def test_a_damaged_study_is_told(command: Command, marram: Path, name: str) -> None:
    old, new, said = STUDY[name]
    damage(marram / "study.toml", old, new)
    assert_told(command("translate", marram), said, expected_faults(marram))


@pytest.mark.parametrize("name", RUNS)
def test_a_damaged_run_table_is_told(command: Command, marram: Path, name: str) -> None:
    old, new, said = RUNS[name]
    damage(marram / "runs.csv", old, new)
    assert_told(command("translate", marram), said, expected_faults(marram))


@pytest.mark.parametrize("name", WHOLE)
def test_a_file_of_something_else_is_told(command: Command, marram: Path, name: str) -> None:
    file, content, said = WHOLE[name]
    (marram / file).write_bytes(content)
    assert_told(command("translate", marram), said, expected_faults(marram))


@pytest.mark.parametrize(
    ("file", "kind"),
    [
        ("study.toml", "folder"),
        ("study.toml", "pipe"),
        ("study.toml", "link to itself"),
        ("runs.csv", "folder"),
        ("runs.csv", "pipe"),
        ("runs.csv", "link to itself"),
        ("runs.csv", "link away"),
    ],
)
def test_what_is_no_file_is_told(command: Command, marram: Path, file: str, kind: str) -> None:
    path = marram / file
    path.unlink()
    make: dict[str, Callable[[], object]] = {
        "folder": path.mkdir,
        "pipe": lambda: os.mkfifo(path),
        "link to itself": lambda: path.symlink_to(path.name),
        "link away": lambda: path.symlink_to(EXAMPLES / "marram" / file),
    }
    make[kind]()
    assert_told(command("translate", marram), file)


@pytest.mark.parametrize("study", ["nowhere", "nowhere/study.toml", "runs.csv/study.toml", "none"])
def test_a_study_that_is_none_is_told(command: Command, marram: Path, study: str) -> None:
    (marram / "none").mkdir()
    assert_told(command("translate", marram / study), "study.toml" if study == "none" else study)


def test_faults_of_all_parts_are_told_at_once(command: Command, marram: Path) -> None:
    damage(marram / "study.toml", '"rotary-mid-19"', '"rotary-mid"')
    damage(marram / "study.toml", '"lab-flat-10"', '"lab-flat"')
    damage(marram / "runs.csv", "406.4", "light")
    damage(marram / "runs.csv", "4.504", "thin")
    done = command("translate", marram)
    assert_told(done, "production.press", 4)
    for said in ("lab.tooling", "line 4, column weight", "line 5, column thickness"):
        assert said in done.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--speed", "45"), '--speed: found "45", a number without a unit'),
        (("--speed", "45 mm"), "--speed: found the unit"),
        (("--speed", "45,5 rpm"), "a comma where a decimal point belongs"),
        (("--speed", "-3 rpm"), "--speed: found -3 rpm"),
        (("--speed", "0 rpm"), "--speed: found 0 rpm"),
        (("--speed", "30 Hz"), "--speed: found 1800 rpm"),
        (("--speed", "1e300 rpm"), "--speed: found"),
        (("--speed", ""), '--speed: found ""'),
        (("--confidence", "high"), '--confidence: found "high"'),
        (("--draws", "0"), "--draws: found 0; allowed: 200 to 200000"),
        (("--draws", "1000000"), "--draws: found 1000000"),
        (("--seed", "-1"), "--seed: found -1"),
        (("--seed", str(2**32)), "--seed: found 4294967296"),
        (("--to", "rotary-mid-61"), "Did you mean rotary-mid-19"),
        (("--to", "lab-hydraulic"), "a press of kind rotary"),
        (("--to", "b-flat-10"), 'the unknown press "b-flat-10"'),
        (("--to", ""), 'the unknown press ""'),
        (("--to", "\x1b[31m"), r"\x1b[31m"),
        (("--to", "../mine.toml"), "leads out of the folder"),
        (("--tooling", "b-flat-11"), "Did you mean b-flat-10"),
        (("--tooling", "lab-flat-10"), "no punch head"),
    ],
)
def test_a_wrong_option_is_told(
    command: Command, marram: Path, words: tuple[str, ...], said: str
) -> None:
    assert_told(command("translate", marram, *words), said)


@pytest.mark.parametrize("confidence", ["40 %", "130 %", "100 %", "95"])
def test_a_confidence_out_of_range_is_told_as_it_is_written(
    command: Command, marram: Path, confidence: str
) -> None:
    done = command("translate", marram, "--confidence", confidence)
    assert_told(done, "--confidence: found")
    assert "50 %" in done.stderr
    assert "99.99 %" in done.stderr


LONG = "x" * 300
"""Longer than the 255 bytes that file systems allow a name (POSIX: NAME_MAX)."""


@pytest.mark.parametrize(
    "words",
    [
        ("translate", LONG),
        ("start", LONG),
        ("profiles", "check", LONG),
        ("translate", str(EXAMPLES / "marram"), "--draws", "200", "--csv", LONG),
    ],
    ids=["translate", "start", "check", "csv"],
)
def test_a_name_too_long_for_a_file_is_told(command: Command, words: tuple[str, ...]) -> None:
    assert_told(command(*words), "xxx")


@pytest.mark.parametrize("folder", ["nowhere", LONG], ids=["missing", "too long"])
def test_a_profile_folder_that_is_none_is_told(
    command: Command, monkeypatch: pytest.MonkeyPatch, folder: str
) -> None:
    monkeypatch.setenv("SCALEUP_PROFILES", folder)
    assert_told(command("profiles"), "SCALEUP_PROFILES")


@pytest.mark.parametrize("words", [(), ("--bogus",), ("bogus",), ("translate",), ("start",)])
def test_a_command_that_is_none_shows_how_to_ask(command: Command, words: tuple[str, ...]) -> None:
    done = command(*words)
    assert done.returncode == 2
    assert done.stdout == ""
    assert "Usage: scaleup" in done.stderr
