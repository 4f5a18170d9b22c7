"""Limits of machine and tablet, one by one: where they come from and when they hold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing
from scaleup.model.estimate import Estimate, exactly
from scaleup.model.study import Study
from scaleup.transfer.case import TransferCase, transfer_case
from scaleup.transfer.limits import (
    Limit,
    all_kept,
    broken,
    filling_limits,
    limits_of,
    share_within,
)
from scaleup.transfer.margins import Margin, SetPoint, set_point
from scaleup.transfer.operating_point import OperatingPoint
from tests.studies import change, unchecked

DRAWS = 160


@pytest.fixture(scope="module")
def case(marram: Study) -> TransferCase:
    return transfer_case(calibrated(marram, Drawing(DRAWS, 1)), 45.0, 0.9)


@pytest.fixture(scope="module")
def point(case: TransferCase) -> OperatingPoint:
    return case.process.at(150.0, 45.0)


def on_figure(value: object, bound: float, side: str = "at most", of: str = "machine") -> Limit:
    """Return a limit on a figure that is what it is told to be."""
    return Limit("code", "label", of, "N", bound, side, lambda _: value)  # type: ignore[arg-type,return-value]


def by_code(study: Study, case: TransferCase, **line: object) -> dict[str, Limit]:
    changed = replace(case.process, production=study.production, **line)  # type: ignore[arg-type]
    return {each.code: each for each in limits_of(study, changed)}


def test_every_limit_is_one_that_a_profile_or_the_study_states(
    marram: Study, case: TransferCase
) -> None:
    study = change(
        marram,
        tooling={"tip_force_rating": 40e3},
        target={"output": 30e3, "strength": 2.0},
    )
    study = replace(study, target=unchecked(study.target, breaking_force=90.0))
    press = study.production.press.profile
    limits = by_code(study, case)
    assert {code: each.bound for code, each in limits.items() if code != "strength"} == {
        "main-roller": press.main_roller.force_limit,
        "tip-rating": 40e3,
        "pre-roller": 18e3,
        "ejection-force": 6e3,
        "speed-high": 75.0,
        "speed-low": 10.0,
        "tip-separation": 0.0,
        "output": 30e3,
        "solid-fraction-low": study.target.solid_fraction.min,
        "solid-fraction-high": study.target.solid_fraction.max,
    }
    sides = {code: each.side for code, each in limits.items()}
    lower = {"speed-low", "output", "tip-separation", "solid-fraction-low", "strength"}
    assert {code for code, side in sides.items() if side == "at least"} == lower
    tablet = {"solid-fraction-low", "solid-fraction-high", "strength"}
    assert {code for code, each in limits.items() if each.of == "tablet"} == tablet
    strengths = [each for each in limits_of(study, case.process) if each.code == "strength"]
    assert [(each.unit, each.bound) for each in strengths] == [("MPa", 2.0), ("N", 90.0)]
    assert {code: each.label for code, each in limits.items() if each.of == "machine"} == {
        "main-roller": "main roller force",
        "tip-rating": "tip force",
        "pre-roller": "precompression force",
        "ejection-force": "ejection force",
        "speed-high": "turret speed, fastest",
        "speed-low": "turret speed, slowest",
        "tip-separation": "tip separation, set without load",
        "output": "output",
    }
    assert limits["solid-fraction-low"].label == "solid fraction, lowest"
    assert limits["solid-fraction-high"].label == "solid fraction, highest"
    assert [each.label for each in strengths] == ["tensile strength", "breaking force"]
    units = {code: each.unit for code, each in limits.items()}
    assert units["output"] == "1/h"
    assert units["main-roller"] == units["pre-roller"] == units["ejection-force"] == "N"
    assert units["speed-low"] == units["speed-high"] == "rpm"


def test_what_is_not_stated_is_no_limit(marram: Study, case: TransferCase) -> None:
    bare = change(
        marram,
        tooling={"tip_force_rating": None},
        press={"ejection_limit": None, "pre_roller": None},
        target={"output": None, "strength": None, "breaking_force": None},
    )
    assert set(by_code(bare, case)) == {
        "main-roller",
        "tip-separation",
        "speed-high",
        "speed-low",
        "solid-fraction-low",
        "solid-fraction-high",
    }
    # A roller that is not used, and a force nothing is known of, limit nothing.
    unused = change(marram, production={"precompression": None})
    assert "pre-roller" not in by_code(unused, case)
    unknown = by_code(marram, case, fit=replace(case.process.fit, ejection=None))
    assert "ejection-force" not in unknown


def test_every_limit_looks_at_its_own_figure(case: TransferCase, point: OperatingPoint) -> None:
    area = point.process.charge.tip_area
    share = point.process.pre_share
    expected = {
        "main-roller": 150.0 * area,
        "tip-rating": 150.0 * area,
        "pre-roller": 150.0 * area * share,
        "speed-high": 45.0,
        "speed-low": 45.0,
    }
    found = {each.code: each for each in case.limits}
    for code, value in expected.items():
        assert found[code].figure(point) == pytest.approx(np.full(DRAWS, value))
    solid = found["solid-fraction-low"].figure(point)
    assert solid is not None
    assert np.array_equal(solid, point.solid_fraction)
    strength, ejection = found["strength"].figure(point), found["ejection-force"].figure(point)
    assert strength is point.strength
    assert ejection is not None
    assert np.array_equal(ejection, point.ejection_force)  # type: ignore[arg-type]


def test_output_and_breaking_force_are_figures_too(
    marram: Study, case: TransferCase, point: OperatingPoint
) -> None:
    study = change(marram, target={"output": 30e3, "strength": None, "breaking_force": 90.0})
    limits = by_code(study, case)
    assert limits["output"].figure(point) == pytest.approx(np.full(DRAWS, 19 * 45 * 60))
    assert limits["strength"].figure(point) == pytest.approx(point.breaking_force)


def test_a_figure_on_its_bound_keeps_it(point: OperatingPoint) -> None:
    value = np.linspace(90.0, 110.0, DRAWS)
    most, least = on_figure(value, 100.0), on_figure(value, 100.0, "at least")
    assert np.array_equal(most.holds(point), value <= 100.0)
    assert np.array_equal(least.holds(point), value >= 100.0)
    same = np.full(DRAWS, 100.0)
    for side in ("at most", "at least"):
        assert on_figure(same, 100.0, side).holds(point).all()
    assert on_figure(same * (1.0 + 5e-10), 100.0).holds(point).all()
    assert not on_figure(same * (1.0 + 5e-9), 100.0).holds(point).any()
    assert on_figure(same * (1.0 - 5e-10), 100.0, "at least").holds(point).all()
    assert not on_figure(same * (1.0 - 5e-9), 100.0, "at least").holds(point).any()


def test_a_figure_that_cannot_be_had_keeps_nothing(point: OperatingPoint) -> None:
    unknown = on_figure(None, 100.0)
    assert unknown.holds(point).shape == (DRAWS,)
    assert not unknown.holds(point).any()
    assert unknown.room(point) is None
    assert np.isnan(unknown.middle(point))


def test_one_value_stands_for_every_draw_and_every_pressure(case: TransferCase) -> None:
    column = case.process.at(np.array([[100.0], [150.0], [200.0]]), 45.0)
    assert on_figure(np.array(5.0), 6.0).holds(column).shape == (3, DRAWS)
    kept = all_kept(case.limits, column)
    assert kept.shape == (3, DRAWS)
    for row, pressure in zip(kept, (100.0, 150.0, 200.0), strict=True):
        assert np.array_equal(row, all_kept(case.limits, case.process.at(pressure, 45.0)))


def test_room_is_the_share_of_the_bound_that_is_left(point: OperatingPoint) -> None:
    value = np.array([80.0, 100.0, 130.0])
    assert on_figure(value, 100.0).room(point) == pytest.approx([0.2, 0.0, -0.3])
    assert on_figure(value, 100.0, "at least").room(point) == pytest.approx([-0.2, 0.0, 0.3])
    assert on_figure(value, 100.0).middle(point) == 100.0
    assert str(on_figure(value, 100.0).fact(12345.0)) == "12.3 kN"


def test_draws_are_within_where_every_limit_is_kept(point: OperatingPoint) -> None:
    value = np.arange(DRAWS, dtype=float)
    low, high = on_figure(value, 0.25 * DRAWS, "at least"), on_figure(value, 0.75 * DRAWS - 1.0)
    assert share_within((low, high), point) == 0.5
    assert np.array_equal(
        all_kept((low, high), point), (value >= 0.25 * DRAWS) & (value < 0.75 * DRAWS)
    )
    assert share_within((), point) == 1.0


def test_broken_limits_come_worst_first(point: OperatingPoint) -> None:
    value = np.arange(DRAWS, dtype=float)
    half, fine = on_figure(value, 0.5 * DRAWS), on_figure(value, float(DRAWS))
    tenth = on_figure(value, 0.1 * DRAWS - 1.0)
    assert broken((half, fine, tenth), point, 0.9) == [tenth, half]
    just = on_figure(value, 0.9 * DRAWS - 1.0)
    assert just.holds(point).mean() == 0.9
    assert broken((just,), point, 0.9) == []
    assert broken((just,), point, 0.901) == [just]


def test_filling_is_watched_where_the_feeder_is_known(
    marram: Study, case: TransferCase, point: OperatingPoint
) -> None:
    (only,) = filling_limits(marram.production)
    assert (only.side, only.bound, only.unit, only.of) == ("at least", 0.1, "s", "machine")
    assert only.figure(point) == pytest.approx(np.full(DRAWS, 82.0 / 360.0 * 60.0 / 45.0))
    unknown = change(marram, press={"feeder_arc": None})
    assert filling_limits(unknown.production) == ()
    margins = set_point(case, exactly(150.0, "MPa"), 45.0).margins
    assert [each.limit.code for each in margins if each.watched] == ["feed-time"]
    assert len(margins) == len(case.limits) + 1


def margin(
    code: str, share: float, room: tuple[float, float, float], *, of: str = "tablet",
    watched: bool = False,
) -> Margin:  # fmt: skip
    found = Limit(code, code, of, "1", 1.0, "at most", lambda _: None)  # type: ignore[arg-type]
    low, middle, high = room
    return Margin(found, exactly(1.0, "1"), Estimate(middle, "1", low, high), share, 200, watched)


def of_margins(point: OperatingPoint, *margins: Margin) -> SetPoint:
    return SetPoint(exactly(150.0, "MPa"), point, margins, 0.5)


def test_a_margin_counts_in_standard_deviations() -> None:
    """A 90 % band is 3.29 standard deviations wide; a machine is kept within 2 % at best."""
    assert margin("a", 1.0, (0.1 - 0.1645, 0.1, 0.1 + 0.1645)).deviations == pytest.approx(1.0)
    assert margin("a", 1.0, (0.1, 0.1, 0.1), of="machine").deviations == pytest.approx(5.0)
    assert margin("a", 1.0, (0.1, 0.1, 0.1)).deviations > 1e6
    wide = margin("a", 1.0, (-0.229, 0.1, 0.429), of="machine")
    assert wide.deviations == pytest.approx(0.5)
    unknown = replace(wide, room=Estimate(None, "1", reason="none"))
    assert unknown.deviations == float("-inf")


def test_what_binds_is_kept_by_fewest_and_then_nearest(point: OperatingPoint) -> None:
    near, far = margin("near", 1.0, (0.0, 0.1, 0.2)), margin("far", 1.0, (0.4, 0.5, 0.6))
    failing = margin("failing", 0.4, (0.6, 0.7, 0.8))
    worse = margin("worse", 0.2, (0.6, 0.7, 0.8))
    watched = margin("watched", 0.0, (-0.3, -0.2, -0.1), watched=True)
    assert of_margins(point, far, near, watched).binding is near
    assert of_margins(point, far, near, failing, watched).binding is failing
    found = of_margins(point, near, failing, watched, worse)
    assert found.broken(0.9) == (worse, failing)
    assert found.broken(0.4) == (worse,)
    assert found.broken(0.1) == ()


def test_margins_of_a_dialled_pressure_are_those_of_its_point(case: TransferCase) -> None:
    pressure = Estimate(150.0, "MPa", 140.0, 160.0)
    found = set_point(case, pressure, 45.0)
    area = case.process.charge.tip_area
    assert found.force.value == pytest.approx(150.0 * area)
    assert (found.force.low, found.force.high) == pytest.approx((140.0 * area, 160.0 * area))
    assert found.force.unit == "N"
    assert found.within == share_within(case.limits, found.point)
    by_code = {each.limit.code: each for each in found.margins}
    strength = by_code["strength"]
    drawn = found.point.strength
    assert drawn is not None
    assert strength.value.value == pytest.approx(np.median(drawn))
    assert strength.value.unit == "MPa"
    bound = strength.limit.bound
    assert strength.room.value == pytest.approx(np.median(drawn) / bound - 1.0)
    assert strength.room.unit == "1"
    assert strength.share == np.mean(drawn >= bound)
    assert not strength.watched
    with pytest.raises(ValueError, match="a pressure is dialled"):
        set_point(case, Estimate(None, "MPa", reason="none"), 45.0)


def test_a_limit_on_what_was_not_measured_says_so(case: TransferCase) -> None:
    unknown = replace(case, limits=(on_figure(None, 5.0),))
    (only, _) = set_point(unknown, exactly(150.0, "MPa"), 45.0).margins
    assert only.value.value is None
    assert only.value.reason == only.room.reason == "the lab runs say nothing of label"
    assert (only.value.unit, only.room.unit) == ("N", "1")
    assert only.share == 0.0


def test_a_figure_not_known_is_said_so() -> None:
    assert str(on_figure(None, 15.0).fact(float("nan"))) == "not known"
