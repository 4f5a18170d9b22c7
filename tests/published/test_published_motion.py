"""Dwell, travel and velocity to the digits worked out by hand."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from decimal import Decimal
from math import pi, radians
from pathlib import Path

import pytest

from scaleup.equations import (
    crank_travel,
    crank_velocity,
    dwell_time,
    dwell_time_arc,
    punch_angle,
    punch_travel,
    punch_velocity,
    turret_speed_for_dwell,
)

TABLE = tomllib.loads(
    Path(__file__).with_name("motion.toml").read_text(encoding="utf-8"), parse_float=Decimal
)
ROTARY = TABLE["rotary"]
SPEED = float(ROTARY["speed"])
HEAD = tuple(
    float(ROTARY[key]) for key in ("pitch_circle", "roller_radius", "head_edge_radius", "head_flat")
)
Printed = Callable[[Decimal | int], object]


@pytest.mark.parametrize("row", TABLE["dwell"], ids=lambda row: f"{row['pitch_circle']} mm")
def test_dwell_time(row: dict[str, Decimal], printed: Printed) -> None:
    head_flat, pitch_circle, speed = (
        float(row[key]) for key in ("head_flat", "pitch_circle", "speed")
    )
    assert 1000 * dwell_time(head_flat, pitch_circle, speed) == printed(row["exact"])
    assert 1000 * dwell_time_arc(head_flat, pitch_circle, speed) == printed(row["arc"])
    back = turret_speed_for_dwell(head_flat, pitch_circle, float(row["exact"]) / 1000)
    assert back == pytest.approx(speed, rel=1e-5)


@pytest.mark.parametrize("row", ROTARY["row"])
def test_rotary_punch_at_an_angle(row: dict[str, Decimal], printed: Printed) -> None:
    angle = radians(float(row["angle"]))
    assert punch_travel(angle, *HEAD) == printed(row["travel"])
    assert punch_velocity(angle, *HEAD, SPEED) == printed(row["velocity"])
    assert 1000 * angle / (2 * pi * SPEED / 60) == printed(row["time"])


def test_rotary_punch_at_a_travel(printed: Printed) -> None:
    row = ROTARY["from_travel"]
    angle = punch_angle(float(row["travel"]), *HEAD)
    assert angle * 180 / pi == printed(row["angle"])
    assert punch_velocity(angle, *HEAD, SPEED) == printed(row["velocity"])


def test_eccentric_punch(printed: Printed) -> None:
    row = TABLE["eccentric"]
    lengths = float(row["crank_radius"]), float(row["link_length"])
    angle = radians(float(row["angle"]))
    assert crank_travel(angle, *lengths) == printed(row["travel"])
    assert crank_velocity(angle, *lengths, float(row["speed"])) == printed(row["velocity"])
