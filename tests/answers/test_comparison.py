"""Production presses side by side: the order, the reasons, and one fit for all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scaleup.answers.comparison import Comparison
from scaleup.answers.functions import check_speed, compare
from scaleup.calibration.fit import Fit, fit
from scaleup.io.library import find_press, presses_taking, rotary_profile
from scaleup.io.study import read_study
from scaleup.model.press import RotaryProfile
from scaleup.model.profile import NamedProfile
from scaleup.model.study import Study

pytestmark = pytest.mark.slow

Change = Callable[..., Study]
EXAMPLES = Path(__file__).parents[2] / "examples"


def presses(*names: str) -> Sequence[NamedProfile[RotaryProfile]]:
    return [rotary_profile(find_press(name)) for name in names]


@pytest.fixture(scope="module")
def comparison(marram: Study) -> Comparison:
    return compare(
        marram, presses("rotary-pilot-7", "rotary-single-31", "rotary-mid-19"), draws=300
    )


def test_the_largest_output_comes_first(comparison: Comparison) -> None:
    names = [each.production.press.id for each in comparison.candidates]
    assert names == ["rotary-single-31", "rotary-mid-19", "rotary-pilot-7"]
    outputs = [each.output.value or 0.0 for each in comparison.candidates]
    assert outputs == [31 * 85 * 60.0, 19 * 75 * 60.0, 7 * 55 * 60.0]
    assert all(each.holds for each in comparison.candidates)


def test_the_reason_each_one_loses_has_its_size(comparison: Comparison) -> None:
    second = comparison.candidates[1]
    lost = 1.0 - (19 * 75) / (31 * 85)
    assert f"{lost * 100:.0f} % less output than rotary-single-31" in second.reason
    assert comparison.candidates[0].reason.startswith("largest output of the 3 that hold")


def test_a_candidate_is_what_its_own_speed_check_says(
    marram: Study, comparison: Comparison
) -> None:
    other = replace(
        marram,
        production=replace(marram.production, press=presses("rotary-pilot-7")[0], speed=45.0),
    )
    check = check_speed(other, draws=300)
    candidate = comparison.candidates[-1]
    assert candidate.speed == check.fastest.speed
    assert candidate.set_point is not None
    assert candidate.set_point.pressure.value == check.fastest.pressure.value
    assert candidate.stopped_by == check.stopped_by


def test_presses_that_hold_at_no_speed_say_what_they_miss(sedge: Study) -> None:
    comparison = compare(sedge, presses("rotary-single-31", "rotary-pilot-7"), draws=300)
    assert not any(each.holds for each in comparison.candidates)
    for each in comparison.candidates:
        assert "tensile strength" in each.reason
        assert each.speed.value == each.production.press.profile.speed.min
    assert any("capping" in reason for reason in comparison.reasons)


def test_one_that_holds_comes_before_a_faster_one_that_does_not(
    marram: Study, changed: Change
) -> None:
    """A press whose ejection cam carries almost nothing loses, however fast."""
    weak = presses("rotary-single-31")[0]
    weak = replace(weak, profile=replace(weak.profile, ejection_limit=100.0))
    comparison = compare(marram, [weak, *presses("rotary-pilot-7")], draws=300)
    assert [each.holds for each in comparison.candidates] == [True, False]
    assert comparison.candidates[0].reason.startswith("the one that holds")
    assert "ejection force" in comparison.candidates[1].reason


def test_of_two_with_one_output_the_one_that_needs_no_change_is_first(marram: Study) -> None:
    """The study asks for precompression, which the second press has no roller for."""
    whole = presses("rotary-mid-19")[0]
    bare = replace(whole, id="bare", profile=replace(whole.profile, pre_roller=None))
    for order in ([whole, bare], [bare, whole]):
        found = compare(marram, order, draws=300).candidates
        assert [each.production.press.id for each in found] == ["rotary-mid-19", "bare"]
        assert found[0].output == found[1].output
        assert found[1].changes
        assert found[1].reason.startswith("as much output as rotary-mid-19, but not without")


def test_an_output_asked_for_rules_out_small_presses(marram: Study, changed: Change) -> None:
    wanted = changed(marram, target={"output": 100_000.0})
    comparison = compare(wanted, presses("rotary-pilot-7", "rotary-single-31"), draws=300)
    assert [each.holds for each in comparison.candidates] == [True, False]
    assert "output" in comparison.candidates[1].reason


def test_runs_without_a_fit_leave_nothing_to_rank(marram: Study, changed: Change) -> None:
    two = changed(marram, runs=lambda run: run if run.line in (4, 16) else None)
    two = replace(two, lab=replace(two.lab, reference=None))
    comparison = compare(two, presses("rotary-pilot-7"), draws=300)
    assert comparison.candidates[0].output.value is None
    assert comparison.reasons[0].startswith("Nothing about the powder can be predicted: 2 runs")


def test_every_press_that_takes_the_tooling_is_a_candidate() -> None:
    names = {each.id for each in presses_taking("B")}
    assert {"rotary-mid-19", "rotary-double-53", "rotary-stated-17"} <= names
    assert "rotary-large-23" not in names
    assert "lab-eccentric" not in names


def test_production_runs_stay_on_the_press_that_made_them() -> None:
    """Whichever press is asked about, the fit is of the runs as they were made."""
    here = fit(read_study(EXAMPLES / "fescue"), draws=300)
    elsewhere = fit(read_study(EXAMPLES / "fescue", "rotary-single-31"), draws=300)
    assert isinstance(here, Fit)
    assert isinstance(elsewhere, Fit)
    assert np.array_equal(here.powder.rate_exponent, elsewhere.powder.rate_exponent)
    assert here.dwell_span == elsewhere.dwell_span
