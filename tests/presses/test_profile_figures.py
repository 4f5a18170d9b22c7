"""Figures of a press before any powder is in it, and doubts about a profile."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from scaleup.equations import crank_travel, punch_travel
from scaleup.io.library import find_press, find_tooling
from scaleup.io.schema import read_as
from scaleup.model.press import PressProfile, RotaryProfile
from scaleup.model.tooling import ToolingProfile
from scaleup.presses.profile_checks import check_profile, press_doubts, tooling_doubts
from scaleup.presses.profile_figures import Asked, Figure, press_figures
from tests.studies import unchecked

PROFILES = Path(__file__).parents[2] / "profiles"


def figures_of(name: str, tooling: str, asked: Asked, **changed: Any) -> dict[str, Figure]:
    profile = replace(find_press(name).profile, **changed)
    figures = press_figures(profile, find_tooling(tooling).profile, asked)
    assert len({each.label for each in figures}) == len(figures)
    return {each.label: each for each in figures}


def test_times_of_a_rotary_press_follow_the_punch_head() -> None:
    """At 45 rpm the turret turns by 270 degrees in a second; the head follows the roller."""
    figures = figures_of("rotary-mid-19", "b-flat-10", Asked(45.0, 1e4))
    head = 317.0, 106.0, 15.9, 9.5
    omega = 45.0 * 2.0 * np.pi / 60.0
    for label, opening in (
        ("time within 4 mm of dead centre", 4.0),
        ("time within 0.5 mm of dead centre", 0.5),
        ("time within 1 mm of dead centre", 1.0),
        ("time within 2 mm of dead centre", 2.0),
        ("upper tip in the die", 8.0),
    ):
        angle = omega * figures[label].value / 2.0
        assert 2.0 * punch_travel(angle, *head) == pytest.approx(opening, rel=1e-6)
        assert figures[label].unit == "s"
    assert figures["time under the feeder"].value == pytest.approx(82.0 / 270.0)
    assert figures["time between the rollers"].value == pytest.approx(74.0 / 270.0)
    assert figures["output"].value == 19 * 45 * 60
    units = {label: each.unit for label, each in figures.items()}
    assert (units["punch velocity"], units["output"], units["dwell time"]) == ("mm/s", "1/h", "s")
    assert figures["dwell time"].value == pytest.approx(2.0 * np.arcsin(9.5 / 317.0) / omega)
    assert "4 mm" in figures["upper tip in the die"].note


def test_the_velocity_of_a_punch_is_the_slope_of_its_travel() -> None:
    figures = figures_of("rotary-mid-19", "b-flat-10", Asked(45.0, 1e4))
    head, omega = (317.0, 106.0, 15.9, 9.5), 45.0 * 2.0 * np.pi / 60.0
    moment = figures["time within 2 mm of dead centre"].value / 2.0
    angles = omega * np.linspace(0.0, 2.0 * moment, 20001)
    travel = np.asarray(punch_travel(angles, *head))
    place = int(np.argmin(np.abs(travel - 2.0)))
    slope = (travel[place + 1] - travel[place - 1]) / (2.0 * moment / 10000.0)
    assert figures["punch velocity"].value == pytest.approx(slope, rel=1e-3)


def test_an_eccentric_press_moves_one_punch() -> None:
    profile = find_press("lab-eccentric").profile
    figures = figures_of("lab-eccentric", "lab-flat-10", Asked(50.0, 1e4))
    omega = 50.0 * 2.0 * np.pi / 60.0
    crank = profile.crank_radius, profile.link_length  # type: ignore[attr-defined]
    for label, opening in (
        ("time within 4 mm of dead centre", 4.0),
        ("upper tip in the die", 6.0),
    ):
        angle = omega * figures[label].value / 2.0
        assert crank_travel(angle, *crank) == pytest.approx(opening, rel=1e-6)
    moment = figures["time within 2 mm of dead centre"].value / 2.0
    ends = [float(crank_travel(omega * (moment + step), *crank)) for step in (-1e-6, 1e-6)]
    assert figures["punch velocity"].value == pytest.approx((ends[1] - ends[0]) / 2e-6, rel=1e-5)
    assert figures["output"].value == 3000.0


def test_what_a_profile_does_not_say_has_no_figure() -> None:
    bare = figures_of(
        "rotary-mid-19", "b-flat-10", Asked(45.0, 1e4),
        penetration=None, feeder_arc=None, roller_spacing=None,
    )  # fmt: skip
    gone = {"upper tip in the die", "time under the feeder", "time between the rollers"}
    assert not gone & set(bare)
    assert "upper tip in the die" not in figures_of(
        "lab-eccentric", "lab-flat-10", Asked(50.0, 1e4), penetration=None
    )


def test_a_press_driven_by_force_has_the_times_of_its_force() -> None:
    """2.5 kN a stroke to 10 kN: four strokes of 0.6 s, four pauses of 0.4 s, then 80 ms."""
    figures = figures_of("lab-hand-pump", "lab-flat-10", Asked(0.0, 10e3))
    assert {label: pytest.approx(each.value) for label, each in figures.items()} == {
        "time to peak": 4.0,
        "time at peak": 0.0,
        "release time": 0.08,
        "contact time": 4.08,
    }
    assert all(each.unit == "s" for each in figures.values())
    assert figures["time to peak"].note == "to 10 kN"
    assert figures["contact time"].note == "from first to last force, to 10 kN"


def test_a_contact_time_is_told_only_where_something_is_touched() -> None:
    """Without powder a press that moves its tips has times near dead centre, not one of contact."""
    for name, tooling in (("rotary-mid-19", "b-flat-10"), ("lab-eccentric", "lab-flat-10")):
        figures = figures_of(name, tooling, Asked(45.0, 1e4))
        assert "contact time" not in figures
        assert "further apart" in figures["time within 1 mm of dead centre"].note


COMPLETE = "rotary-mid-19"


@pytest.mark.parametrize(
    ("lost", "told"),
    [
        ({"stiffness": None}, "no stiffness"),
        ({"ejection_limit": None}, "no ejection_limit"),
        ({"fill": ()}, "no fill"),
        ({"roller_spacing": None}, "no roller_spacing"),
    ],
)
def test_every_gap_of_a_press_is_told_and_no_other(lost: dict[str, Any], told: str) -> None:
    profile = find_press(COMPLETE).profile
    assert isinstance(profile, PressProfile)
    assert press_doubts(profile) == []
    (only,) = press_doubts(replace(profile, **lost))
    assert only.startswith(told)


def test_a_spacing_counts_only_where_there_are_two_rollers() -> None:
    profile = find_press(COMPLETE).profile
    assert isinstance(profile, RotaryProfile)
    assert press_doubts(replace(profile, roller_spacing=None, pre_roller=None)) == []
    lab = find_press("lab-hydraulic").profile
    assert press_doubts(lab) == []


def test_a_statement_that_geometry_contradicts_is_a_doubt() -> None:
    """A pitch circle of 410 mm at 40 rpm has 11.09 ms with a flat of 9.525 mm (exact)."""
    from scaleup.model.press import Stated  # noqa: PLC0415

    profile = find_press("rotary-single-31").profile
    assert isinstance(profile, RotaryProfile)
    stated = read_as(Stated, {"speed": "40 rpm", "dwell_time": "14 ms", "head_flat": "9.525 mm",
         "punch_velocity": "180 mm/s", "at_travel": "2 mm"})  # fmt: skip
    roller = replace(profile.main_roller, radius=125.0)
    profile = replace(profile, stated=stated, pitch_circle=410.0, main_roller=roller)
    (only,) = press_doubts(profile)
    assert only == "stated dwell time is 14 ms, geometry gives 11.09 ms"
    both = press_doubts(profile, 15.875)
    assert both[1] == "stated punch velocity is 180 mm/s, geometry gives 144.8 mm/s"


@pytest.mark.parametrize(
    ("lost", "told"),
    [("tip_force_rating", "tooling drawing"), ("head_flat", "rotary press"), ("modulus", "rigid")],
)
def test_every_gap_of_a_tooling_is_told_and_no_other(lost: str, told: str) -> None:
    whole = find_tooling("b-flat-10").profile
    assert isinstance(whole, ToolingProfile)
    assert tooling_doubts(whole) == []
    (only,) = tooling_doubts(unchecked(whole, **{lost: None}))
    assert told in only


def test_a_file_is_checked_as_what_it_says_it_is(tmp_path: Path) -> None:
    press = check_profile(PROFILES / "presses" / "rotary-mid-19.toml")
    assert (press.faults, press.warnings) == ([], [])
    tooling = check_profile(PROFILES / "tooling" / "lab-flat-10.toml")
    assert tooling.faults == []
    assert any("head_flat" in each for each in tooling.warnings)
    logged = check_profile(PROFILES / "presses" / "lab-recorded.toml")
    assert logged.faults == []
    alone = tmp_path / "press.toml"
    alone.write_text((PROFILES / "presses" / "lab-recorded.toml").read_text())
    missing = check_profile(alone)
    assert missing.warnings == []
    assert any("no such file" in fault.found for fault in missing.faults)
