"""``scaleup speed``: margins, the force that holds, the fastest speed, the curve and its plot."""

from __future__ import annotations

import csv
import re
import tomllib
from collections.abc import Callable
from itertools import pairwise
from math import pi
from pathlib import Path
from typing import Any

import pytest

from scaleup.transfer.tested import DWELL_MOST, PRESSURE_MOST

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[3]
EXAMPLES = ROOT / "examples"
Screen = Callable[..., str]
Table = Callable[..., list[dict[str, str]]]
Ask = Callable[..., dict[str, Any]]
Altered = Callable[..., Path]

MARRAM, SEDGE = EXAMPLES / "marram", EXAMPLES / "sedge"
CURVE = ("speed", MARRAM, "--at", "55 rpm", "--range", "10..75 rpm", "--points", "7")
ANSWERS = {"yes", "yes with changes", "no", "not enough evidence"}


def profile(room: str, name: str) -> dict[str, Any]:
    return tomllib.loads((ROOT / "profiles" / room / f"{name}.toml").read_text())


def number(text: str) -> float:
    """Return the number of a quantity whose unit the caller knows."""
    return float(text.split(maxsplit=1)[0])


def points(form: dict[str, Any]) -> list[dict[str, Any]]:
    return [form["point"], *form["curve"]]


def firm(set_point: dict[str, Any]) -> list[dict[str, Any]]:
    return [margin for margin in set_point["margins"] if not margin["watched"]]


def margin_of(set_point: dict[str, Any], limit: str) -> dict[str, Any]:
    (found,) = [margin for margin in set_point["margins"] if margin["limit"] == limit]
    return dict(found)


def test_the_bounds_are_those_of_the_profiles_and_the_study(ask: Ask) -> None:
    press, tooling = profile("presses", "rotary-mid-19"), profile("tooling", "b-flat-10")
    target = tomllib.loads((MARRAM / "study.toml").read_text())["target"]
    bounds = {
        "main-roller": number(press["main_roller"]["force_limit"]) * 1e3,
        "tip-rating": number(tooling["tip_force_rating"]) * 1e3,
        "pre-roller": number(press["pre_roller"]["force_limit"]) * 1e3,
        "ejection-force": number(press["ejection_limit"]) * 1e3,
        "speed-high": number(press["speed"]["max"]),
        "speed-low": number(press["speed"]["min"]),
        "solid-fraction-low": number(target["solid_fraction"]["min"]) / 100,
        "solid-fraction-high": number(target["solid_fraction"]["max"]) / 100,
        "strength": number(target["strength"]),
        "tip-separation": 0.0,
        "tested-pressure": PRESSURE_MOST,
        "tested-dwell": DWELL_MOST,
    }
    for point in points(ask(*CURVE)):
        margins = firm(point["at_lab_pressure"])
        found = {margin["limit"]: margin["bound"]["value"] for margin in margins}
        assert found == pytest.approx(bounds)
        assert len(margins) == len(bounds)


@pytest.mark.parametrize("words", [CURVE, ("speed", SEDGE)])
def test_margins_and_shares_agree_with_each_other(ask: Ask, words: tuple[str | Path, ...]) -> None:
    form = ask(*words)
    for point in points(form):
        for set_point in (point["at_lab_pressure"], point["holding"]):
            if set_point is None:
                continue
            shares = {margin["limit"]: margin["share"] for margin in firm(set_point)}
            assert all(0.0 <= margin["share"] <= 1.0 for margin in set_point["margins"])
            assert shares[set_point["binding"]] == min(shares.values())
            lost = sum(1.0 - share for share in shares.values())
            together = set_point["share_within_limits"]
            assert 1.0 - lost - 1e-9 <= together <= min(shares.values()) + 1e-9
            for margin in set_point["margins"]:
                value, bound = margin["value"]["value"], margin["bound"]["value"]
                kept = value <= bound if margin["side"] == "at most" else value >= bound
                assert kept == (margin["room"]["value"] >= 0.0)
                assert kept == (margin["share"] >= 0.5)


def test_the_force_is_the_pressure_on_the_tip(ask: Ask) -> None:
    diameter = number(profile("tooling", "b-flat-10")["diameter"])
    for point in points(ask(*CURVE)):
        for set_point in (point["at_lab_pressure"], point["holding"]):
            area = set_point["force"]["value"] / set_point["pressure"]["value"]
            assert area == pytest.approx(pi / 4 * diameter**2)


def test_the_lab_pressure_is_that_of_the_named_runs(ask: Ask) -> None:
    rows = csv.DictReader(
        line for line in (MARRAM / "runs.csv").read_text().splitlines() if line[:1] != "#"
    )
    forces = [float(row["force [kN]"]) for row in rows if row["run"] == "M4"]
    area = pi / 4 * number(profile("tooling", "lab-flat-10")["diameter"]) ** 2
    set_point = ask(*CURVE)["point"]["at_lab_pressure"]
    assert set_point["pressure"]["value"] == pytest.approx(sum(forces) / len(forces) * 1e3 / area)


@pytest.mark.parametrize("words", [CURVE, ("speed", SEDGE)])
def test_the_answer_follows_from_the_margins(ask: Ask, words: tuple[str | Path, ...]) -> None:
    form = ask(*words)
    confidence = form["confidence"]
    for point in points(form):
        assert point["answer"] in ANSWERS
        lab = min(margin["share"] for margin in firm(point["at_lab_pressure"]))
        if point["holding"] is not None:
            assert min(margin["share"] for margin in firm(point["holding"])) >= confidence
        if point["answer"] == "yes":
            assert lab >= confidence
            assert point["holding"] is not None
        if point["answer"] == "yes with changes":
            assert lab < confidence
            assert point["holding"] is not None
    assert form["answer"] == form["point"]["answer"]
    assert form["reasons"]


def test_more_confidence_takes_more_force(ask: Ask) -> None:
    usual, surer = (
        ask(*words)["point"]["holding"] for words in (CURVE, (*CURVE[:4], "--confidence", "95 %"))
    )
    assert surer["force"]["value"] > usual["force"]["value"]
    assert min(margin["share"] for margin in firm(surer)) >= 0.95


def test_the_force_that_holds_is_where_the_window_begins(ask: Ask) -> None:
    holding = ask(*CURVE)["point"]["holding"]["force"]["value"]
    window = ask("window", MARRAM, "--cells", "8x6", "--speed", "55 rpm")["at_asked_speed"]
    (edge,) = [edge for edge in window["edges"] if edge["towards"] == "less force"]
    assert edge["at"]["value"] == pytest.approx(holding, rel=0.01)


def test_nothing_holds_where_the_answer_is_no(ask: Ask) -> None:
    form = ask("speed", SEDGE)
    assert form["answer"] == "no"
    assert form["point"]["holding"] is None
    for name in ("fastest_speed", "fastest_speed_pressure"):
        assert form["production"][name]["value"] is None
        assert form["production"][name]["reason"]
    assert form["production"]["stopped_by"] == ""
    assert form["curve"] == []


def test_the_fastest_speed_is_one_the_press_runs_at(ask: Ask) -> None:
    form = ask(*CURVE)["production"]
    range_ = profile("presses", "rotary-mid-19")["speed"]
    assert number(range_["min"]) <= form["fastest_speed"]["value"] <= number(range_["max"])
    assert form["stopped_by"]


def test_beyond_the_fastest_speed_nothing_holds(ask: Ask, altered: Altered) -> None:
    study = altered(
        "marram",
        ('tooling = "b-flat-10"', 'tooling = "weak"'),
        ("[target]", '[transfer]\noff = ["shear", "lot", "gauges", "testers"]\n\n[target]'),
    )
    text = (ROOT / "profiles" / "tooling" / "b-flat-10.toml").read_text()
    (study / "tooling").mkdir()
    (study / "tooling" / "weak.toml").write_text(text.replace('"38 kN"', '"11 kN"'))
    form = ask("speed", study)["production"]
    fastest = form["fastest_speed"]["value"]
    assert 11.0 < fastest < 74.0
    assert form["stopped_by"] in {"tip force", "tensile strength"}
    slower, faster = (
        ask("speed", study, "--at", f"{fastest * ratio} rpm") for ratio in (0.95, 1.05)
    )
    assert slower["point"]["holding"]["force"]["value"] <= 11e3
    assert slower["answer"] == "yes with changes"
    assert faster["point"]["holding"] is None
    assert faster["answer"] == "no"


def test_a_range_has_as_many_speeds_as_asked_and_both_ends(ask: Ask) -> None:
    curve = ask(*CURVE)["curve"]
    speeds = [point["speed"]["value"] for point in curve]
    steps = [later - earlier for earlier, later in pairwise(speeds)]
    assert len(curve) == 7
    assert (speeds[0], speeds[-1]) == pytest.approx((10.0, 75.0))
    assert steps == pytest.approx([65 / 6] * 6)


def test_tablets_are_weaker_the_faster_the_press_turns(ask: Ask) -> None:
    strengths = [
        margin_of(point["at_lab_pressure"], "strength")["value"]["value"]
        for point in ask(*CURVE)["curve"]
    ]
    assert all(later < earlier for earlier, later in pairwise(strengths))


@pytest.mark.parametrize("written", ["10 rpm..75 rpm", "10.0 rpm .. 1.25 rev/s"])
def test_a_range_is_read_however_its_units_are_written(ask: Ask, written: str) -> None:
    form = ask("speed", MARRAM, "--range", written, "--points", "2")
    assert [point["speed"]["value"] for point in form["curve"]] == pytest.approx([10.0, 75.0])


def test_the_last_speed_of_a_range_is_not_beyond_the_press(ask: Ask) -> None:
    # 11.9 and six steps of 63.1/6 add up to a little more than 75 in binary numbers
    last = ask("speed", MARRAM, "--range", "11.9..75 rpm", "--points", "7")["curve"][-1]
    assert last["speed"]["value"] <= 75.0
    assert margin_of(last["at_lab_pressure"], "speed-high")["share"] == 1.0
    assert last["answer"] == "yes with changes"


def test_an_output_of_a_double_sided_press_takes_half_the_speed(ask: Ask) -> None:
    press = profile("presses", "rotary-double-53")
    assert press["tablets_per_station_per_turn"] == 2
    wanted = press["stations"] * 2 * 60 * 41.5
    asked = ("--to", "rotary-double-53", "--output", f"{wanted:.0f}/h")
    form = ask("speed", MARRAM, *asked)
    assert form["production"]["speed"]["value"] == pytest.approx(41.5)
    assert form["production"]["output"]["value"] == pytest.approx(wanted)
    assert form["production"]["press"] == "rotary-double-53"
    files = {item["file"] for item in form["inputs"]}
    assert "profiles/presses/rotary-double-53.toml" in files


def test_forty_thousand_an_hour_takes_two_thirds_of_a_turn_a_second(ask: Ask) -> None:
    form = ask("speed", MARRAM, "--output", "40000/h")
    assert form["point"]["speed"]["value"] == pytest.approx(40000 / (19 * 60))


def test_an_output_asked_of_the_study_is_kept_at_the_speed_that_gives_it(
    ask: Ask, altered: Altered
) -> None:
    study = altered("marram", ("[target]", '[target]\noutput = "31000/h"'))
    form = ask("speed", study, "--output", "31000/h")
    margin = margin_of(form["point"]["at_lab_pressure"], "output")
    assert margin["bound"]["value"] == pytest.approx(31000)
    assert margin["share"] == 1.0
    assert form["answer"] == "yes with changes"


def test_the_screen_has_a_row_for_each_speed_and_the_ends_of_the_axes(
    screen: Screen, ask: Ask
) -> None:
    shown, form = screen(*CURVE), ask(*CURVE)
    table, plot = shown.split("the curve", 1)[1].split("tensile strength, MPa", 1)
    answers = [line.split()[-1] for line in table.splitlines() if re.match(r" +\d", line)]
    assert answers == [point["answer"].split()[-1] for point in form["curve"]]
    lines = plot.splitlines()
    foot = next(line for line in lines if line.endswith("rpm"))
    assert foot.split() == ["10", "75", "rpm"]
    axis = next(line for line in lines if re.fullmatch(r" +\+-+", line))
    assert foot.index("10") == axis.index("+") + 1
    assert len(foot) == len(axis)
    ticks = [float(line.split("|")[0]) for line in lines if re.match(r" +[\d.]+ \|", line)]
    assert ticks == sorted(ticks, reverse=True)
    margins = [margin_of(point["at_lab_pressure"], "strength") for point in form["curve"]]
    bound = margins[0]["bound"]["value"]
    lowest = min(bound, *(margin["value"]["low"] for margin in margins))
    highest = max(bound, *(margin["value"]["high"] for margin in margins))
    assert ticks[-1] < lowest < highest < ticks[0]


def test_the_table_is_the_curve(table: Table, ask: Ask) -> None:
    rows = table(*CURVE)
    curve = ask(*CURVE)["curve"]
    assert len(rows) == len(curve)
    for row, point in zip(rows, curve, strict=True):
        lab, holding = point["at_lab_pressure"], point["holding"]
        strength = margin_of(lab, "strength")["value"]
        assert float(row["speed [rpm]"]) == point["speed"]["value"]
        assert float(row["output [1/h]"]) == pytest.approx(point["speed"]["value"] * 19 * 60)
        assert [float(row[key]) for key in ("value", "low", "high")] == [
            strength[key] for key in ("value", "low", "high")
        ]
        assert float(row["share_within_limits"]) == lab["share_within_limits"]
        assert float(row["holding_force [N]"]) == holding["force"]["value"]
        assert row["answer"] == point["answer"]


def test_without_a_range_the_table_is_the_one_speed(table: Table) -> None:
    (row,) = table("speed", SEDGE)
    study = tomllib.loads((SEDGE / "study.toml").read_text())
    assert float(row["speed [rpm]"]) == number(study["production"]["speed"])
    assert (row["holding_force [N]"], row["answer"]) == ("", "no")
