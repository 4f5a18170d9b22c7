"""What is said of a study that does not hold together, and of a log that is no pulse."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

import numpy as np
import pytest

from scaleup.errors import InputError
from scaleup.io.library import find_press, find_tooling
from scaleup.io.starter import write_starter
from scaleup.io.study import read_study
from scaleup.io.writing import write_whole
from scaleup.presses.press import press_from

ROOT = Path(__file__).parents[2]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_starter(tmp_path / "study")
    return tmp_path / "study"


def change(folder: Path, old: str, new: str, file: str = "study.toml") -> None:
    text = (folder / file).read_text()
    assert old in text
    (folder / file).write_text(text.replace(old, new, 1))


FAULTS = [
    ('press = "lab-hydraulic"', 'press = "lab-hydraulik"',
     ('study.toml: lab.press: found the unknown press "lab-hydraulik"; allowed: the id of a press '
     "profile, or a file inside the study folder. Did you mean lab-hydraulic")),
    ('press = "rotary-single-31"', 'press = "lab-eccentric"',
     ("study.toml: production.press: found lab-eccentric, of kind eccentric; allowed: a press of "
     "kind rotary")),
    ('tooling = "b-flat-10"', 'tooling = "b-flat-11"',
     'study.toml: production.tooling: found the unknown tooling "b-flat-11"'),
    ('runs = "runs.csv"', 'runs = "../runs.csv"',
     ('study.toml: lab.runs: found "../runs.csv", which leads out of the folder; allowed: a file '
     "inside the folder, named relative to it. Copy the file into the folder.")),
    ('runs = "runs.csv"', 'runs = "none.csv"',
     'study.toml: lab.runs: found no such file "none.csv"'),
    ('reference = "R1"', 'reference = "R2"',
     'study.toml: lab.reference: found the unknown run "R2"; allowed: a lab run of runs.csv'),
    ('share = "80 %"', 'share = "70 %"',
     ("study.toml: blend.component: found shares that sum to 90 %; allowed: shares that sum to "
     "100 %, within 0.5 %")),
    ('share = "80 %"', "share = 0.8",
     "study.toml: blend.component[1].share: found 0.8, a number without a unit; allowed: a share"),
    ('share = "80 %"', 'share = "120 %"',
     'blend.component[1].share: found "120 %"; allowed: a share up to 100 %'),
    ('name = "Lactose monohydrate"', 'name = "Magnesium stearate"',
     "blend.component: found Magnesium stearate twice; allowed: each component once"),
    ('true_density = "1.54 g/cm^3"', "",
     ("blend: found no true_density and none for Microcrystalline cellulose, Lactose monohydrate, "
     "Magnesium stearate; allowed: the true density of the blend, or of every component.")),
    ('true_density = "1.54 g/cm^3"', 'true_density = "1.54 kg/m^3"',
     'blend.true_density: found "1.54 kg/m^3"; allowed: a density from 0.05 up to 25 mg/mm^3'),
    ('rate_material = "microcrystalline cellulose"', 'rate_material = "celulose"',
     ('study.toml: blend.rate_material: found the unknown material "celulose"; allowed: a material '
     "with a published rate sensitivity. Did you mean")),
    ('material = "lactose alpha-monohydrate"', 'material = "sand"',
     'study.toml: blend.component[2].material: found the unknown material "sand"'),
    ('strength = "2.0 MPa"', 'strength = "2.0 MPa"\nbreaking_force = "90 N"',
     "target: found both strength and breaking_force; allowed: one of the two"),
    ('confidence = "90 %"', 'margin = "60 %"', "target.margin: found 60 %; allowed: up to 50 %"),
    ('confidence = "90 %"', 'confidence = "100 %"',
     "target.confidence: found 100 %; allowed: 50 % up to below 100 %"),
    ('{ min = "80 %", max = "90 %" }', '{ min = "90 %", max = "80 %" }',
     "target.solid_fraction: found min 0.9 above max 0.8; allowed: min not above max"),
    ("[production]", "[producton]",
     "study.toml: production: found nothing; allowed: the table [production]"),
    ('speed = "40 rpm"', 'speed = "40 kN"',
     'production.speed: found the unit "kN", which does not measure a speed'),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "said"), FAULTS)
def test_what_is_said_of_a_study(folder: Path, old: str, new: str, said: str) -> None:
    change(folder, old, new)
    with pytest.raises(InputError) as caught:
        read_study(folder)
    assert said in str(caught.value)


def test_faults_of_every_part_come_together(folder: Path) -> None:
    change(folder, '"rotary-single-31"', '"rotary-singel-36"')
    change(folder, 'reference = "R1"', 'reference = "R9"')
    change(folder, "L2,lab,6.97", "L2,lab,six", "runs.csv")
    change(folder, '"microcrystalline cellulose"', '"sand"')
    with pytest.raises(InputError) as caught:
        read_study(folder)
    assert {fault.where for fault in caught.value.faults} == {
        "production.press",
        "line 4, column force",
        "blend.rate_material",
    }


def test_who_asked_for_an_unknown_press_is_told(folder: Path) -> None:
    with pytest.raises(InputError, match=r'^the press asked for: found the unknown press "none"'):
        read_study(folder, press="none")
    with pytest.raises(InputError, match=r'^the tooling asked for: found the unknown tooling "x"'):
        read_study(folder, tooling="x")


def without_holds(folder: Path) -> None:
    lines = (folder / "runs.csv").read_text().splitlines()
    rows = [line.split(",") for line in lines[1:]]
    kept = [",".join([*row[:3], *row[4:]]) for row in rows]
    (folder / "runs.csv").write_text("\n".join([lines[0], *kept]) + "\n")


def test_a_press_with_a_crank_needs_the_speed_of_every_run(folder: Path) -> None:
    change(folder, 'press = "lab-hydraulic"', 'press = "lab-eccentric"')
    without_holds(folder)
    with pytest.raises(InputError) as caught:
        read_study(folder)
    assert str(caught.value.faults[0]) == (
        "runs.csv: lines 3 to 17, column speed: found no speed; allowed: the speed of every run, "
        "since Hazel single-punch press is of kind eccentric. Add a column speed [rpm], or the key "
        "speed to the table [lab]."
    )
    change(folder, 'loading_rate = "5 kN/s"', 'speed = "40 strokes/min"')
    assert {run.speed for run in read_study(folder).lab.lab_runs} == {40.0}


def test_a_press_that_lets_go_cannot_hold(folder: Path) -> None:
    change(folder, 'press = "lab-hydraulic"', 'press = "lab-hand-pump"')
    with pytest.raises(InputError) as caught:
        read_study(folder)
    rate, held = (str(fault) for fault in caught.value.faults)
    assert rate == (
        "study.toml: lab.loading_rate: found a loading rate of 5 kN/s; allowed: no loading rate, "
        "since Juniper hand press is loaded by its pump. Remove it; or give the profile a "
        "loading_rate in place of its table pump."
    )
    assert held == (
        "runs.csv: lines 8 to 17, column hold: found a hold of 1 s, a hold of 20 s; allowed: no "
        "hold, since Juniper hand press lets go by itself at the set force. Remove it, or name the "
        "press that the runs were made on."
    )


def test_every_file_that_was_read_is_named_with_its_hash(folder: Path) -> None:
    inputs = dict(read_study(folder).inputs)
    assert set(inputs) == {
        "study.toml",
        "runs.csv",
        "profiles/presses/lab-hydraulic.toml",
        "profiles/tooling/lab-flat-10.toml",
        "profiles/presses/rotary-single-31.toml",
        "profiles/tooling/b-flat-10.toml",
        "profiles/materials/rate-sensitivity.toml",
    }
    assert inputs["runs.csv"] == hashlib.sha256((folder / "runs.csv").read_bytes()).hexdigest()


def test_the_density_of_a_blend_follows_from_its_components(folder: Path) -> None:
    """70 % at 1.55, 29 % at 1.54 and 1 % at 1.09 g/cm³ give 1.5406 (arithmetic of the mixture)."""
    change(folder, 'true_density = "1.54 g/cm^3"\n', "")
    change(folder, 'share = "80 %"', 'share = "70 %"\ntrue_density = "1.55 g/cm^3"')
    change(folder, 'share = "19 %"', 'share = "29 %"\ntrue_density = "1.54 g/cm^3"')
    change(folder, 'share = "1 %"', 'share = "1 %"\ntrue_density = "1.09 g/cm^3"')
    assert read_study(folder).blend.true_density == pytest.approx(1.5406, abs=5e-5)


def test_a_starter_refuses_a_folder_that_holds_anything(folder: Path) -> None:
    with pytest.raises(InputError, match="found a folder that is not empty; allowed: a new or an"):
        write_starter(folder)
    with pytest.raises(InputError, match="found a folder that is not empty"):
        write_starter(Path("/"))
    (folder.parent / "empty").mkdir()
    write_starter(folder.parent / "empty")
    assert read_study(folder.parent / "empty").name == "Example tablet"
    assert {path.name for path in folder.parent.iterdir()} == {"study", "empty"}


IDLE, PULSE = "0,0\n1,0\n2,0\n3,0\n", "4,5\n5,8\n6,5\n"
LOGS = [
    ("time [ms],force [kN]\n0,0\n1,5\n", "found 2 rows; allowed: at least 3 rows"),
    (f"time [ms],force [kN]\n{IDLE}{PULSE}5,0\n",
     "line 9, column time: found a time 0.001 s before the one above it; allowed: times that"),
    ("time [ms],force [kN]\n0,0\n1,0\n2,0\n3,0\n",
     "column force: found no compression; allowed: a logged pulse"),
    (f"time [ms],force [kN]\n{IDLE}x,5\n{PULSE}",
     'line 6, column time: found "x"; allowed: a number'),
    ("time [ms],strain [kN]\n0,0\n1,1\n2,0\n",
     ('found no line with a time and a force; the file begins "time [ms],strain [kN]"; allowed: '
      "a line of headings")),
    ("time,force [kN]\n0,0\n1,1\n2,0\n", "line 1: found time without a unit; allowed: its unit"),
    ("time [mm],force [kN]\n0,0\n1,1\n2,0\n",
     'line 1: found the unit "mm", which does not measure a time'),
]  # fmt: skip


@pytest.mark.parametrize(("text", "said"), LOGS)
def test_what_is_said_of_a_log(tmp_path: Path, text: str, said: str) -> None:
    shutil.copy(ROOT / "profiles" / "presses" / "lab-recorded.toml", tmp_path / "mine.toml")
    (tmp_path / "lab-recorded.csv").write_text(text)
    with pytest.raises(InputError) as caught:
        press_from(find_press("mine.toml", tmp_path).profile, find_tooling("lab-flat-10").profile)
    assert f"lab-recorded.csv: {said}" in str(caught.value)


def test_a_log_is_read_in_its_units_and_stays_in_its_folder(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    shutil.copy(ROOT / "profiles" / "presses" / "lab-recorded.toml", path)
    (tmp_path / "lab-recorded.csv").write_text("force [kN];time [s]\n0;0\n1,5;0,01\n0,5;0,02\n")
    loaded = find_press("mine.toml", tmp_path)
    (piece,) = loaded.profile.log.pieces()  # type: ignore[attr-defined]
    np.testing.assert_allclose(piece.time, [0.0, 0.01, 0.02])
    np.testing.assert_allclose(piece.force, [0.0, 1500.0, 500.0])
    assert [file for file, _ in loaded.beside] == ["lab-recorded.csv"]
    path.write_text(path.read_text().replace('"lab-recorded.csv"', '"../x.csv"'))
    with pytest.raises(InputError, match=r'record: found "../x.csv", which leads out'):
        find_press("mine.toml", tmp_path)


NO_NAME = "x" * 300
"""Longer than the 255 bytes that file systems allow a name (POSIX: NAME_MAX)."""


def test_a_name_that_no_file_can_have_is_a_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / NO_NAME
    with pytest.raises(InputError, match="found file name too long; allowed: a file that can be"):
        read_study(path)
    with pytest.raises(InputError, match="found file name too long; allowed: a place that can be"):
        write_starter(path)
    with pytest.raises(InputError, match="found file name too long; allowed: a place that can be"):
        write_whole(path, "x")
    monkeypatch.setenv("SCALEUP_PROFILES", str(path))
    with pytest.raises(InputError, match="which is no folder"):
        find_press("lab-hydraulic")
