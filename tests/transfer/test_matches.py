"""Each match by itself, held against the law and against a scan of pressures and speeds."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from scaleup.evidence.fit import Drawing
from scaleup.files.study import Study
from scaleup.transfer.limits import Limit
from scaleup.transfer.matches import (
    Dialled,
    NoSetting,
    fastest_speed,
    holding_pressure,
    least_pressure,
    lower_limits,
    needed_pressure,
    paying_pressure,
    same_dwell,
    same_pressure,
    same_solid_fraction,
    target_strength,
)
from scaleup.transfer.question import Question, lab_case, question

DRAWS = 160


@pytest.fixture(scope="module")
def asked(marram: Study) -> Question:
    found = question(lab_case(marram, Drawing(DRAWS, 1)), marram.production, 45.0, 0.9)
    assert found.line.map.floor > 0.0
    return found


def limit(asked: Question, code: str, bound: float | None = None) -> Limit:
    found = next(each for each in asked.limits if each.code == code)
    return found if bound is None else replace(found, bound=bound)


def with_limits(asked: Question, **bounds: float) -> Question:
    """Return the question with other bounds, by the code of each limit with _ for -."""
    changed = tuple(
        replace(each, bound=bounds.get(each.code.replace("-", "_"), each.bound))
        for each in asked.limits
    )
    return replace(asked, limits=changed)


def with_speeds(asked: Question, low: float, high: float) -> Question:
    """Return the question on a press of another range of speeds, its map as it was."""
    made = asked.line.production
    speed = made.press.model.speed.model_copy(update={"min": low, "max": high})
    press = replace(made.press, model=made.press.model.model_copy(update={"speed": speed}))
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


def test_each_draw_needs_the_pressure_that_just_keeps_the_limit(asked: Question) -> None:
    target = limit(asked, "strength", 1.6)
    needed = needed_pressure(asked.line, 45.0, target)
    assert np.all(np.isfinite(needed))
    assert np.all(needed > asked.line.map.floor * 1.5)
    assert np.all(target.holds(asked.line.at(needed, 45.0)) == 1.0)
    # Halved 18 times: the ends are apart by ln(ceiling/floor)/2^18 at most.
    apart = np.log(asked.line.map.ceiling / asked.line.map.floor) / 2**18
    below = needed * np.exp(-1.01 * apart)
    assert np.all(target.holds(asked.line.at(below, 45.0)) == 0.0)


def test_what_no_pressure_gives_is_infinite_for_those_draws(asked: Question) -> None:
    strongest = asked.line.at(asked.line.map.ceiling, 45.0).strength
    assert strongest is not None
    target = limit(asked, "strength", float(np.quantile(strongest, 0.3, method="nearest")))
    needed = needed_pressure(asked.line, 45.0, target)
    assert np.array_equal(np.isfinite(needed), strongest >= target.bound)
    assert 0.2 < np.mean(np.isinf(needed)) < 0.4


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


def test_the_strength_match_says_why_it_dials_nothing(asked: Question) -> None:
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


def test_the_least_pressure_is_the_least_at_which_all_hold_with_the_confidence(
    asked: Question,
) -> None:
    both = (limit(asked, "strength", 1.6), limit(asked, "solid-fraction-low", 0.84))
    for confidence in (0.6, 0.9):
        found = least_pressure(asked.line, 45.0, both, confidence)
        assert found is not None
        here, below = (asked.line.at(each, 45.0) for each in (found, found * (1.0 - 1e-4)))
        assert all(each.holds(here).mean() >= confidence for each in both)
        assert any(each.holds(below).mean() < confidence for each in both)
    assert least_pressure(asked.line, 45.0, (limit(asked, "strength", 50.0),), 0.9) is None
    at_once = least_pressure(asked.line, 45.0, (), 0.9)
    assert at_once == pytest.approx(asked.line.map.floor, rel=1e-4)


def test_limits_that_pressure_helps_are_the_lower_ones_of_the_tablet(asked: Question) -> None:
    assert {each.code for each in lower_limits(asked.limits)} == {"solid-fraction-low", "strength"}


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
    assert found.reason.startswith("the lab's effective dwell takes 20 (20 to 20) rpm; ")
    assert f"the {end} of the press is {shown:g} rpm" in found.reason
    just = same_dwell(replace(with_speeds(asked, 20.0 * 0.999, 20.0 * 1.001), lab=lab))
    assert just.reason == ""


def test_the_fastest_speed_is_the_last_at_which_some_pressure_holds(asked: Question) -> None:
    """Strength asks for more pressure the faster it goes; ejection allows no more."""
    bounds: dict[str, Any] = {"strength": 2.35, "ejection_force": 318.0}
    tight = with_limits(asked, **bounds)
    found = fastest_speed(tight)
    assert found is not None
    speed, pressure = found
    assert 10.0 < speed < 75.0
    assert holding_pressure(tight, speed) == pressure
    scan = [each for each in np.linspace(10.0, 75.0, 261) if holding_pressure(tight, each)]
    assert max(scan) <= speed + 0.25
    assert speed <= max(scan) + 0.26


def test_the_fastest_speed_may_be_the_presss_own_or_none(asked: Question) -> None:
    free = with_limits(asked, strength=0.5, solid_fraction_low=0.6, solid_fraction_high=0.99)
    found = fastest_speed(free)
    assert found is not None
    assert found[0] == 75.0
    assert found[1] == holding_pressure(free, 75.0)
    assert fastest_speed(with_limits(asked, strength=50.0)) is None


def test_the_pressure_that_holds_is_the_least_unless_it_breaks_another_limit(
    asked: Question,
) -> None:
    least = least_pressure(asked.line, 45.0, lower_limits(asked.limits), asked.confidence)
    assert least is not None
    assert holding_pressure(asked, 45.0) == least
    force = least * asked.line.charge.tip_area
    assert holding_pressure(with_limits(asked, main_roller=force * 1.001), 45.0) == least
    assert holding_pressure(with_limits(asked, main_roller=force * 0.999), 45.0) is None
    assert holding_pressure(with_limits(asked, strength=50.0), 45.0) is None
