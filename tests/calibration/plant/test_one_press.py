"""What is the same on both sides cancels, and every way there closes with the way back."""

from __future__ import annotations

from dataclasses import replace
from math import log

import numpy as np
import pytest

import scaleup
from scaleup.answers.lab_bench import Bench
from scaleup.calibration.fit import Fit
from scaleup.calibration.reference import Reference
from scaleup.model.run import Run
from scaleup.model.study import RunDefaults, Study
from scaleup.model.transfer_terms import TransferTerms
from scaleup.transfer.case import TransferCase
from scaleup.transfer.matches import compensating_pressure, pressure_for_state
from tests.studies import EXAMPLES

DRAWS = 200
NO_CHANCE = TransferTerms(off=("lot", "testers", "readings"))
"""Without what differs from batch to batch and from reading to reading."""
SPEED = 60.0
EXACT = 1e-6
BY_THE_MAP = 5e-3
"""Share of a pressure that the map of dwells is good for in the worst draw."""


@pytest.fixture(scope="module")
def fescue() -> Study:
    return replace(scaleup.read_study(EXAMPLES / "fescue"), transfer=NO_CHANCE)


@pytest.fixture(scope="module")
def there(fescue: Study) -> TransferCase:
    """Return the case of lab runs alone, so that gauges and friction stand as believed."""
    lab = tuple(run for run in fescue.lab.runs if run.press == "lab")
    return scaleup.Analysis(replace(fescue, lab=replace(fescue.lab, runs=lab)), draws=DRAWS).case()


def on_one_press(study: Study) -> Study:
    """Return a study whose lab runs were made on the production press at its speed."""
    made = replace(study.own_production, precompression=None)
    runs = tuple(
        replace(run, speed=SPEED, hold=None, loading_rate=None)
        for run in study.lab.runs
        if run.press == "lab"
    )
    lab = replace(
        study.lab, press=made.press, tooling=made.tooling, runs=runs, defaults=RunDefaults()
    )
    return replace(study, lab=lab, production=made, own_production=made)


@pytest.fixture(scope="module")
def itself(fescue: Study) -> TransferCase:
    return scaleup.Analysis(on_one_press(fescue), draws=DRAWS).case(SPEED)


def test_one_press_on_both_sides_cancels_gauges_friction_and_shear(itself: TransferCase) -> None:
    grades = {each.name: each.grade for each in itself.process.plant.terms}
    assert [name for name, grade in grades.items() if grade == "cancels"] == [
        "gauges",
        "friction",
        "shear",
    ]
    plant = itself.process.plant
    assert not plant.log_pressure.any()
    assert not plant.log_strength(SPEED).any()
    assert not plant.log_solid_fraction.any()


def test_the_lab_press_as_production_press_gives_the_lab_tablet_back(itself: TransferCase) -> None:
    """The same pressure on the same press: nothing but the map's own error is between them."""
    point, lab = itself.at_lab_pressure, itself.lab_pulse
    assert np.array_equal(point.acting, point.pressure)
    assert np.median(point.solid_fraction) == pytest.approx(np.median(lab.solid_fraction), rel=1e-5)
    assert compensating_pressure(itself) == pytest.approx(itself.reference.pressure, rel=BY_THE_MAP)
    solved = point.pulse.static_pressure
    assert solved == pytest.approx(lab.pulse.static_pressure[point.shown], rel=1e-4)


def test_one_tester_cancels_too(fescue: Study) -> None:
    study = on_one_press(replace(fescue, transfer=TransferTerms(same_tester=True)))
    terms = scaleup.Analysis(study, draws=DRAWS).case(SPEED).process.plant.terms
    assert [each.name for each in terms if each.counts] == ["lot", "readings"]


def test_another_press_is_no_such_thing(there: TransferCase) -> None:
    counting = [each.name for each in there.process.plant.terms if each.counts]
    assert counting == ["gauges", "friction", "shear"]
    assert np.all(there.process.plant.log_pressure != 0.0)


def test_there_and_back_closes_in_every_draw(there: TransferCase) -> None:
    """Lab pressure to production pressure to state: gauges and friction go in and come out."""
    pressure = compensating_pressure(there)
    point = there.process.at(pressure, there.speed)
    lab = there.lab_pulse
    assert point.static_pressure == pytest.approx(lab.pulse.static_pressure, rel=EXACT)
    assert point.solid_fraction == pytest.approx(lab.solid_fraction, rel=EXACT)
    assert not np.allclose(pressure, there.reference.pressure, rtol=0.01)


def test_production_to_lab_and_back_closes_in_every_draw(fescue: Study) -> None:
    """A production tablet imitated in the lab: its lab pressure gives the same state again, and
    that state the production pressure it came from.
    """
    production = fescue.own_production
    runs = [run for run in fescue.lab.runs if run.name == "P2"]
    share = (runs[0].precompression or 0.0) / runs[0].force
    study = replace(fescue, production=replace(production, precompression=share))
    analysis = scaleup.Analysis(study, draws=DRAWS)
    assert isinstance(analysis.fit, Fit)
    seen = tuple(each for each in analysis.calibrated.observations if each.run.name == "P2")
    bench = Bench.of(analysis.calibrated, analysis.fit, Reference("P2", seen, "named"))
    pressure = bench.pressure_for(bench.made.static_pressure)
    state = bench.pulse(pressure, bench.usual).static_pressure
    assert state == pytest.approx(bench.made.static_pressure, rel=EXACT)
    process = analysis.case().process.of_weight(bench.charge.weight)
    back = pressure_for_state(process, state, pressure, SPEED)
    assert back == pytest.approx(seen[0].pressure, rel=BY_THE_MAP)
    assert np.median(back) == pytest.approx(seen[0].pressure, rel=5e-4)


def needed(study: Study) -> float:
    """Return the lab pressure that makes the solid fraction of P2 again."""
    found = scaleup.Analysis(study, draws=DRAWS).imitate("P2")
    item = next(each for each in found.equivalents if each.match == "solid-fraction")
    assert item.settings.main_pressure.value is not None
    return item.settings.main_pressure.value


def test_imitation_reads_the_production_gauge_as_the_lab_would(fescue: Study) -> None:
    """A production gauge that reads 16 % more for the same tablets asks no more of the lab."""

    def read_high(run: Run) -> Run:
        if run.press == "lab":
            return run
        return replace(run, force=run.force * 1.16, precompression=None)

    def plain(run: Run) -> Run:
        return run if run.press == "lab" else replace(run, precompression=None)

    before, after = (
        needed(replace(fescue, lab=replace(fescue.lab, runs=tuple(map(each, fescue.lab.runs)))))
        for each in (plain, read_high)
    )
    assert abs(log(after / before)) < 0.02
