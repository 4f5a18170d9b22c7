"""Profiles of every kind whose values lie across their ranges of sense and beyond."""

from __future__ import annotations

import json
import math
import tomllib
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from scaleup.model.profile_ranges import RANGES
from scaleup.model.sense import Sense
from tests.fuzz.targets import PROFILES

Table = dict[str, Any]
OPTIONAL = (
    "stiffness", "ejection_limit", "fill", "penetration", "roller_spacing", "feeder_arc",
    "pre_roller", "hold", "loading_rates", "head_diameter", "tip_force_rating", "barrel_diameter",
    "punch_length", "modulus", "stated", "pitch_circle",
)  # fmt: skip


def tables(room: str) -> dict[str, Table]:
    """Return the shipped profiles of a room by their names, as their files have them."""
    paths = sorted((PROFILES / room).glob("*.toml"))
    return {path.stem: tomllib.loads(path.read_text(encoding="utf-8")) for path in paths}


def sense_of(place: tuple[str, ...], kind: str) -> Sense:
    """Return the range of sense of a quantity at a place of a profile."""
    *above, key = place
    turning = {"rotary": "turret_speed", "eccentric": "stroke_rate"}.get(kind, "")
    names = [".".join(place), f"{kind}.{key}", key, *above]
    if any("_roller" in each for each in above):
        names = [f"roller.{key}"]
    if "speed" in place:
        names = [turning]
    return next(RANGES[name] for name in names if name in RANGES)


@st.composite
def odd_profile(draw: st.DrawFn, base: Table) -> Table:
    """Return a profile near or far from a shipped one: values moved, drawn anew, or left out."""
    kind = str(base.get("kind", "tooling"))
    often = draw(st.sampled_from((0.05, 0.15, 0.4, 1.0)))
    reach = draw(st.sampled_from(("near", "near", "usual", "can", "beyond")))

    def changed(value: Any, place: tuple[str, ...]) -> Any:
        if isinstance(value, dict):
            return {key: changed(each, (*place, key)) for key, each in value.items()}
        if isinstance(value, list) and value and isinstance(value[0], dict):
            return [changed(each, place) for each in value]
        if isinstance(value, str) and value[:1].isdigit() and draw(st.floats(0, 1)) > 1.0 - often:
            return _value(draw, value, sense_of(place, kind), reach)
        return value

    made: Table = {key: changed(value, (key,)) for key, value in base.items()}
    for key in OPTIONAL:
        if key in made and draw(st.floats(0, 1)) > 0.97:
            del made[key]
    if "stations" in made and draw(st.floats(0, 1)) > 0.7:
        made["stations"] = draw(st.integers(1, 90))
    if kind == "rotary" and draw(st.floats(0, 1)) > 0.8:
        made["tablets_per_station_per_turn"] = draw(st.sampled_from((1, 2)))
    return _ordered(made)


def _value(draw: st.DrawFn, written: str, sense: Sense, reach: str) -> str:
    number, _, unit = written.partition(" ")
    if reach == "near":
        return f"{float(number) * math.exp(draw(st.floats(-0.5, 0.5))):.4g} {unit}"
    low, high = sense.usual if reach == "usual" else sense.can
    low = max(low, 1e-3 * high)
    if reach == "beyond":
        low, high = low / 30.0, high * 30.0
    drawn = math.exp(draw(st.floats(math.log(low), math.log(high))))
    return f"{drawn:.4g} {sense.unit}"


def _ordered(made: Table) -> Table:
    """Return the same with the ends of most ranges in their order."""
    for value in made.values():
        for ends in value if isinstance(value, list) else [value]:
            if isinstance(ends, dict) and {"min", "max"} <= set(ends):
                low, high = sorted(
                    (ends["min"], ends["max"]), key=lambda each: float(each.split()[0])
                )
                ends["min"], ends["max"] = low, high
    return made


def toml(table: Table) -> str:
    """Return a table as TOML, tables within it in one line."""
    return "".join(f"{key} = {_inline(value)}\n" for key, value in table.items())


def _inline(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_inline(each)}" for key, each in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_inline, value)) + "]"
    return json.dumps(value, ensure_ascii=False)


def write(folder: Path, room: str, table: Table) -> Path:
    """Return the file that a profile was written to, beside a study."""
    path = folder / room / "odd.toml"
    path.parent.mkdir(exist_ok=True)
    path.write_text(toml(table), encoding="utf-8")
    return path
