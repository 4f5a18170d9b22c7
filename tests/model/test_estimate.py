"""Values with their bands: medians of draws, means of replicates, and what cannot be had."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from scaleup.model.estimate import Estimate, drawn, exactly, mean_of, unavailable


def test_a_band_holds_nine_tenths_of_the_draws() -> None:
    draws = np.random.default_rng(1).permutation(np.arange(1001.0))
    estimate = drawn(draws, "MPa")
    assert (estimate.value, estimate.low, estimate.high) == pytest.approx((500.0, 50.0, 950.0))
    assert (estimate.unit, estimate.reason) == ("MPa", "")
    dialled = drawn(draws, "MPa", 700.0)
    assert (dialled.value, dialled.low, dialled.high) == pytest.approx((700.0, 50.0, 950.0))


def test_draws_without_a_value_open_the_band_and_are_told() -> None:
    """Of 100 draws 20 reach it nowhere: the upper end of the band is open."""
    draws = np.concatenate([np.arange(80.0), np.full(20, np.inf)])
    estimate = drawn(draws, "MPa")
    assert estimate.low == 5.0
    assert estimate.value == pytest.approx(49.5, abs=0.6)
    assert estimate.high is None
    assert estimate.reason == "20 % of the draws reach it at no value"
    assert estimate.unit == "MPa"
    dialled = drawn(draws, "MPa", 60.0)
    assert (dialled.value, dialled.low, dialled.high) == (60.0, 5.0, None)


def test_a_figure_that_some_draws_do_not_have_is_none() -> None:
    """Not at the upper end, nor at the lower: nothing is known of where it would lie."""
    estimate = drawn(np.concatenate([np.arange(98.0), np.full(2, np.nan)]), "N")
    assert (estimate.low, estimate.value, estimate.high) == (None, None, None)
    assert estimate.reason == "2.0 % of the draws have none"


def test_mostly_without_a_value_there_is_no_middle() -> None:
    estimate = drawn(np.concatenate([np.arange(40.0), np.full(60, np.inf)]), "N")
    assert (estimate.value, estimate.high) == (None, None)
    assert estimate.low == 5.0
    none = drawn(np.full(50, np.inf), "N")
    assert (none.low, none.value, none.high) == (None, None, None)


def test_the_mean_of_replicates_has_students_band() -> None:
    """Against the interval of a general-purpose library."""
    values = np.array([101.0, 98.0, 104.0, 99.5])
    estimate = mean_of(values, "N")
    low, high = stats.t.interval(0.90, 3, values.mean(), stats.sem(values))
    assert estimate.value == pytest.approx(100.625)
    assert (estimate.low, estimate.high) == pytest.approx((low, high))
    assert (estimate.unit, estimate.reason) == ("N", "")
    two = mean_of(np.array([1.0, 3.0]), "mm")
    assert two.high == pytest.approx(2.0 + stats.t.ppf(0.95, 1) * 1.0)


def test_one_replicate_has_no_band() -> None:
    estimate = mean_of(np.array([101.0]), "N")
    assert (estimate.value, estimate.low, estimate.high) == (101.0, None, None)
    assert (estimate.unit, estimate.reason) == ("N", "one run: no band")


def test_what_is_set_is_exact_and_what_is_not_there_is_nothing() -> None:
    assert exactly(3, "mm") == Estimate(3.0, "mm", 3.0, 3.0)
    assert exactly(3, "mm").exact
    assert not Estimate(3.0, "mm", 2.9, 3.0).exact
    assert not Estimate(3.0, "mm", 3.0, 3.1).exact
    none = unavailable("mm", "not measured")
    assert (none.value, none.low, none.high, none.reason) == (None, None, None, "not measured")
    assert not none.exact


def test_a_quantity_in_another_unit() -> None:
    found = Estimate(2.0, "MPa", 1.0, 4.0, "told").times(10.0, "N")
    assert found == Estimate(20.0, "N", 10.0, 40.0, "told")
    half = Estimate(2.0, "MPa", 1.0, None).times(3.0, "N")
    assert (half.value, half.low, half.high) == (6.0, 3.0, None)
    assert unavailable("MPa", "none").times(3.0, "N") == unavailable("N", "none")
