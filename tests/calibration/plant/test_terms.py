"""Each term from a study to the figures: what grade it has, how wide it is, and what it does."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log, sqrt

import numpy as np
import pytest

import scaleup
from scaleup.arrays import Array
from scaleup.calibration.plant.term import Term
from scaleup.model.study import Study
from scaleup.model.transfer_terms import TERMS, TermName, TransferTerms
from scaleup.transfer.case import TransferCase
from tests.studies import EXAMPLES, change

DRAWS = 200
MADE: tuple[TermName, ...] = ("gauges", "friction", "shear", "lot", "testers", "readings")
"""Every term but the change of the exponent, which is fitted."""


@pytest.fixture(scope="module")
def marram() -> Study:
    return scaleup.read_study(EXAMPLES / "marram")


@pytest.fixture(scope="module")
def plain(marram: Study) -> TransferCase:
    """Return the case of a study that states nothing of the way to the plant."""
    return case_of(marram)


def case_of(study: Study, **stated: object) -> TransferCase:
    terms = TransferTerms(**stated) if stated else study.transfer  # type: ignore[arg-type]
    return scaleup.Analysis(replace(study, transfer=terms), draws=DRAWS).case()


def term_of(case: TransferCase, name: str) -> Term:
    return next(each for each in case.process.plant.terms if each.name == name)


def wide(values: Array) -> float:
    """Return the standard deviation of draws."""
    return float(np.std(values))


def strength(case: TransferCase) -> Array:
    found = case.at_lab_pressure.strength
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("name", "grade"),
    [
        ("gauges", "assumed"),
        ("friction", "assumed"),
        ("shear", "assumed"),
        ("lot", "borrowed"),
        ("testers", "assumed"),
        ("readings", "assumed"),
    ],
)
def test_what_a_study_leaves_out_is_not_called_measured(
    plain: TransferCase, name: str, grade: str
) -> None:
    assert term_of(plain, name).grade == grade


def test_what_is_assumed_has_the_width_that_is_said(plain: TransferCase) -> None:
    """Two gauges of 2.5 %, friction x/÷ 1.5, a lubricated blend, 7 % and 3 % between batches."""
    assert wide(term_of(plain, "gauges").log_pressure) == pytest.approx(0.025 * sqrt(2.0), rel=0.1)
    shear = term_of(plain, "shear").strength(45.0)
    assert float(np.mean(shear)) == pytest.approx(log(0.90), abs=0.005)
    assert np.exp(np.quantile(shear, [0.05, 0.95])) == pytest.approx([0.75, 1.08], abs=0.01)
    lot = term_of(plain, "lot")
    assert wide(lot.strength(45.0)) == pytest.approx(0.07, rel=0.03)
    assert wide(lot.log_pressure) == pytest.approx(0.03, rel=0.03)
    assert wide(term_of(plain, "testers").strength(45.0)) == pytest.approx(
        0.02 * sqrt(2.0), rel=0.03
    )


def test_pressing_from_both_sides_reaches_more_of_the_powder(plain: TransferCase) -> None:
    """A press on one side in the lab and on both in production: more of the pressure densifies."""
    friction = term_of(plain, "friction").log_pressure
    assert np.all(friction > 0.0)
    height = 402.0 / (plain.study.blend.true_density * 0.834 * np.pi * 25.0)
    k = 4.0 * 0.05 * height / 10.0
    middle = log(((1.0 - exp(-k / 2.0)) / (k / 2.0)) / ((1.0 - exp(-k)) / k))
    assert float(np.median(friction)) == pytest.approx(middle, rel=0.02)


STATED: dict[str, tuple[dict[str, object], str, float]] = {
    "gauges": ({"gauge_ratio": 1.04, "gauge_ratio_accuracy": 0.01}, "log_pressure", 0.005),
    "shear": ({"shear": 0.85, "shear_spread": 0.04}, "log_strength", 0.04),
    "lot": ({"lot_strength": 0.04, "lot_pressure": 0.01}, "log_strength", 0.04),
    "testers": ({"tester_accuracy": 0.01}, "log_strength", 0.005 * sqrt(2.0)),
    "readings": (
        {"thickness_accuracy": 0.0005, "weight_accuracy": 0.01, "density_accuracy": 0.02},
        "log_solid_fraction",
        0.01,
    ),
}


@pytest.mark.parametrize("name", STATED)
def test_what_a_study_states_is_measured_and_as_wide_as_stated(marram: Study, name: str) -> None:
    stated, figure, spread = STATED[name]
    term = term_of(case_of(marram, **stated), name)
    assert term.grade == "measured"
    values = getattr(term, figure)
    assert isinstance(values, np.ndarray)
    assert wide(values) == pytest.approx(spread, rel=0.05)


def test_a_stated_wall_friction_takes_the_place_of_the_assumed_one(marram: Study) -> None:
    narrow = term_of(case_of(marram, wall_friction=0.12, wall_friction_factor=1.05), "friction")
    usual = term_of(case_of(marram), "friction")
    assert narrow.grade == "measured"
    assert float(np.median(narrow.log_pressure)) > 2.0 * float(np.median(usual.log_pressure))
    assert wide(narrow.log_pressure) < wide(usual.log_pressure)


def test_a_gauge_that_reads_high_densifies_less(marram: Study) -> None:
    """Force read 4 % above the lab's on one load: 4 % less of it is there."""
    term = term_of(case_of(marram, gauge_ratio=1.04, gauge_ratio_accuracy=0.0005), "gauges")
    assert term.log_pressure == pytest.approx(-log(1.04), abs=0.0015)
    assert float(np.median(term.log_pressure)) == pytest.approx(-log(1.04), abs=1e-4)


def test_certificates_of_both_gauges_are_measured(marram: Study) -> None:
    certified = change(marram, press={"force_accuracy": 0.01}, lab_press={"force_accuracy": 0.02})
    term = term_of(case_of(certified), "gauges")
    assert term.grade == "measured"
    assert wide(term.log_pressure) == pytest.approx(sqrt(0.005**2 + 0.01**2), rel=0.1)
    half = term_of(case_of(change(marram, press={"force_accuracy": 0.01})), "gauges")
    assert half.grade == "assumed"


def test_a_lubricant_is_looked_for_in_the_components(marram: Study) -> None:
    without = case_of(marram, lubricated=False)
    shear = term_of(without, "shear").strength(45.0)
    assert float(np.mean(shear)) == pytest.approx(0.0, abs=1e-3)
    assert wide(shear) == pytest.approx(0.03, rel=0.03)
    assert term_of(without, "friction").log_pressure.mean() > (
        term_of(case_of(marram, lubricated=True), "friction").log_pressure.mean()
    )


@pytest.mark.parametrize("name", MADE)
def test_a_term_that_is_off_does_nothing(marram: Study, name: TermName) -> None:
    term = term_of(case_of(marram, off=(name,)), name)
    assert (term.grade, term.counts) == ("off", False)
    assert not term.log_pressure.any()
    assert not term.strength(45.0).any()
    assert not term.log_solid_fraction.any()


@pytest.mark.parametrize("name", ["gauges", "shear", "lot", "testers"])
def test_a_band_without_a_term_is_narrower(
    marram: Study, plain: TransferCase, name: TermName
) -> None:
    """The same draws but for the term: variance goes, the rest stays as it was."""
    without = case_of(marram, off=(name,))
    assert wide(np.log(strength(without))) < wide(np.log(strength(plain)))


def test_without_any_term_the_law_alone_is_left(marram: Study) -> None:
    alone = case_of(marram, off=TERMS)
    point = alone.at_lab_pressure
    assert strength(alone) == pytest.approx(alone.at_lab_pressure_by_the_law.strength, rel=1e-12)
    assert point.acting == pytest.approx(point.pressure, rel=1e-12)


def test_the_change_of_the_exponent_is_fitted_unless_it_is_off(marram: Study) -> None:
    """It is believed to be 0 ± 0.25 for each decade, and runs over several dwells narrow it."""
    fitted = case_of(marram).fit.powder.curvature
    assert 0.0 < wide(fitted) < 0.25
    assert not case_of(marram, off=("curvature",)).fit.powder.curvature.any()
    assert wide(case_of(marram, curvature=0.05).fit.powder.curvature) == pytest.approx(
        0.05, rel=0.25
    )


def test_a_gauge_is_shared_by_all_runs_of_its_press(marram: Study) -> None:
    """Ten times the runs leave what the gauge may be off as it was."""
    few = term_of(case_of(change(marram, runs=_of_few)), "gauges")
    many = term_of(case_of(marram), "gauges")
    assert wide(few.log_pressure) == pytest.approx(wide(many.log_pressure), rel=1e-9)
    thrice = replace(marram, lab=replace(marram.lab, runs=marram.lab.runs * 3))
    assert wide(case_of(thrice).at_lab_pressure.acting) == pytest.approx(
        wide(case_of(marram).at_lab_pressure.acting), rel=1e-9
    )


def _of_few(run: scaleup.Run) -> scaleup.Run | None:
    return run if run.name in ("M1", "M4", "M6", "M8") else None
