"""Fill depth at the tip edge: cups, other feeders, and the fill cams of the press."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scaleup.answers.functions import imitate, translate
from scaleup.answers.translation import Translation
from scaleup.calibration.observations import observe, sides
from scaleup.io.library import find_tooling
from scaleup.io.study import read_study
from scaleup.model.ranges import Range
from scaleup.model.run import Run
from scaleup.model.study import Study
from scaleup.powder.tip import Tip, tip_from
from scaleup.transfer.filling import Filling, feed_spread, filling_of

EXAMPLES = Path(__file__).parents[2] / "examples"
CONVEX: Tip = tip_from(find_tooling("b-convex-10").profile)
FLAT: Tip = tip_from(find_tooling("b-flat-10").profile)


def dies(*density: float, known: str = "hand", asked: str = "forced") -> Filling:
    return Filling(np.array(density), known, asked)


def range_of(low: float, high: float) -> Range:
    return Range(low, high)


def test_a_cup_holds_what_the_depth_at_the_tip_edge_need_not() -> None:
    """400 mg of 0.381 mg/mm³ are 1050 mm³: 13.37 mm over flat tips, 12.91 with a 35.7 mm³ cup."""
    convex = replace(FLAT, cup_volume=35.7)
    loose = dies(400.0 / (13.37 * FLAT.area), known="forced")
    assert loose.depth(400.0, FLAT).value == pytest.approx(13.37, abs=1e-9)
    assert loose.depth(400.0, convex).value == pytest.approx(12.915, abs=2e-3)


def filled(study: Study, tooling: str, depth: float) -> Study:
    """Return a study whose runs were all filled to one depth between tips of a tooling."""
    lab = replace(study.lab, tooling=find_tooling(tooling))
    runs = tuple(replace(run, fill_depth=depth) for run in study.lab.runs)
    return replace(study, lab=replace(lab, runs=runs))


def test_the_volume_filled_is_the_same_on_both_sides(marram: Study) -> None:
    """Convex to convex the depth comes back; from convex to flat the cup is added to it."""
    for lab, made, more in (
        ("b-convex-10", CONVEX, 0.0),
        ("b-convex-10", FLAT, CONVEX.cup_volume / CONVEX.area),
        ("b-flat-10", CONVEX, -CONVEX.cup_volume / CONVEX.area),
    ):
        study = filled(marram, lab, 13.0)
        run = replace(study.lab.runs[0], weight=400.0, thickness=5.2, breaking_force=None)
        study = replace(study, lab=replace(study.lab, runs=(run,)))
        (seen,) = observe(study, sides(study))
        assert seen.fill_density is not None
        depth = dies(seen.fill_density, known="hand", asked="hand").depth(400.0, made)
        assert depth.value == pytest.approx(13.0 + more, rel=1e-9)


def test_translating_to_cups_takes_their_volume_off(marram: Study) -> None:
    flat = translate(marram, draws=200)
    convex = translate(read_study(EXAMPLES / "marram", tooling="b-convex-10"), draws=200)
    depths = [found.equivalent("pressure").settings.fill_depth for found in (flat, convex)]
    off = (depths[0].value or 0.0) - (depths[1].value or 0.0)
    assert off == pytest.approx(CONVEX.cup_volume / CONVEX.area, rel=1e-6)


@pytest.mark.parametrize(
    ("known", "asked", "spread"),
    [
        ("hand", "hand", 0.0), ("forced", "forced", 0.0), ("hand", "forced", 0.1),
        ("forced", "hand", 0.1), ("hand", "gravity", 0.1), ("gravity", "forced", 0.05),
    ],
)  # fmt: skip
def test_another_feeder_widens_the_band(known: str, asked: str, spread: float) -> None:
    """Ten dies within 1 %: the band is theirs, or nine in ten of the changes of a feeder."""
    assert feed_spread(known, asked) == spread
    density = 0.39 * (1.0 + 0.004 * np.linspace(-1.0, 1.0, 10))
    depth = Filling(density, known, asked).depth(400.0, FLAT)
    assert depth.value is not None
    assert depth.low is not None
    assert depth.high is not None
    half = 0.5 * (depth.high - depth.low) / depth.value
    assert half == pytest.approx(max(spread, 0.0016), rel=0.15)


def test_one_die_filled_otherwise_has_a_band_and_filled_alike_has_none() -> None:
    assert dies(0.39).depth(400.0, FLAT).low is not None
    alone = dies(0.39, asked="hand").depth(400.0, FLAT)
    assert (alone.low, alone.reason) == (None, "one run: no band")


def test_the_share_that_cams_cover_is_that_of_the_band() -> None:
    """The middle of the band covers half, the band itself nine tenths, two cams their sum."""
    loose = dies(0.39)
    depth = loose.depth(400.0, CONVEX)
    low, value, high = (each or 0.0 for each in (depth.low, depth.value, depth.high))
    assert loose.within([range_of(0.1, value)], 400.0, CONVEX) == pytest.approx(0.5, abs=0.01)
    assert loose.within([range_of(low, high)], 400.0, CONVEX) == pytest.approx(0.9, abs=0.01)
    both = [range_of(low, value), range_of(value, high)]
    assert loose.within(both, 400.0, CONVEX) == pytest.approx(0.9, abs=0.01)


def test_runs_filled_as_asked_tell_most(marram: Study) -> None:
    """A production run with its depth knows the feeder; its density is carried to no other."""
    made = Run("T1", 12e3, press="production", speed=45.0, weight=400.0, thickness=4.0,
               fill_depth=12.0)  # fmt: skip
    study = replace(marram, lab=replace(marram.lab, runs=(*marram.lab.runs, made)))
    seen = observe(study, sides(study))
    forced = filling_of(study, seen, "M4", "forced")
    by_hand = filling_of(study, seen, "M4", "hand")
    assert forced is not None
    assert by_hand is not None
    assert (forced.known, forced.spread, forced.density.size) == ("forced", 0.0, 1)
    assert (by_hand.known, by_hand.spread, by_hand.density.size) == ("hand", 0.0, 4)
    assert filling_of(study, [], "M4", "hand") is None


Change = Callable[..., Study]


def told(translation: Translation) -> dict[str, str]:
    return {item.code: item.severity for item in translation.risks if item.code.startswith("fill")}


@pytest.mark.parametrize(
    ("cams", "code"),
    [
        ([(6.0, 16.0)], {}),
        ([(6.0, 13.5)], {"fill-depth-near-range-end": "serious"}),
        ([(6.0, 13.5), (12.5, 18.0)], {"fill-depth-near-range-end": "watch"}),
        ([(6.0, 10.0)], {"fill-depth-outside-ranges": "severe"}),
    ],
)
def test_a_band_over_the_end_of_a_cam_is_said(
    marram: Study, changed: Change, cams: list[tuple[float, float]], code: dict[str, str]
) -> None:
    """13.0 mm by hand; by a forced feeder 11.8 to 14.4 mm."""
    study = changed(marram, press={"fill": tuple(range_of(*each) for each in cams)})
    assert told(translate(study, draws=200)) == code


def test_a_lab_filled_as_the_press_is_has_no_such_doubt(marram: Study, changed: Change) -> None:
    study = changed(marram, press={"fill": (range_of(6.0, 13.5),)}, lab_press={"feed": "forced"})
    assert told(translate(study, draws=200)) == {}


def test_back_to_the_lab_a_depth_is_told_for_its_own_tips() -> None:
    fescue = read_study(EXAMPLES / "fescue")
    runs = tuple(replace(run, fill_depth=12.0) for run in fescue.lab.runs)
    known = replace(fescue, lab=replace(fescue.lab, runs=runs))
    asked = imitate(known, run="P2", draws=200)
    for item in asked.equivalents:
        if item.settings.main_pressure.value is not None:
            assert item.settings.fill_depth.value == pytest.approx(12.0, rel=0.05)
    made_only = tuple(
        run if run.press == "production" else replace(run, fill_depth=None) for run in runs
    )
    carried = imitate(replace(known, lab=replace(fescue.lab, runs=made_only)), run="P2", draws=200)
    depth = carried.equivalents[0].settings.fill_depth
    assert ((depth.high or 0.0) - (depth.low or 0.0)) / 2.0 > 0.08 * (depth.value or 0.0)
    assert "hand" in carried.filling
    nothing = imitate(fescue, run="P2", draws=200).equivalents[0].settings.fill_depth
    assert nothing.value is not None or "no fill depth" in nothing.reason
