"""Each match by itself, held against the law."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from scaleup.transfer.holding import needed_pressure
from scaleup.transfer.matches import (
    Dialled,
    NoSetting,
    paying_pressure,
    same_dwell,
    same_pressure,
    same_solid_fraction,
    target_strength,
)
from scaleup.transfer.question import Question

WithLimits = Callable[..., Question]


def with_speeds(asked: Question, low: float, high: float) -> Question:
    """Return the question on a press of another range of speeds, its map as it was."""
    made = asked.line.production
    speed = replace(made.press.model.speed, min=low, max=high)
    press = replace(made.press, model=replace(made.press.model, speed=speed))
    line = replace(asked.line, production=replace(made, press=press))
    line.__dict__["map"] = asked.line.map
    return replace(asked, line=line)


def test_the_pressure_match_dials_the_labs_own(asked: Question) -> None:
    found = same_pressure(asked)
    assert found.pressure.value == asked.reference.pressure
    assert found.speed.value == 45.0
    assert (found.speed.unit, found.pressure.unit) == ("rpm", "MPa")
    assert found.pressure.exact
    assert found.reason == ""


def test_the_solid_fraction_match_gives_every_draw_its_solid_fraction_back(
    asked: Question,
) -> None:
    needed = paying_pressure(asked)
    made = asked.line.at(needed, 45.0).solid_fraction
    assert made == pytest.approx(asked.lab.solid_fraction, abs=1e-7)
    assert np.all(needed > asked.lab.pulse.peak_pressure)
    found = same_solid_fraction(asked)
    assert found.pressure.value == pytest.approx(np.median(needed))
    assert found.pressure.low == pytest.approx(np.quantile(needed, 0.05))
    assert found.speed.value == 45.0
    assert (found.speed.unit, found.pressure.unit) == ("rpm", "MPa")


def test_the_strength_match_dials_the_quantile_at_the_confidence(asked: Question) -> None:
    target = asked.target
    assert target is not None
    needed = needed_pressure(asked.line, 45.0, target)
    for confidence in (0.5, 0.9, 0.975):
        found = target_strength(replace(asked, confidence=confidence))
        assert isinstance(found, Dialled)
        assert found.speed.value == 45.0
        value = found.pressure.value
        assert value is not None
        assert value in needed
        assert np.mean(needed <= value) >= confidence
        assert np.mean(needed < value) <= confidence
        assert found.pressure.low == pytest.approx(np.quantile(needed, 0.05))
        assert (found.speed.unit, found.pressure.unit) == ("rpm", "MPa")


def test_the_strength_match_says_why_it_dials_nothing(
    asked: Question, with_limits: WithLimits
) -> None:
    strongest = asked.line.at(asked.line.map.ceiling, 45.0).strength
    assert strongest is not None
    bound = float(np.quantile(strongest, 0.3, method="nearest"))
    none = target_strength(with_limits(asked, strength=bound))
    assert isinstance(none, NoSetting)
    share = np.mean(strongest >= bound)
    assert none.reason == (
        f"only {share * 100:.0f} % of the draws meet the target at any pressure up to "
        f"{asked.line.map.ceiling:.0f} MPa; 90 % is asked"
    )
    easy = target_strength(with_limits(asked, strength=1e-6))
    assert isinstance(easy, NoSetting)
    assert easy.reason == (
        f"the target is met already at {asked.line.map.floor:.0f} MPa, the lowest pressure "
        "looked at"
    )
    limits = tuple(each for each in asked.limits if each.code != "strength")
    without = target_strength(replace(asked, limits=limits))
    assert isinstance(without, NoSetting)
    assert "states no strength" in without.reason
    unbroken = replace(asked.line, fit=replace(asked.line.fit, strength=None))
    unbroken.__dict__["map"] = asked.line.map
    untested = target_strength(replace(asked, line=unbroken))
    assert isinstance(untested, NoSetting)
    assert untested.reason


def test_the_dwell_match_gives_the_labs_effective_dwell_back(asked: Question) -> None:
    """The lab's dwell is so long that no turret is that slow; on a slow one it is met."""
    reference = asked.line.map.effective_dwell(asked.lab.pulse.peak_pressure, 20.0)
    lab = replace(asked.lab, pulse=replace(asked.lab.pulse, effective_dwell=reference))
    found = same_dwell(replace(asked, lab=lab))
    assert found.reason == ""
    assert found.speed.value == pytest.approx(20.0, rel=1e-4)
    assert found.speed.high == pytest.approx(20.0, rel=1e-3)
    assert found.pressure.value == asked.reference.pressure
    assert (found.speed.unit, found.pressure.unit) == ("rpm", "MPa")


@pytest.mark.parametrize(
    ("range_", "shown", "end"), [((30.0, 75.0), 30.0, "slowest"), ((10.0, 15.0), 15.0, "fastest")]
)
def test_a_speed_out_of_range_is_shown_at_the_nearest_and_told(
    asked: Question, range_: tuple[float, float], shown: float, end: str
) -> None:
    """Twenty rpm are asked, of a press that begins at 30 and of one that ends at 15."""
    reference = asked.line.map.effective_dwell(asked.lab.pulse.peak_pressure, 20.0)
    lab = replace(asked.lab, pulse=replace(asked.lab.pulse, effective_dwell=reference))
    found = same_dwell(replace(with_speeds(asked, *range_), lab=lab))
    assert found.speed.value == shown
    assert found.speed.exact
    assert found.speed.unit == "rpm"
    assert found.reason.startswith(
        "matching the lab's effective dwell would need 20 (20 to 20) rpm; "
    )
    assert f"the {end} of the press is {shown:g} rpm" in found.reason
    just = same_dwell(replace(with_speeds(asked, 20.0 * 0.999, 20.0 * 1.001), lab=lab))
    assert just.reason == ""
