"""Every reader: units mixed, what is refused, and how that is said."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scaleup.errors import InputError
from scaleup.io.library import find_press, find_tooling, fitting_tooling
from scaleup.io.materials import material, materials
from scaleup.io.profile_files import list_presses, list_tooling, read_press, read_tooling
from scaleup.io.run_table import read_runs
from scaleup.io.starter import write_starter
from scaleup.io.study import read_study
from scaleup.io.units import UnitFault, to_core
from scaleup.io.writing import write_whole
from scaleup.model.press import RecordedProfile, RotaryProfile
from scaleup.presses.profile_checks import check_profile

ROOT = Path(__file__).parents[2]
PRESSES = ROOT / "profiles" / "presses"
TOOLING = ROOT / "profiles" / "tooling"


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("60 kN", "N", 60e3),
        ("1 tf", "N", 9806.65),
        ("1 lbf", "N", 4.4482216152605),
        ("1 in", "mm", 25.4),
        ("1.54 g/cm^3", "mg/mm^3", 1.54),
        ("1540 kg/m³", "mg/mm^3", 1.54),
        ("0.4 g", "mg", 400.0),
        ("2 MPa", "MPa", 2.0),
        ("20 bar", "MPa", 2.0),
        ("210 GPa", "MPa", 210e3),
        ("45 rpm", "rpm", 45.0),
        ("0.75 Hz", "rpm", 45.0),
        ("60 strokes/min", "rpm", 60.0),
        ("90 deg", "rad", np.pi / 2.0),
        ("12 %", "1", 0.12),
        ("150 kN/mm", "N/mm", 150e3),
        ("80 ms", "s", 0.08),
        ("5 kN/s", "N/s", 5e3),
        ("250 µm", "mm", 0.25),
    ],
)
def test_units_by_exact_factors(text: str, unit: str, value: float) -> None:
    assert to_core(text, unit) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("60", "N"),
        ("60 kN", "mm"),
        ("kN", "N"),
        ("60 kNn", "N"),
        ("nan kN", "N"),
        ("inf kN", "N"),
        ("1e99 kN", "N"),
        ("9**9**9 mm", "mm"),
        ("1 mm**99", "mm"),
        ("__import__('os') mm", "mm"),
        ("1 " + "m" * 500, "mm"),
        ("", "N"),
        ("20 degC", "MPa"),
    ],
)
def test_what_is_no_quantity_is_refused(text: str, unit: str) -> None:
    with pytest.raises(UnitFault) as caught:
        to_core(text, unit)
    assert caught.value.found
    assert len(caught.value.found) < 200
    assert caught.value.allowed


@given(st.floats(1e-6, 1e6))
def test_a_length_is_the_same_in_every_unit(length: float) -> None:
    assert to_core(f"{length:.12f} mm", "mm") == pytest.approx(
        to_core(f"{length / 25.4:.14f} in", "mm"), rel=1e-6, abs=1e-10
    )


@pytest.mark.parametrize("path", sorted(PRESSES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_shipped_press_is_sound_and_invented(path: Path) -> None:
    assert check_profile(path).faults == []
    assert "Invented" in read_press(path).description


@pytest.mark.parametrize("path", sorted(TOOLING.glob("*.toml")), ids=lambda path: path.stem)
def test_every_shipped_tooling_is_sound_and_invented(path: Path) -> None:
    assert check_profile(path).faults == []
    assert "Invented" in read_tooling(path).description


def test_presses_of_every_kind_and_class_are_shipped() -> None:
    kinds = [row.kind for row in list_presses()]
    assert kinds.count("hydraulic") >= 2
    assert kinds.count("eccentric") >= 1
    assert kinds.count("rotary") >= 5
    assert kinds.count("recorded") >= 1
    profiles = [find_press(row.id).profile for row in list_presses() if row.kind == "rotary"]
    rotary = [profile for profile in profiles if isinstance(profile, RotaryProfile)]
    assert {profile.tablets_per_station_per_turn for profile in rotary} == {1, 2}
    assert {"B", "D"} <= {standard for profile in rotary for standard in profile.accepts}
    assert any(profile.pitch_circle is None for profile in rotary)
    assert {row.kind for row in list_tooling()} == {"round flat", "round convex", "elongated"}


BAD_PRESS = {
    "bare number": ('pitch_circle = "317 mm"', "pitch_circle = 290", "pitch_circle", "290"),
    "dimension": ('"317 mm"', '"290 kN"', "pitch_circle", 'unit "kN"'),
    "unknown key": ("pitch_circle =", "pitch_cirle =", "pitch_cirle", "pitch_circle"),
    "stations": ("stations = 19", "stations = 0", "stations", "0"),
    "stations text": ("stations = 19", 'stations = "16"', "stations", "16"),
    "range": ('min = "10 rpm"', 'min = "100 rpm"', "speed", "100"),
    "kind": ('kind = "rotary"', 'kind = "rotery"', "kind", "rotary"),
    "format": ("scaleup press 1", "scaleup press 9", "format", "scaleup press 1"),
    "negative": ('radius = "106 mm"', 'radius = "-100 mm"', "main_roller.radius", "-100"),
    "sides": ("stations = 19", "stations = 19\ntablets_per_station_per_turn = 3",
              "tablets_per_station_per_turn", "3"),
    "geometry": ('pitch_circle = "317 mm"\n', "", "pitch_circle", "stated"),
    "feed": ('feed = "forced"', 'feed = "magic"', "feed", "forced"),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD_PRESS)
def test_a_bad_press_names_file_key_found_and_allowed(tmp_path: Path, name: str) -> None:
    old, new, key, said = BAD_PRESS[name]
    text = (PRESSES / "rotary-mid-19.toml").read_text()
    assert old in text
    path = tmp_path / "mine.toml"
    path.write_text(text.replace(old, new, 1))
    faults = check_profile(path).faults
    told = "\n".join(map(str, faults))
    assert faults
    assert "mine.toml" in told
    assert key in told
    assert said in told
    assert "found " in told
    assert "allowed: " in told
    assert "pydantic" not in told.lower()


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    text = (PRESSES / "rotary-mid-19.toml").read_text()
    path = tmp_path / "mine.toml"
    path.write_text(text.replace('"317 mm"', "290").replace("19\n", "-1\n").replace("72 kN", "72"))
    assert len(check_profile(path).faults) >= 3


def test_a_tooling_without_rating_keeps_none() -> None:
    assert find_tooling("lab-convex-10").profile.tip_force_rating is None
    assert any("tip_force_rating" in each for each in check_profile(
        TOOLING / "lab-convex-10.toml").warnings)  # fmt: skip


def test_tip_geometry() -> None:
    convex = find_tooling("b-convex-10").profile
    assert convex.tip_area == pytest.approx(np.pi * 25.0)
    assert convex.cup_volume == pytest.approx(np.pi * 0.9 * (3 * 25.0 + 0.81) / 6.0)
    long = find_tooling("d-elongated-19").profile
    assert long.tip_area == pytest.approx(8.5 * (19.0 - 8.5) + np.pi * 8.5**2 / 4.0)
    assert long.perimeter == pytest.approx(2.0 * (19.0 - 8.5) + np.pi * 8.5)


def test_listing_loads_no_units_library() -> None:
    code = (
        "import sys; from scaleup.io.profile_files import list_presses; list_presses();"
        "print([name for name in ('pint', 'pydantic', 'pandas', 'numpy') if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert done.stdout.strip() == "[]"


def test_unknown_names_are_told_with_their_nearest() -> None:
    with pytest.raises(InputError, match="rotary-mid-19"):
        find_press("rotary-mid-17")
    with pytest.raises(InputError, match="b-flat-10"):
        find_tooling("b-flat-1O")
    with pytest.raises(InputError, match="microcrystalline cellulose"):
        material("microcristalline cellulose")
    with pytest.raises(InputError, match="tooling that rotary-large-23 takes: d-"):
        fitting_tooling(find_press("rotary-large-23"), "b-flat-10")


def test_the_published_materials_carry_their_source() -> None:
    published = materials()
    assert len(published) == 13
    assert all("Roberts" in item.source for item in published)
    assert material("maize starch").sensitivity == pytest.approx(0.493)


def table(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "runs.csv"
    path.write_text(text)
    return path


def test_a_run_table_takes_any_unit_and_blank_cells(tmp_path: Path) -> None:
    rows = read_runs(
        table(
            tmp_path,
            "# a comment\nRun,Force [lbf],weight [g],Thickness [in],hold [ms],tablets,note\n"
            "a,2000,0.4,0.16,500,3,first\n\nb,2500,0.41,,0,,\n",
        )
    )
    assert [run.name for run in rows] == ["a", "b"]
    assert rows[0].force == pytest.approx(2000 * 4.4482216152605)
    assert rows[0].weight == pytest.approx(400.0)
    assert rows[0].thickness == pytest.approx(0.16 * 25.4)
    assert rows[0].hold == pytest.approx(0.5)
    assert (rows[0].tablets, rows[1].tablets) == (3, 1)
    assert rows[1].thickness is None
    assert rows[1].hold == 0.0
    assert (rows[0].line, rows[1].line) == (3, 5)


def test_semicolons_and_decimal_commas(tmp_path: Path) -> None:
    rows = read_runs(table(tmp_path, "run;force [kN];weight [mg]\na;10,5;400,2\n"))
    assert rows[0].force == pytest.approx(10500.0)
    assert rows[0].weight == pytest.approx(400.2)


def test_a_production_row_says_its_speed(tmp_path: Path) -> None:
    text = "run,press,force [kN],speed [rpm]\np,production,12,40\n"
    assert read_runs(table(tmp_path, text))[0].speed == 40.0
    with pytest.raises(InputError, match="speed"):
        read_runs(table(tmp_path, "run,press,force [kN],speed [rpm]\np,production,12,\n"))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("run,force [kN]\n", "no row"),
        ("run,force\na,10\n", "force"),
        ("run,force [kN],force [N]\na,10,10\n", "force"),
        ("run,force [kN]\na,\n", "line 2"),
        ("run,force [kN]\na,=1+1\n", "line 2"),
        ("run,force [kN],thickness [mm]\na,10,400\n", "thickness"),
        ("run,force [kN],press\na,10,pilot\n", "pilot"),
        ("run,force [kN],tablets\na,10,2.5\n", "tablets"),
        ("run,weight [mg]\na,400\n", "force"),
        ("", "empty"),
    ],
)
def test_a_bad_run_table_is_told_by_line(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        read_runs(table(tmp_path, text))
    assert said in str(caught.value)
    assert "runs.csv" in str(caught.value)


def test_xlsx_of_the_same_shape(tmp_path: Path) -> None:
    path = tmp_path / "runs.xlsx"
    pd.DataFrame(
        {"run": ["a", "b"], "force [kN]": [10.0, 12.5], "weight [mg]": [400.0, None]}
    ).to_excel(path, index=False, sheet_name="runs")
    rows = read_runs(path)
    assert [run.force for run in rows] == [10e3, 12.5e3]
    assert rows[1].weight is None


def copied(tmp_path: Path) -> Path:
    return Path(shutil.copytree(ROOT / "examples" / "marram", tmp_path / "study"))


def test_a_profile_beside_the_study_wins_and_none_leaves_it(tmp_path: Path) -> None:
    folder = copied(tmp_path)
    (folder / "presses").mkdir()
    text = (PRESSES / "rotary-mid-19.toml").read_text().replace('"317 mm"', '"300 mm"')
    (folder / "presses" / "mine.toml").write_text(text)
    study = read_study(folder, "mine")
    assert study.production.press.profile.pitch_circle == 300.0
    assert read_study(folder, "presses/mine.toml").production.press.id == "mine"
    for outside in ("../mine.toml", "/etc/passwd", "presses/../../x.toml"):
        with pytest.raises(InputError):
            read_study(folder, outside)
    (folder / "presses" / "link.toml").symlink_to(PRESSES / "rotary-mid-19.toml")
    with pytest.raises(InputError):
        read_study(folder, "presses/link.toml")


def test_a_recorded_press_brings_its_log() -> None:
    profile = find_press("lab-recorded").profile
    assert isinstance(profile, RecordedProfile)
    (piece,) = profile.log.pieces()
    assert np.all(np.diff(piece.time) > 0.0)
    assert piece.force.max() > 1e3


def test_a_starter_is_a_study(tmp_path: Path) -> None:
    written = write_starter(tmp_path / "new")
    assert {path.name for path in written} >= {"study.toml", "runs.csv"}
    assert len(read_study(tmp_path / "new").lab.runs) >= 10


def test_a_file_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "out.csv"
    write_whole(path, "first")
    with pytest.raises(InputError, match="exists"):
        write_whole(path, "second")
    assert path.read_text() == "first"
    write_whole(path, "second", force=True)
    assert path.read_text() == "second"
    with pytest.raises(InputError):
        write_whole(tmp_path / "nowhere" / "out.csv", "x")
    assert [item.name for item in tmp_path.iterdir()] == ["out.csv"]


def test_a_stated_dwell_the_geometry_denies_is_doubtful(tmp_path: Path) -> None:
    text = (PRESSES / "rotary-mid-19.toml").read_text()
    stated = '\n[stated]\nspeed = "45 rpm"\ndwell_time = "{}"\nhead_flat = "9.5 mm"\n'
    path = tmp_path / "mine.toml"
    path.write_text(text + stated.format("13 ms"))
    assert check_profile(path).warnings == []
    path.write_text(text + stated.format("16 ms"))
    assert check_profile(path).warnings == ["stated dwell time is 16 ms, geometry gives 12.72 ms"]
