"""The fastest speed that holds: one number wherever it is told, and what the draws leave open."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from scaleup import compare, translate
from scaleup.answers.functions import check_speed, operating_window
from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing
from scaleup.io.library import find_press, rotary_profile
from scaleup.model.study import Study
from scaleup.transfer.case import TransferCase, transfer_case
from scaleup.transfer.fastest_speed import (
    NOWHERE,
    Fastest,
    FeasibleSpeed,
    fastest_speed,
    sampling_error,
)
from scaleup.transfer.feasible import feasible_pressure

pytestmark = pytest.mark.slow

Change = Callable[..., Study]
WithLimits = Callable[..., TransferCase]
SEEDS, FEW, MANY = 12, 200, 6_000


@pytest.fixture
def near_the_edge(marram: Study, changed: Change) -> Study:
    """Return a study whose roller allows the force that strength needs only up to some speed."""
    roller = replace(marram.production.press.profile.main_roller, force_limit=11e3)
    return changed(marram, press={"main_roller": roller})


def fastest_of(study: Study, draws: int, seed: int) -> FeasibleSpeed | None:
    lab = calibrated(study, Drawing(draws, seed))
    return transfer_case(lab, 45.0, 0.9).fastest_with_band


def test_the_speeds_of_other_seeds_lie_in_the_band_about_as_often_as_it_says(
    near_the_edge: Study,
) -> None:
    """A 90 % band holds what many draws give 9 times in 10, what as few others give in 75 %."""
    truth = fastest_of(near_the_edge, MANY, 99)
    assert truth is not None
    seen = [fastest_of(near_the_edge, FEW, seed) for seed in range(1, SEEDS + 1)]
    known = [each for each in seen if each is not None]
    assert len(known) == SEEDS
    bands = [(each.slowest or 0.0, each.quickest or np.inf) for each in known]
    assert sum(low <= truth.speed <= high for low, high in bands) >= 9
    pairs = [
        low <= other.speed <= high
        for place, (low, high) in enumerate(bands)
        for number, other in enumerate(known)
        if number != place
    ]
    assert 0.6 < np.mean(pairs) < 0.9


def test_more_draws_leave_less_open(near_the_edge: Study) -> None:
    few, many = fastest_of(near_the_edge, FEW, 1), fastest_of(near_the_edge, MANY, 1)
    assert few is not None
    assert many is not None
    widths = [(each.quickest or 0.0) - (each.slowest or 0.0) for each in (few, many)]
    assert widths[1] == pytest.approx(widths[0] * np.sqrt(FEW / MANY), rel=0.5)
    assert len(str(many.told)) >= len(str(few.told))


def test_the_same_speed_is_told_by_every_answer(near_the_edge: Study) -> None:
    told = translate(near_the_edge, draws=300).fastest
    assert told.speed.low is not None
    assert told.speed.high is not None
    assert told.speed.low < (told.speed.value or 0.0) < told.speed.high
    assert check_speed(near_the_edge, speed=30.0, draws=300).fastest == told
    assert operating_window(near_the_edge, cells=(4, 4), draws=300).fastest == told
    press = rotary_profile(find_press("rotary-mid-19"))
    made = near_the_edge.production.press
    (candidate,) = compare(near_the_edge, [made], draws=300).candidates
    assert press.id == made.id
    assert (candidate.speed, candidate.told) == (told.speed, told.told)
    assert candidate.output == told.output
    assert f"above {told.told}:" in candidate.reason


def test_two_limits_may_be_missed_by_other_draws(
    case: TransferCase, with_limits: WithLimits
) -> None:
    """Errors of independent limits add as squares: less than both at once, more than one."""
    tight = with_limits(case, strength=2.35, ejection_force=318.0)
    best = fastest_speed(tight)
    assert best is not None
    point = case.process.at(best.pressure, best.speed)
    alone = 1.645 * np.sqrt(0.9 * 0.1 / 160)
    assert 0.5 * alone < sampling_error(tight, point) < 0.95 * alone
    one = with_limits(case, strength=2.0)
    lone = feasible_pressure(one, 45.0)
    assert lone is not None
    assert sampling_error(one, case.process.at(lone, 45.0)) == pytest.approx(alone, rel=0.1)


def test_the_press_s_own_fastest_is_exact_where_no_draws_doubt_it(marram: Study) -> None:
    free = translate(marram, draws=300).fastest
    assert (free.speed.value, free.speed.low, free.speed.high) == (75.0, 75.0, 75.0)
    assert (str(free.told), free.left_open) == ("75 rpm", "")


def test_where_no_speed_holds_the_draws_may_leave_one_open(
    case: TransferCase, with_limits: WithLimits
) -> None:
    """The strength that nine tenths just miss at the slowest speed at the highest force."""
    line = case.process
    strongest = line.at(line.map.ceiling, line.map.speeds[0]).strength
    assert strongest is not None
    wide = {"solid_fraction_high": 0.9999, "main_roller": 1e6, "tip_rating": 1e6,
            "ejection_force": 1e6, "tested_pressure": 100.0, "tested_dwell": 100.0}  # fmt: skip
    just = with_limits(case, strength=float(np.quantile(strongest, 0.12)), **wide)
    assert fastest_speed(just) is None
    assert "160 draws leave open that" in Fastest.of(just, None).speed.reason
    none = with_limits(case, strength=50.0, **wide)
    assert Fastest.of(none, None).speed.reason == NOWHERE
