"""A turret that turns more slowly shears the blend for longer: what that does, and what is said."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import exp

import numpy as np
import pytest

import scaleup
from scaleup.arrays import Array
from scaleup.calibration.plant.term import Term
from scaleup.model.press import Feeder
from scaleup.model.run import Run
from scaleup.model.study import Study
from scaleup.model.transfer_terms import Blending, TransferTerms
from scaleup.transfer.case import TransferCase
from tests.studies import EXAMPLES, change

DRAWS = 300
LOSS, RATE = 0.7, 0.001
TURNS = (50, 400, 3200)
LAB = Blending(volume=2e6, headspace=0.5, revolutions=50)
FEEDER = Feeder(hold_up=2e6, paddle_diameter=250.0, paddle_speed=60.0)
"""A large feeder, whose paddles turn fast."""
TERMS = TransferTerms(lab_blender=LAB, production_blender=LAB, off=("lot", "testers", "readings"))


def left(turns: int) -> float:
    shear = LAB.turned(turns)
    return 1.0 - LOSS + LOSS * exp(-RATE * shear)


def turned(run: Run) -> Run:
    """Return a run of blend turned 50, 400 or 3200 times, weaker by what that does."""
    turns = TURNS[run.line % 3]
    assert run.breaking_force is not None
    by = left(turns) / left(TURNS[0])
    name = run.name if turns == TURNS[0] else f"{run.name}, {turns} turns"
    force = run.breaking_force * by
    return replace(run, name=name, breaking_force=force, revolutions=turns)


def as_it_is(run: Run) -> Run:
    return run


def analysed(runs: Callable[[Run], Run], feeder: Feeder | None = FEEDER) -> scaleup.Analysis:
    marram: Study = scaleup.read_study(EXAMPLES / "marram")
    # The runs of the least turned blend are the lab result.
    study = change(marram, runs=runs, press={"feeder": feeder}, target={"strength": 2.3})
    lab = replace(study.lab, reference=None)
    return scaleup.Analysis(replace(study, lab=lab, transfer=TERMS), draws=DRAWS)


@pytest.fixture(scope="module")
def sheared() -> scaleup.Analysis:
    return analysed(turned)


@pytest.fixture(scope="module")
def unsheared() -> scaleup.Analysis:
    return analysed(as_it_is)


def shear(case: TransferCase) -> Term:
    return next(each for each in case.process.plant.terms if each.name == "shear")


def strength(case: TransferCase) -> Array:
    found = case.at_lab_pressure.strength
    assert found is not None
    return found


def test_the_blend_and_the_feeder_are_measured(sheared: scaleup.Analysis) -> None:
    term = shear(sheared.case())
    assert term.grade == "measured"


def test_half_the_speed_is_twice_the_stay_and_weaker_at_one_solid_fraction(
    sheared: scaleup.Analysis,
) -> None:
    """In the middle of the draws it is what phi gives at the K of both stays."""
    case = sheared.case()
    term = shear(case)
    flow = case.production.output(45.0) / 3600.0 * case.process.charge.weight
    added = FEEDER.shear(flow)
    own = LAB.turned(50)

    def phi(k: float) -> float:
        return 1.0 - LOSS + LOSS * exp(-RATE * k)

    fast, slow = (np.median(term.strength(speed)) for speed in (45.0, 22.5))
    assert slow < fast < 0.0
    truth = np.log(phi(own + 2.0 * added) / phi(own + added))
    assert slow - fast == pytest.approx(truth, rel=0.35)
    assert np.all(term.strength(22.5) < term.strength(45.0))


def test_the_tablet_on_the_slower_turret_is_denser_and_yet_weaker(
    sheared: scaleup.Analysis,
) -> None:
    here, there = sheared.case(45.0), sheared.case(22.5)
    assert np.median(there.at_lab_pressure.solid_fraction) > np.median(
        here.at_lab_pressure.solid_fraction
    )
    assert np.median(strength(there)) < np.median(strength(here))
    assert not here.slower_is_stronger


def advice(analysis: scaleup.Analysis) -> str:
    """Return everything that is advised about the tablet."""
    found = analysis.translate()
    assert found.risks
    return " ".join(str(each.action).lower() for each in found.risks)


def test_to_run_slower_is_advised_only_where_it_helps(
    sheared: scaleup.Analysis, unsheared: scaleup.Analysis
) -> None:
    assert unsheared.case().slower_is_stronger
    assert "run slower" in advice(unsheared)
    assert "run slower" not in advice(sheared)


def test_no_forced_feeder_takes_nothing_at_a_lower_speed() -> None:
    """A gravity feeder shears nothing: a slower turret is stronger by its dwell alone."""
    marram = scaleup.read_study(EXAMPLES / "marram")
    study = change(marram, runs=turned, press={"feed": "gravity"})
    lab = replace(study.lab, reference=None)
    case = scaleup.Analysis(replace(study, lab=lab, transfer=TERMS), draws=DRAWS).case()
    term = shear(case)
    assert term.strength(22.5) == pytest.approx(term.strength(45.0), abs=1e-12)
    assert case.slower_is_stronger


def test_some_draws_of_a_case_are_those_of_the_whole(sheared: scaleup.Analysis) -> None:
    """What depends on the speed is chosen with the rest, once and again."""
    case = sheared.case()
    which = np.array([3, 50, 51, 200, 260])
    again = np.array([0, 2, 4])
    whole = strength(case)
    assert strength(case.with_draws(which)) == pytest.approx(whole[which], rel=1e-12)
    few = case.process.plant.chosen(which).chosen(again)
    assert few.log_strength(30.0) == pytest.approx(
        case.process.plant.log_strength(30.0)[which][again], rel=1e-12
    )


def test_a_term_held_at_its_middle_has_no_spread_left(sheared: scaleup.Analysis) -> None:
    """That of the shear keeps its dependence on the speed."""
    held = shear(sheared.case()).shrunk(0.0)
    assert np.ptp(held.strength(45.0)) == 0.0
    assert held.strength(22.5)[0] < held.strength(45.0)[0]
    half = shear(sheared.case()).shrunk(0.5)
    assert np.std(half.strength(45.0)) == pytest.approx(
        0.5 * np.std(shear(sheared.case()).strength(45.0)), rel=1e-9
    )
