"""Objects of a study made in Python: what they refuse, and that they need no file."""

from __future__ import annotations

import ast
import pickle
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest
from pint import UnitRegistry

from scaleup.errors import InputError
from scaleup.io.library import find_press, find_tooling
from scaleup.io.profile_files import list_presses, list_tooling
from scaleup.io.units import factor
from scaleup.model.blend import Blend, Component
from scaleup.model.press import (
    PRESS_KINDS,
    HydraulicProfile,
    MainRoller,
    PressProfile,
    Pump,
    RotaryProfile,
    Stated,
)
from scaleup.model.profile_ranges import RANGES
from scaleup.model.ranges import Range
from scaleup.model.sense import FACTORS
from scaleup.model.target import Target
from scaleup.model.tooling import ToolingProfile

MODEL = Path(__file__).parents[2] / "scaleup" / "model"
UNITS: UnitRegistry[Any] = UnitRegistry()


def refused(make: Any, *args: Any, **values: Any) -> dict[str, str]:
    """Return what is told of each field that an object refuses."""
    with pytest.raises(InputError) as caught:
        make(*args, **values)
    assert isinstance(caught.value, ValueError)
    return {
        fault.where: f"{fault.found} | {fault.allowed} | {fault.mend}"
        for fault in caught.value.faults
    }


def rotary() -> RotaryProfile:
    profile = find_press("rotary-mid-19").profile
    assert isinstance(profile, RotaryProfile)
    return profile


@pytest.mark.parametrize("module", sorted(MODEL.glob("*.py")), ids=lambda path: path.stem)
def test_the_model_knows_no_path(module: Path) -> None:
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        named = [each.name for each in node.names] if isinstance(node, ast.Import) else []
        if isinstance(node, ast.ImportFrom):
            named = [node.module or ""]
        assert not {"pathlib", "os", "io", "pydantic"} & {name.split(".")[0] for name in named}


def test_a_press_is_made_without_a_file() -> None:
    press = RotaryProfile(
        name="Own",
        accepts=("B",),
        feed="forced",
        stiffness=160e3,
        stations=19,
        speed=Range(10.0, 75.0),
        main_roller=MainRoller(radius=100.0, force_limit=72e3),
        pitch_circle=317.0,
    )
    assert (press.kind, press.greatest_force, press.fill) == ("rotary", 72e3, ())
    assert pickle.loads(pickle.dumps(press)) == press  # noqa: S301  its own


def test_every_value_out_of_sense_is_told_at_once_in_the_unit_of_the_trade() -> None:
    told = refused(replace, rotary(), stiffness=160.0, pitch_circle=3170.0, speed=Range(10.0, 1e3))
    assert set(told) == {"stiffness", "pitch_circle", "speed.max"}
    assert told["stiffness"].startswith("0.16 kN/mm | 5 to 5000 kN/mm")
    assert told["speed.max"].startswith("1000 rpm | 0.1 to 300 rpm")


def test_the_depth_of_a_fill_cam_is_told_by_its_number() -> None:
    fill = (Range(6.0, 16.0), Range(8.0, 400.0))
    assert set(refused(replace, rotary(), fill=fill)) == {"fill[2].max"}


@pytest.mark.parametrize(
    ("change", "where", "said"),
    [
        ({"stiffness": 12e3}, "stiffness", "a deflection at the force limit of 6 mm"),
        ({"feed": "belt"}, "feed", '"belt" | "hand", "gravity", "forced"'),
        ({"name": " "}, "name", "a name of 1 to 120"),
        ({"name": 7}, "name", "a name of 1 to 120"),
        ({"accepts": ()}, "accepts", "tooling standards"),
        ({"stations": 0}, "stations", "a whole number, 1 to 200"),
        ({"stations": 19.0}, "stations", "a whole number"),
        ({"stiffness": "160 kN/mm"}, "stiffness", '"160 kN/mm" | a number in N/mm'),
        ({"stiffness": float("nan")}, "stiffness", "a number in N/mm"),
        ({"tablets_per_station_per_turn": 3}, "tablets_per_station_per_turn", "3 | 1, 2"),
        ({"pitch_circle": None}, "", "pitch_circle, its diameter"),
        ({"stations": None}, "stations", "a whole number"),
        ({"speed": (10.0, 75.0)}, "speed", "a Range"),
        ({"main_roller": None}, "main_roller", "a MainRoller"),
        ({"accepts": "B"}, "accepts", "tooling standards"),
    ],
)
def test_what_a_press_cannot_be_is_refused(change: dict[str, Any], where: str, said: str) -> None:
    assert said in refused(replace, rotary(), **change)[where]


def test_rules_between_keys_hold_in_python() -> None:
    lab = find_press("lab-hydraulic").profile
    assert isinstance(lab, HydraulicProfile)
    assert "lets go" in refused(replace, lab, automatic_release=True)["hold"]
    assert "neither" in refused(replace, lab, loading_rate=None)[""]
    pump = Pump(force_per_stroke=2.5e3, stroke_time=1.0, pause=1.0)
    assert "both" in refused(replace, lab, pump=pump)[""]
    assert "punch_velocity" in refused(
        Stated, speed=50.0, dwell_time=0.01, head_flat=9.5, punch_velocity=149.0
    )[""]  # fmt: skip
    assert "min 20 above max 10" in refused(Range, 20.0, 10.0)[""]


def test_tooling_is_held_to_its_ranges_and_proportions() -> None:
    flat = find_tooling("b-flat-10").profile
    assert "GPa" in refused(replace, flat, modulus=210.0)["modulus"]
    assert "tip over its barrel" in refused(replace, flat, diameter=20.0)["barrel_diameter"]
    assert "all of" in refused(replace, flat, modulus=None)["modulus"]
    assert "a cup on a flat tip" in refused(replace, flat, stated_cup_depth=1.0)["shape"]
    made = ToolingProfile(name="Own", shape="round flat", standard="B", diameter=10.0)
    assert made.tip_area == pytest.approx(78.54, abs=0.005)


def test_a_quantity_of_a_units_library_is_taken_in_core_units() -> None:
    stiffness: Any = UNITS.Quantity("150 kN/mm")
    strength: Any = UNITS.Quantity("2e6 Pa")
    assert replace(rotary(), stiffness=stiffness).stiffness == 150e3
    assert Target(strength=strength).strength == pytest.approx(2.0)
    told = refused(replace, rotary(), stiffness=UNITS.Quantity("150 kN"))
    assert "a number in N/mm, or a quantity that converts to it" in told["stiffness"]


def test_a_blend_is_its_density_or_its_components() -> None:
    parts = (
        Component(name="a", share=0.5, true_density=1.5),
        Component(name="b", share=0.5, true_density=1.0),
    )
    mixed = Blend(components=parts)
    assert mixed.true_density == pytest.approx(1.2)  # 1 / (0.5/1.5 + 0.5/1.0), by hand
    assert mixed.density_from_components
    assert not Blend(stated_true_density=1.2, components=parts).density_from_components
    assert "no true_density and no components" in refused(Blend)[""]
    assert "sum to 50 %" in refused(Blend, components=parts[:1])["component"]
    assert "0.05 to 25 mg/mm^3" in refused(Blend, stated_true_density=1540.0)["true_density"]


def test_a_target_knows_what_it_was_given() -> None:
    usual = Target(strength=2.0)
    assert (usual.solid_fraction, usual.confidence) == (Range(0.8, 0.9), 0.9) or (
        (usual.solid_fraction.min, usual.solid_fraction.max, usual.confidence) == (0.8, 0.9, 0.9)
    )
    assert not usual.states_solid_fraction
    assert not usual.states_confidence
    kept = pickle.loads(pickle.dumps(replace(usual, strength=1.0)))  # noqa: S301  its own
    assert not kept.states_solid_fraction
    assert not kept.states_confidence
    stated = Target(solid_fraction=Range(0.8, 0.9), confidence=0.9)
    assert stated.states_solid_fraction
    assert stated.states_confidence
    assert "one of the two" in refused(Target, strength=2.0, breaking_force=100.0)[""]
    assert "up to 50 %" in refused(Target, margin=0.6)["margin"]


def test_the_factors_of_the_trade_s_units_are_those_of_the_units_library() -> None:
    for sense in RANGES.values():
        assert FACTORS.get(sense.unit, 1.0) == factor(sense.unit, sense.core), sense.unit


def test_every_shipped_profile_is_the_same_made_anew_in_python() -> None:
    profiles: list[PressProfile | ToolingProfile] = [
        *(find_press(row.id).profile for row in list_presses()),
        *(find_tooling(row.id).profile for row in list_tooling()),
    ]
    presses = [each for each in profiles if isinstance(each, PressProfile)]
    assert {each.kind for each in presses} == set(PRESS_KINDS)
    for profile in profiles:
        values = {field.name: getattr(profile, field.name) for field in fields(profile)}
        assert type(profile)(**values) == profile
