"""Pressures and speeds that hold, held against a scan of pressures and speeds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from scaleup.transfer.case import TransferCase
from scaleup.transfer.fastest_speed import NOWHERE, Fastest, FeasibleSpeed, fastest_speed
from scaleup.transfer.feasible import (
    feasible_pressure,
    least_pressure,
    lower_limits,
    needed_pressure,
)
from scaleup.transfer.limits import Limit

WithLimits = Callable[..., TransferCase]


def limit(case: TransferCase, code: str, bound: float | None = None) -> Limit:
    found = next(each for each in case.limits if each.code == code)
    return found if bound is None else replace(found, bound=bound)


def test_each_draw_needs_the_pressure_that_just_keeps_the_limit(case: TransferCase) -> None:
    target = limit(case, "strength", 1.6)
    needed = needed_pressure(case.process, 45.0, target)
    assert np.all(np.isfinite(needed))
    assert np.all(needed > case.process.map.floor * 1.5)
    assert np.all(target.holds(case.process.at(needed, 45.0)) == 1.0)
    # Halved 18 times: the ends are apart by ln(ceiling/floor)/2^18 at most.
    apart = np.log(case.process.map.ceiling / case.process.map.floor) / 2**18
    below = needed * np.exp(-1.01 * apart)
    assert np.all(target.holds(case.process.at(below, 45.0)) == 0.0)


def test_what_no_pressure_gives_is_infinite_for_those_draws(case: TransferCase) -> None:
    strongest = case.process.at(case.process.map.ceiling, 45.0).strength
    assert strongest is not None
    target = limit(case, "strength", float(np.quantile(strongest, 0.3, method="nearest")))
    needed = needed_pressure(case.process, 45.0, target)
    assert np.array_equal(np.isfinite(needed), strongest >= target.bound)
    assert 0.2 < np.mean(np.isinf(needed)) < 0.4


def test_the_least_pressure_is_the_least_at_which_all_hold_with_the_confidence(
    case: TransferCase,
) -> None:
    both = (limit(case, "strength", 1.6), limit(case, "solid-fraction-low", 0.84))
    for confidence in (0.6, 0.9):
        least = least_pressure(case.process, 45.0, both, confidence)
        assert least is not None
        here, below = (case.process.at(each, 45.0) for each in (least, least * (1.0 - 1e-4)))
        assert all(each.holds(here).mean() >= confidence for each in both)
        assert any(each.holds(below).mean() < confidence for each in both)
    assert least_pressure(case.process, 45.0, (limit(case, "strength", 50.0),), 0.9) is None
    at_once = least_pressure(case.process, 45.0, (), 0.9)
    assert at_once == pytest.approx(case.process.map.floor, rel=1e-4)


def test_limits_that_pressure_helps_are_the_lower_ones_of_the_tablet(case: TransferCase) -> None:
    assert {each.code for each in lower_limits(case.limits)} == {"solid-fraction-low", "strength"}


def test_the_fastest_speed_is_the_last_at_which_some_pressure_holds(
    case: TransferCase, with_limits: WithLimits
) -> None:
    """Strength asks for more pressure the faster it goes; ejection allows no more."""
    bounds: dict[str, Any] = {"strength": 2.35, "ejection_force": 318.0}
    tight = with_limits(case, **bounds)
    fastest = fastest_speed(tight)
    assert fastest is not None
    speed, pressure = fastest.speed, fastest.pressure
    assert 10.0 < speed < 75.0
    assert feasible_pressure(tight, speed) == pressure
    scan = [each for each in np.linspace(10.0, 75.0, 261) if feasible_pressure(tight, each)]
    assert max(scan) <= speed + 0.25
    assert speed <= max(scan) + 0.26


def test_the_fastest_speed_may_be_the_presss_own_or_none(
    case: TransferCase, with_limits: WithLimits
) -> None:
    free = with_limits(case, strength=0.5, solid_fraction_low=0.6, solid_fraction_high=0.99)
    fastest = fastest_speed(free)
    assert fastest is not None
    assert fastest.speed == 75.0
    assert fastest.pressure == feasible_pressure(free, 75.0)
    assert fastest_speed(with_limits(case, strength=50.0)) is None


def test_the_pressure_that_holds_is_the_least_unless_it_breaks_another_limit(
    case: TransferCase,
    with_limits: WithLimits,
) -> None:
    least = least_pressure(case.process, 45.0, lower_limits(case.limits), case.confidence)
    assert least is not None
    assert feasible_pressure(case, 45.0) == least
    force = least * case.process.charge.tip_area
    assert feasible_pressure(with_limits(case, main_roller=force * 1.001), 45.0) == least
    assert feasible_pressure(with_limits(case, main_roller=force * 0.999), 45.0) is None
    assert feasible_pressure(with_limits(case, strength=50.0), 45.0) is None


def test_the_fastest_speed_is_told_in_the_units_of_each_figure(
    case: TransferCase, with_limits: WithLimits
) -> None:
    found = Fastest.of(case, FeasibleSpeed(40.0, 150.0, 38.0, 41.5))
    assert (found.speed.value, found.speed.unit) == (40.0, "rpm")
    assert (found.speed.low, found.speed.high) == (38.0, 41.5)
    assert (found.pressure.value, found.pressure.unit) == (150.0, "MPa")
    assert found.force.value == pytest.approx(150.0 * 78.5398163)
    assert found.force.unit == "N"
    assert found.output.value == case.process.production.output(40.0)
    assert (str(found.told), found.left_open) == ("40 rpm", "160 draws leave open 38 rpm to 42 rpm")
    none = Fastest.of(with_limits(case, strength=50.0), None)
    told = (none.speed, none.pressure, none.force)
    assert [(each.value, each.unit, each.reason) for each in told] == [
        (None, unit, NOWHERE) for unit in ("rpm", "MPa", "N")
    ]
