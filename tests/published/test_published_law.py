"""The law on presses that move their punches along a path, against its own reference values."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from decimal import Decimal
from math import pi
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from scaleup.equations import effective_dwell, plastic_densification

TABLE = tomllib.loads(
    Path(__file__).with_name("law_reference.toml").read_text(encoding="utf-8"),
    parse_float=Decimal,
)
Row = dict[str, Any]


@pytest.fixture(scope="module", params=TABLE["row"], ids=lambda row: f"{row['press']}")
def row(request: pytest.FixtureRequest) -> Row:
    chosen: Row = request.param
    return chosen


@pytest.fixture(scope="module")
def pulse(row: Row, radau_twin: ModuleType) -> Any:
    geometry = {key: float(value) for key, value in TABLE[row["press"]].items()}
    motion = getattr(radau_twin, row["press"])(**geometry, speed=float(row["speed"]))
    charge = TABLE["charge"]
    return radau_twin.compress(
        motion,
        radau_twin.Powder(*(float(value) for value in row["powder"])),
        radau_twin.Charge(
            float(charge["weight"]),
            float(charge["true_density"]),
            pi * float(charge["diameter"]) ** 2 / 4,
        ),
        float(row["separation"]),
    )


def test_reference_values(row: Row, pulse: Any, printed: Callable[[Decimal], object]) -> None:
    assert pulse.densification == printed(row["q"])
    assert pulse.peak_pressure == printed(row["peak_pressure"])
    assert 1000 * pulse.effective_dwell == printed(row["effective_dwell"])
    assert 1000 * pulse.time_above_90 == printed(row["time_above_90"])


def test_one_line_holds_for_every_press(row: Row, pulse: Any) -> None:
    """Peak pressure and effective dwell alone give the q of the differential equation."""
    yield_pressure, _, exponent, _ = (float(value) for value in row["powder"])
    dwell = effective_dwell(pulse.time, pulse.pressure, exponent)
    assert dwell == pytest.approx(pulse.effective_dwell, rel=1e-3)
    q = plastic_densification(pulse.peak_pressure, dwell, yield_pressure, exponent)
    assert q == pytest.approx(pulse.densification, rel=1e-5)


def test_rows_are_ordered_as_physics_has_it() -> None:
    """The faster turret leaves less q at a higher pressure and about half of the dwell."""
    slow, fast = TABLE["row"][:2]
    assert fast["q"] < slow["q"]
    assert fast["peak_pressure"] > slow["peak_pressure"]
    assert float(slow["effective_dwell"] / fast["effective_dwell"]) == pytest.approx(2, rel=0.02)


@pytest.mark.slow
def test_deflection_and_an_earlier_pulse_in_the_twin(radau_twin: ModuleType) -> None:
    """A press that gives way leaves less pressure; a stiffer one nears the rigid one; a second
    pulse at the same setting adds q and meets less resistance.
    """
    motion = radau_twin.eccentric(20, 160, 60)
    powder = radau_twin.Powder(100, 0.6, 0.05, 300)
    charge = radau_twin.Charge(400, 1.55, pi * 25)
    rigid = radau_twin.compress(motion, powder, charge, 3.70)
    soft = radau_twin.compress(motion, powder, charge, 3.70, stiffness=32_300.0)
    stiff = radau_twin.compress(motion, powder, charge, 3.70, stiffness=32.3e6)
    again = radau_twin.compress(motion, powder, charge, 3.70, before=rigid.densification)
    assert soft.peak_pressure < 0.8 * rigid.peak_pressure
    assert soft.densification < rigid.densification
    assert stiff.peak_pressure == pytest.approx(rigid.peak_pressure, rel=1e-3)
    assert again.densification > rigid.densification
    assert again.peak_pressure < rigid.peak_pressure
