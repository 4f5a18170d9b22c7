"""The answer to a turret speed: margins, the force that holds, the fastest speed, what binds."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scaleup.answers.functions import check_speed, translate
from scaleup.answers.speed import SpeedCheck, SpeedPoint
from scaleup.model.study import Study
from scaleup.transfer.limits import broken
from scaleup.transfer.margins import SetPoint

pytestmark = pytest.mark.slow

Change = Callable[..., Study]
PROFILES = Path(__file__).parents[2] / "profiles"


def point_of(check: SpeedCheck) -> SpeedPoint:
    assert check.point is not None
    return check.point


def holding(point: SpeedPoint) -> SetPoint:
    assert point.holding is not None
    return point.holding


def number(value: float | None) -> float:
    assert value is not None
    return value


def test_a_speed_the_lab_force_holds_is_a_yes(marram: Study) -> None:
    assert check_speed(marram, draws=300).answer == "yes"


def test_a_dearer_target_is_a_yes_with_changes(marram: Study, changed: Change) -> None:
    check = check_speed(changed(marram, target={"strength": 2.4}), draws=300)
    assert check.answer == "yes with changes"
    lab, set_point = point_of(check).at_lab_pressure, holding(point_of(check))
    assert [each.limit.code for each in lab.broken(0.9)] == ["strength"]
    assert set_point.broken(0.9) == ()
    assert number(set_point.force.value) > number(lab.force.value)
    assert "tensile strength" in check.reasons[0]


def test_a_target_out_of_reach_is_a_no_that_names_it(marram: Study, changed: Change) -> None:
    check = check_speed(changed(marram, target={"strength": 6.0}), draws=300)
    assert check.answer == "no"
    assert point_of(check).holding is None
    assert "tensile strength" in " ".join(map(str, check.reasons))
    assert check.fastest.speed.value is None
    assert check.fastest.speed.reason


def test_capping_in_the_lab_stops_every_speed(sedge: Study) -> None:
    check = check_speed(sedge, draws=300, speeds=[10.0, 40.0])
    assert {point.answer for point in check.curve} == {"no"}
    assert "capping" in check.reasons[0]


def test_without_strength_there_is_not_enough_evidence(marram: Study, changed: Change) -> None:
    bare = changed(marram, runs=lambda run: replace(run, breaking_force=None))
    assert check_speed(bare, draws=300).answer == "not enough evidence"
    two = changed(marram, runs=lambda run: run if run.line in (4, 16) else None)
    two = replace(two, lab=replace(two.lab, reference=None))
    check = check_speed(two, draws=300, speeds=[20.0])
    assert check.answer == "not enough evidence"
    assert check.point is None
    assert check.reasons[0].startswith("Nothing about the powder can be predicted: 2 runs")


def test_the_margins_are_those_of_the_profiles(marram: Study) -> None:
    """Limits as the profile files have them, forces as the lab pressed them."""
    press = tomllib.loads((PROFILES / "presses" / "rotary-mid-19.toml").read_text())
    tooling = tomllib.loads((PROFILES / "tooling" / "b-flat-10.toml").read_text())
    check = check_speed(marram, speed=50.0, draws=300)
    margins = {each.limit.code: each for each in point_of(check).at_lab_pressure.margins}
    lab = np.mean([run.force for run in marram.lab.runs if run.name == "M4"])
    for code, written in (
        ("main-roller", press["main_roller"]["force_limit"]),
        ("tip-rating", tooling["tip_force_rating"]),
    ):
        limit = float(written.removesuffix(" kN")) * 1e3
        assert number(margins[code].value.value) == pytest.approx(lab, rel=1e-9)
        assert number(margins[code].room.value) == pytest.approx(1.0 - lab / limit, rel=1e-9)
    arc = float(press["feeder_arc"].removesuffix(" deg")) / 360.0
    assert number(margins["feed-time"].value.value) == pytest.approx(arc * 60.0 / 50.0)
    assert number(margins["speed-high"].room.value) == pytest.approx(1.0 - 50.0 / 75.0)


def test_a_short_feed_is_watched_and_stops_nothing(marram: Study, changed: Change) -> None:
    check = check_speed(changed(marram, press={"feeder_arc": 0.2}), draws=300)
    margins = {each.limit.code: each for each in point_of(check).at_lab_pressure.margins}
    assert margins["feed-time"].watched
    assert margins["feed-time"].share == 0.0
    assert check.answer == "yes"
    assert "feed" not in point_of(check).at_lab_pressure.binding.limit.code


def test_an_output_asked_for_is_a_limit(marram: Study, changed: Change) -> None:
    """19 stations make 51 300 tablets an hour at 45 rpm."""
    slow = check_speed(changed(marram, target={"output": 60_000.0}), speed=45.0, draws=300)
    assert slow.answer == "no"
    assert "output" in slow.reasons[0]
    assert check_speed(changed(marram, target={"output": 51_000.0}), draws=300).answer == "yes"


def test_the_holding_force_is_the_least(marram: Study, changed: Change) -> None:
    dear = changed(marram, target={"strength": 2.4})
    set_point = holding(point_of(check_speed(dear, draws=400)))
    line, limits = (
        set_point.point.process,
        tuple(each.limit for each in set_point.margins if not each.watched),
    )
    pressure = number(set_point.pressure.value)
    assert broken(limits, line.at(pressure, 45.0), 0.9) == []
    assert broken(limits, line.at(0.995 * pressure, 45.0), 0.9) != []
    assert number(set_point.pressure.low) < pressure
    assert set_point.binding.limit.code == "strength"


def test_faster_takes_more_force_and_leaves_less_strength(marram: Study) -> None:
    curve = check_speed(marram, draws=300, speeds=[10.0, 25.0, 50.0, 75.0]).curve
    forces = [number(holding(point).force.value) for point in curve]
    assert forces == sorted(forces)
    margins = [{m.limit.code: m for m in point.at_lab_pressure.margins} for point in curve]
    strengths = [number(each["strength"].value.value) for each in margins]
    assert strengths == sorted(strengths, reverse=True)


def test_the_fastest_speed_is_translates_and_what_stops_it_fails_above(
    marram: Study, changed: Change
) -> None:
    tight = changed(marram, target={"strength": 2.4}, press={"ejection_limit": 318.0})
    check = check_speed(tight, draws=300)
    assert check.fastest == translate(tight, draws=300).fastest
    assert check.stopped_by == "ejection force"
    free = check_speed(marram, draws=300)
    assert free.fastest.speed.value == 75.0
    assert free.stopped_by == "the fastest speed of the press"


def test_what_binds_is_the_limit_nearest_to_being_broken(marram: Study, changed: Change) -> None:
    near = check_speed(
        changed(marram, tooling={"tip_force_rating": 12.1e3}, target={"strength": 1.8}), draws=300
    )
    assert point_of(near).at_lab_pressure.binding.limit.code == "tip-rating"
    assert point_of(check_speed(marram, draws=300)).at_lab_pressure.binding.limit.code == "strength"


def test_a_force_above_every_tested_one_says_how_far(marram: Study, changed: Change) -> None:
    check = check_speed(changed(marram, target={"strength": 3.6}), draws=300)
    assert check.answer == "yes with changes"
    highest = max(run.force for run in marram.lab.runs)
    beyond = number(holding(point_of(check)).force.value) / highest - 1.0
    assert beyond > 0.1
    assert f"{beyond * 100:.0f} % above the highest tested pressure" in check.reasons[1]
