"""What runs say of the way to the plant, from runs made with a known truth."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import exp, log, sqrt

import numpy as np
import pytest

import scaleup
from scaleup.arrays import Array
from scaleup.calibration.fit import Fit
from scaleup.calibration.plant.shear import ShearCurve
from scaleup.calibration.plant.term import Term
from scaleup.model.press import Feeder
from scaleup.model.run import Run
from scaleup.model.study import Study
from scaleup.model.transfer_terms import Blending, TransferTerms
from scaleup.transfer.case import TransferCase
from tests.studies import EXAMPLES, change

DRAWS = 300


@pytest.fixture(scope="module")
def marram() -> Study:
    return scaleup.read_study(EXAMPLES / "marram")


@pytest.fixture(scope="module")
def fescue() -> Study:
    """Return a study with production runs beside its lab runs."""
    return scaleup.read_study(EXAMPLES / "fescue")


def case_of(study: Study, **stated: object) -> TransferCase:
    terms = TransferTerms(**stated) if stated else study.transfer  # type: ignore[arg-type]
    return scaleup.Analysis(replace(study, transfer=terms), draws=DRAWS).case()


def term_of(case: TransferCase, name: str) -> Term:
    return next(each for each in case.process.plant.terms if each.name == name)


def runs(study: Study, each: Callable[[Run], Run | None]) -> Study:
    return change(study, runs=each)


def band(values: Array) -> tuple[float, float]:
    low, high = np.quantile(values, [0.05, 0.95])
    return float(low), float(high)


# Wall friction from a lower punch force.

FRICTION = 0.11


def with_lower_force(run: Run) -> Run:
    """Return a run whose lower punch felt what friction leaves: ``F exp(-4 mu kappa H / D)``."""
    assert run.thickness is not None
    left = exp(-4.0 * FRICTION * run.thickness / 10.0)
    return replace(run, lower_punch_force=run.force * left)


def test_a_lower_punch_force_tells_the_wall_friction(marram: Study) -> None:
    """29 runs leave little of the usual 0.05: what is found is the truth, and narrow."""
    found = term_of(case_of(runs(marram, with_lower_force)), "friction")
    assumed = term_of(case_of(marram), "friction")
    stated = term_of(case_of(marram, wall_friction=FRICTION, wall_friction_factor=1.02), "friction")
    assert found.grade == "measured"
    assert float(np.median(found.log_pressure)) == pytest.approx(
        float(np.median(stated.log_pressure)), rel=0.02
    )
    assert np.std(found.log_pressure) < 0.3 * np.std(assumed.log_pressure)


def test_one_lower_punch_force_leaves_more_open_than_many(marram: Study) -> None:
    one = runs(marram, lambda run: with_lower_force(run) if run.line == 4 else run)
    some = term_of(case_of(one), "friction").log_pressure
    many = term_of(case_of(runs(marram, with_lower_force)), "friction").log_pressure
    assert np.std(some) > np.std(many)


# Lubricant and shear from blend that was turned differently.

LOSS, RATE = 0.4, 0.004
TURNS = (100, 400, 1600)
LAB = Blending(volume=2e6, headspace=0.5)
PLANT = Blending(volume=30e6, headspace=0.5, revolutions=150)
"""The lab's turns stand in the run table."""


def left(shear: float) -> float:
    return 1.0 - LOSS + LOSS * exp(-RATE * shear)


def turned(run: Run) -> Run:
    """Return a run of blend turned 100, 400 or 1600 times, weaker by what that does."""
    turns = TURNS[run.line % 3]
    assert run.breaking_force is not None
    weaker = left(LAB.turned(turns)) / left(LAB.turned(TURNS[0]))
    force = run.breaking_force * weaker
    return replace(run, name=named(run, turns), breaking_force=force, revolutions=turns)


def named(run: Run, turns: int) -> str:
    """Return a name for each blend; that of the least turns keeps the run's."""
    return run.name if turns == TURNS[0] else f"{run.name}, {turns} turns"


@pytest.fixture(scope="module")
def sheared(marram: Study) -> TransferCase:
    return case_of(runs(marram, turned), lab_blender=LAB, production_blender=PLANT)


def curve_of(case: TransferCase) -> ShearCurve:
    curve = case.fit.plant.shear
    assert curve is not None
    return curve


def test_turns_tell_how_much_shear_takes(sheared: TransferCase) -> None:
    """The bands hold beta 0.4 and gamma 0.004, from evenly likely 0 to 0.9 and 1e-4 to 0.1."""
    curve = curve_of(sheared)
    low, high = band(curve.loss)
    assert low <= LOSS <= high
    assert high - low < 0.4
    low, high = band(curve.rate)
    assert low <= RATE <= high
    assert high / low < 60.0


def test_turns_tell_the_strength_in_between_better_than_beta_and_gamma(
    sheared: TransferCase,
) -> None:
    """The curve is known where blend was turned; its two numbers make up for each other."""
    curve = curve_of(sheared)
    for turns in TURNS[1:]:
        shear = LAB.turned(turns)
        found = curve.log_strength(np.array(shear))
        truth = log(left(shear) / left(curve.reference))
        low, high = band(found)
        assert low <= truth <= high
        assert high - low < 0.2


def test_the_study_with_a_stated_feeder_is_measured(marram: Study) -> None:
    known = change(
        runs(marram, turned),
        press={"feeder": Feeder(hold_up=0.8e6, paddle_diameter=150.0, paddle_speed=40.0)},
    )
    found = term_of(case_of(known, lab_blender=LAB, production_blender=PLANT), "shear")
    assert found.grade == "measured"
    guessed = term_of(
        case_of(runs(marram, turned), lab_blender=LAB, production_blender=PLANT), "shear"
    )
    assert guessed.grade == "assumed"


def test_turns_without_a_blender_or_too_alike_tell_nothing(marram: Study) -> None:
    assert case_of(runs(marram, turned)).fit.plant.shear is None

    def hardly(run: Run) -> Run:
        turns = TURNS[0] + run.line % 3
        return replace(run, name=named(run, turns), revolutions=turns)

    alike = runs(marram, hardly)
    assert case_of(alike, lab_blender=LAB).fit.plant.shear is None


# Batch to batch from a column of batches.

SPREAD = 0.12
LOTS = np.array([1.2, -0.9, 0.4, -1.4, 0.9, -0.6, 1.3, -0.9])


def of_batches(run: Run) -> Run:
    """Return a run of one of eight batches, whose strengths differ by 12 %."""
    lot = run.line % LOTS.size
    by = exp(SPREAD * (LOTS[lot] - LOTS.mean()) / LOTS.std(ddof=1))
    assert run.breaking_force is not None
    return replace(run, batch=f"B{lot}", breaking_force=run.breaking_force * by)


def lot_spread(case: TransferCase) -> float:
    return float(np.std(term_of(case, "lot").strength(45.0)))


def test_batches_of_runs_tell_the_spread_between_batches(marram: Study) -> None:
    """Eight batches that differ by 12 %, of 7 % three batches' worth: between, nearer to theirs."""
    found = case_of(runs(marram, of_batches))
    assert term_of(found, "lot").grade == "measured"
    believed = sqrt((3.0 * 0.07**2 + 7.0 * SPREAD**2) / 10.0)
    assert lot_spread(found) == pytest.approx(believed, rel=0.25)


def test_batches_that_hardly_differ_narrow_the_band(marram: Study) -> None:
    alike = runs(marram, lambda run: replace(run, batch=f"B{run.line % LOTS.size}"))
    assert lot_spread(case_of(alike)) < 0.9 * 0.07


def test_batches_of_one_run_each_do_not_vanish_as_scatter(marram: Study) -> None:
    """What single runs of a batch scatter cannot be told from the batch, and so counts as it."""
    first: dict[str, Run] = {}
    for run in marram.lab.runs:
        first.setdefault(run.name, run)
    rng = np.random.default_rng(5)
    lots = dict(zip(first, np.exp(0.15 * rng.standard_normal(len(first))), strict=True))

    def single(run: Run) -> Run | None:
        if first[run.name] is not run or run.breaking_force is None:
            return None
        return replace(run, batch=run.name, breaking_force=run.breaking_force * lots[run.name])

    assert lot_spread(case_of(runs(marram, single))) > 0.08


# Production runs beside lab runs.


def read_as(factor: float) -> Callable[[Run], Run]:
    """Return production runs whose gauge reads this factor of what it did."""
    return lambda run: (
        replace(run, force=run.force * factor, precompression=None)
        if run.press == "production"
        else run
    )


def offset(case: TransferCase) -> float:
    return float(np.median(term_of(case, "pressure-offset").log_pressure))


def test_production_runs_tell_the_offset_of_their_gauge(fescue: Study) -> None:
    """A gauge that reads 6 % more for the same tablets: the offset falls by most of it."""
    as_read = offset(case_of(runs(fescue, read_as(1.0))))
    more = offset(case_of(runs(fescue, read_as(1.06))))
    fell = (as_read - more) / log(1.06)
    assert 0.3 < fell < 1.0


def test_an_offset_is_drawn_towards_what_is_believed(fescue: Study) -> None:
    """A certificate of both gauges leaves the runs less to say."""
    certified = change(fescue, press={"force_accuracy": 0.004}, lab_press={"force_accuracy": 0.004})
    certified = replace(
        certified,
        own_production=replace(certified.own_production, press=certified.production.press),
    )

    def moved(study: Study) -> float:
        by = [
            offset(case_of(runs(study, read_as(each)), lot_pressure=0.005, lot_strength=0.07))
            for each in (1.0, 1.06)
        ]
        return by[0] - by[1]

    assert moved(certified) < 0.5 * moved(fescue)


def weaker(factor: float) -> Callable[[Run], Run]:
    def change_run(run: Run) -> Run:
        if run.press == "lab" or run.breaking_force is None:
            return run
        return replace(run, breaking_force=run.breaking_force * factor)

    return change_run


def test_production_runs_tell_a_factor_of_strength(fescue: Study) -> None:
    """15 % weaker in production: the factor falls, by less where shear is stated narrowly."""

    def fell(**stated: object) -> float:
        values = [
            term_of(case_of(runs(fescue, weaker(each)), **stated), "strength-factor")
            for each in (1.0, 0.85)
        ]
        first, second = (float(np.median(each.strength(60.0))) for each in values)
        return (first - second) / -log(0.85)

    usual = fell(lubricated=True)
    assert 0.2 < usual < 1.0
    assert fell(shear=0.95, shear_spread=0.02) < usual


def test_another_press_does_not_take_the_offset_of_the_first(fescue: Study) -> None:
    """What production runs show of one gauge says nothing of the gauge of another press."""
    analysis = scaleup.Analysis(runs(fescue, read_as(1.1)), draws=DRAWS)
    assert isinstance(analysis.fit, Fit)
    own = analysis.case()
    other = analysis.case(press=scaleup.find_press("rotary-single-31"))  # type: ignore[arg-type]
    names = [each.name for each in other.process.plant.terms]
    assert "pressure-offset" in [each.name for each in own.process.plant.terms]
    assert "pressure-offset" not in names
    assert names[:2] == ["gauges", "friction"]
    assert term_of(other, "gauges").grade == "assumed"
    assert term_of(other, "strength-factor").grade == "borrowed"
    assert term_of(own, "strength-factor").grade == "measured"
    believed = float(np.median(other.process.plant.log_pressure))
    untouched = scaleup.Analysis(fescue, draws=DRAWS).case(
        press=scaleup.find_press("rotary-single-31")  # type: ignore[arg-type]
    )
    assert believed == pytest.approx(
        float(np.median(untouched.process.plant.log_pressure)), abs=1e-12
    )


def test_compare_ranks_the_other_press_without_the_first_offset(fescue: Study) -> None:
    """Reading the first press's gauge otherwise leaves the strength on another press as it was."""
    strengths = []
    for factor in (1.0, 1.06):
        analysis = scaleup.Analysis(runs(fescue, read_as(factor)), draws=DRAWS)
        analysis.compare(["rotary-single-31"])
        other = analysis.case(press=scaleup.find_press("rotary-single-31"))  # type: ignore[arg-type]
        found = other.at_lab_pressure.solid_fraction
        strengths.append(float(np.median(found)))
    assert strengths[1] == pytest.approx(strengths[0], abs=0.004)
