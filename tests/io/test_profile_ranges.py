"""Profiles that cannot be, and profiles that are unusual: what is said of one slip at a time."""

from __future__ import annotations

from pathlib import Path

import pytest

from scaleup.errors import InputError
from scaleup.io.profile_files import list_presses, own_checked, read_press, read_tooling
from scaleup.model.press import RotaryProfile, press_oddities
from scaleup.model.profile_ranges import RANGES
from scaleup.model.proportions import oddities
from scaleup.model.tooling import tooling_oddities
from scaleup.presses.profile_checks import check_profile
from tests.fuzz.odd_profiles import sense_of, tables
from tests.fuzz.targets import PROFILES

MID, STATED, PUMP = "rotary-mid-19", "rotary-stated-17", "lab-hand-pump"
ALDER, HAZEL, LOGGED = "lab-hydraulic", "lab-eccentric", "lab-recorded"
FLAT, CUPPED = "b-flat-10", "b-convex-10"


def changed(tmp_path: Path, name: str, *changes: tuple[str, str]) -> Path:
    """Return a file with a shipped profile in which texts are exchanged."""
    room = "tooling" if (PROFILES / "tooling" / f"{name}.toml").exists() else "presses"
    text = (PROFILES / room / f"{name}.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    log = PROFILES / "presses" / "lab-recorded.csv"
    (tmp_path / log.name).write_bytes(log.read_bytes())
    return path


CANNOT = [
    (MID, '"160 kN/mm"', '"160 N/mm"', 'stiffness: found "160 N/mm"', 'Did you mean "160 kN/mm"?'),
    (MID, '"160 kN/mm"', '"12 kN/mm"', "deflection at the force limit of 6 mm", "at most 4 mm"),
    (MID, "stations = 19", "stations = 90", "wall between the dies", "-16.9 mm"),
    (MID, '"74 deg"', '"50 deg"', "roller_spacing: found room between the rollers of -14", ""),
    (MID, 'penetration = "4 mm"', 'penetration = "40 mm"', 'penetration: found "40 mm"', "20 mm"),
    (MID, '"75 rpm"', '"1000 rpm"', 'speed.max: found "1000 rpm"', "0.1 to 300 rpm"),
    (MID, '"317 mm"', '"317 cm"', 'pitch_circle: found "317 cm"', 'Did you mean "317 mm"?'),
    (MID, '"82 deg"', '"300 deg"', "arc of feeder and rollers together", "374 deg"),
    (STATED, '"2 mm"', '"0.02 mm"', 'stated.at_travel: found "0.02 mm"', "0.1 to 20 mm"),
    (STATED, '"2 mm"', '"0.1 mm"', "stated: found a roller radius by the stated values", "-10"),
    (STATED, '"11.98 ms"', '"1.2 ms"', "stated.dwell_time: found a pitch circle", "3024 mm"),
    (HAZEL, '"6 mm"', '"60 mm"', 'penetration: found "60 mm"', "30 mm"),
    (HAZEL, '"20 mm"', '"2.5 mm"', "ratio to the stroke, twice the crank radius", "1.2"),
    (PUMP, '"2.5 kN"', '"20 N"', "pump.force_per_stroke: found a number of strokes", "2500"),
    (ALDER, '"5 kN/s"', '"0.5 N/s"', 'loading_rate: found "0.5 N/s"', 'mean "0.5 kN/s"?'),
    (LOGGED, '"40 kN"', '"4 kN"', "record: found a ratio to force_limit", "at most 2"),
    (FLAT, '"210 GPa"', '"210 MPa"', 'modulus: found "210 MPa"', 'Did you mean "210 GPa"?'),
    (FLAT, '"38 kN"', '"424 kN"', "rated pressure on a flat tip of 5399 MPa", "yield"),
    (CUPPED, '"26 kN"', '"180 kN"', "rated pressure on a cupped tip of 2292 MPa", "2000 MPa"),
    (FLAT, 'diameter = "10 mm"', 'diameter = "20 mm"', "tip over its barrel of 1.053", "at most 1"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "old", "new", "found", "said"), CANNOT)
def test_what_cannot_be_is_a_fault_with_its_mend(
    tmp_path: Path, name: str, old: str, new: str, found: str, said: str
) -> None:
    changes = [(old, new)]
    if name == STATED and new == '"0.1 mm"':
        changes = [('at_travel = "2 mm"', 'at_travel = "0.1 mm"')]
    elif name == STATED and new == '"0.02 mm"':
        changes = [('at_travel = "2 mm"', 'at_travel = "0.02 mm"')]
    elif new == "stations = 90":
        changes += [('"317 mm"', '"380 mm"')]
    elif name == HAZEL and new == '"2.5 mm"':
        changes = [('crank_radius = "20 mm"', 'crank_radius = "2.5 mm"')]
    checked = check_profile(changed(tmp_path, name, *changes))
    told = " | ".join(map(str, checked.faults))
    assert found in told
    assert said in told
    assert all(fault.allowed for fault in checked.faults)


UNUSUAL = [
    (MID, '"160 kN/mm"', '"40 kN/mm"', "stiffness: a deflection at the force limit of 1.8 mm"),
    (MID, '{ min = "6 mm", max = "16 mm" }', '{ min = "12 mm", max = "16 mm" }',
     "fill: a gap between the fill cams of 2 mm"),
    (MID, '"18 kN"', '"90 kN"', "pre_roller.force_limit: a ratio to the limit of the main roller"),
    (MID, '"6 kN"', '"73 kN"', "ejection_limit: a ratio to the force limit"),
    (MID, '"75 rpm"', '"280 rpm"', "speed.max: 280 rpm is unusual; usual: 1 to 150 rpm"),
    (MID, 'penetration = "4 mm"', 'penetration = "12 mm"', "penetration: 12 mm is unusual"),
    (MID, '"74 deg"', '"62 deg"', "roller_spacing: room between the rollers of 7.2"),
    (HAZEL, '"160 mm"', '"50 mm"', "link_length: a ratio to the crank radius of 2.5"),
    (ALDER, '"50 ms"', '"20 s"', "release_time: a ratio to the time of loading of 1.667"),
    (LOGGED, '"40 kN"', '"10 kN"', "record: a ratio to force_limit"),
    (FLAT, 'head_edge_radius = "15.9 mm"', 'head_edge_radius = "6 mm"',
     "head_edge_radius: a width of the rounded edge over its radius of 1.292"),
    (FLAT, 'head_diameter = "25 mm"', 'head_diameter = "18.5 mm"', "head_diameter: a ratio to the"),
    (FLAT, 'barrel_diameter = "19 mm"', 'barrel_diameter = "25 mm"', "ratio to the barrel of its"),
    (CUPPED, '"0.9 mm"', '"4 mm"', "cup_depth: a ratio to half the short axis of 0.8"),
    (CUPPED, '"0.9 mm"', '"0.9 mm"\ncup_volume = "10 mm^3"', "cup_volume: a ratio to tip area"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "old", "new", "doubt"), UNUSUAL)
def test_what_is_unusual_is_doubtful(
    tmp_path: Path, name: str, old: str, new: str, doubt: str
) -> None:
    whole = check_profile(changed(tmp_path, name))
    checked = check_profile(changed(tmp_path, name, (old, new)))
    assert checked.faults == []
    added = set(checked.warnings) - set(whole.warnings)
    assert any(doubt in each for each in added), added


def test_every_impossible_value_is_told_at_once(tmp_path: Path) -> None:
    path = changed(
        tmp_path, MID, ('"160 kN/mm"', '"160 N/mm"'), ('"75 rpm"', '"1000 rpm"'),
        ('penetration = "4 mm"', 'penetration = "40 mm"'),
    )  # fmt: skip
    with pytest.raises(InputError) as caught:
        read_press(path)
    assert {fault.where for fault in caught.value.faults} == {
        "stiffness", "speed.max", "penetration",
    }  # fmt: skip


def test_a_press_that_may_hold_without_saying_so_is_doubtful(tmp_path: Path) -> None:
    hold = 'hold = { min = "0 s", max = "60 s" }\n'
    (told,) = check_profile(changed(tmp_path, ALDER, (hold, ""))).warnings
    assert told.startswith("no hold: ")
    lets_go = check_profile(changed(tmp_path, PUMP)).warnings
    assert not any("hold" in each for each in lets_go)


def test_no_shipped_profile_is_unusual_and_each_says_it_is_invented() -> None:
    for name in tables("presses"):
        assert press_oddities(read_press(PROFILES / "presses" / f"{name}.toml")) == (), name
    for name in tables("tooling"):
        assert tooling_oddities(read_tooling(PROFILES / "tooling" / f"{name}.toml")) == (), name
    for table in (*tables("presses").values(), *tables("tooling").values()):
        assert table["description"].startswith("Invented for demonstration: ")


def test_the_rollers_of_every_shipped_press_clear_each_other() -> None:
    """By hand: planes of the rollers cross at pitch radius * tan(angle/2) from each centre."""
    room = {"rotary-mid-19": 119.4, "rotary-single-31": 131.3, "rotary-large-23": 165.9,
            "rotary-double-53": 145.4}  # fmt: skip
    for name, table in tables("presses").items():
        if "pre_roller" not in table:
            continue
        press = read_press(PROFILES / "presses" / f"{name}.toml")
        assert isinstance(press, RotaryProfile)
        assert press.pre_roller is not None
        assert press.main_roller.radius is not None
        assert min(press.main_roller.radius, press.pre_roller.radius) < room.pop(name) - 10.0
    assert not room


def test_every_range_leaves_room_and_says_how_well_it_is_known() -> None:
    for key, sense in RANGES.items():
        assert sense.can[0] <= sense.usual[0] < sense.usual[1] <= sense.can[1], key
        assert sense.why
        assert sense.grade in ("common practice", "from memory", "a judgement of this program")


def test_every_quantity_of_a_shipped_profile_has_a_range() -> None:
    """What is beyond every range is at fault, whatever key it is written to."""
    for room in ("presses", "tooling"):
        for table in tables(room).values():
            for place in _quantities(table):
                assert sense_of(place, str(table.get("kind", "tooling"))).why


def _quantities(table: object, place: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    if isinstance(table, dict):
        return [each for key, value in table.items() for each in _quantities(value, (*place, key))]
    if isinstance(table, list):
        return [each for value in table for each in _quantities(value, place)]
    return [place] if isinstance(table, str) and table[:1].isdigit() else []


def test_oddities_look_into_every_table(tmp_path: Path) -> None:
    press = read_press(changed(tmp_path, MID, ('radius = "88 mm"', 'radius = "12 mm"')))
    assert [each.where for each in oddities(press, ())] == ["pre_roller.radius"]


def test_the_list_tells_a_profile_of_one_s_own_that_is_at_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "presses").mkdir()
    changed(tmp_path / "presses", MID, ('"160 kN/mm"', '"160 N/mm"'))
    (tmp_path / "presses" / "odd.toml").write_text('format = "scaleup press 1"\naccepts = 5\n')
    monkeypatch.setenv("SCALEUP_PROFILES", str(tmp_path))
    rows = {row.id: row for row in own_checked(list_presses(), "presses")}
    assert rows["mine"].reason == 'stiffness: "160 N/mm"'
    assert rows["odd"].reason == "kind: nothing"
    assert not rows[MID].reason
