"""Production runs of two presses: A, whose gauge and feeder are off, and B, which is true.

The runs are made with the law itself. The gauge of A reads 5 % more than the force is, and its
feeder takes 15 % of the strength; A runs slowly and B fast, so that what is wrong with A passes for
an effect of rate where all runs count as one press's.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from typing import TypeVar

import numpy as np
import pytest

import scaleup
from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing, Fit, fit
from scaleup.calibration.observations import Observation, Side, observe, side_of, sides
from scaleup.calibration.plant.evidence import PlantRuns
from scaleup.calibration.plant.term import Term
from scaleup.calibration.production_drift import places_in_trials
from scaleup.io.library import find_press, find_tooling, rotary_profile
from scaleup.model.press import HydraulicProfile, PressProfile, RotaryProfile
from scaleup.model.profile import NamedProfile
from scaleup.model.run import Run
from scaleup.model.study import ProductionSide, Study
from scaleup.model.transfer_terms import TransferTerms
from scaleup.powder.compression import compress
from scaleup.powder.law import Powder
from scaleup.presses.press import Setting
from scaleup.transfer.case import transfer_case
from tests.logged_production import middle_powder

pytestmark = pytest.mark.slow

Profile = TypeVar("Profile", PressProfile, HydraulicProfile, RotaryProfile)
A, B = "rotary-mid-19 b-flat-10", "rotary-single-31 b-flat-10"
C = "rotary-double-53 b-flat-10"
READS, WEAKENS = 1.05, 0.85
DENSITY, WEIGHT, DRAWS = 1.51, 380.0, 300
TERMS = TransferTerms(
    off=("curvature", "friction", "lot", "readings"), shear=1.0, shear_spread=0.15
)


@cache
def powder() -> Powder:
    return replace(middle_powder(), curvature=np.zeros(1))


def pressed(run: Run, side: Side, setting: Setting, factor: float, reads: float = 1.0) -> Run:
    """Return a run of a true force as it is read, with its tablets."""
    rng = np.random.default_rng(round(run.force + 1e3 * (setting.hold or setting.speed or 0.0)))
    of_mean = rng.standard_normal(2) / run.tablets**0.5
    charge = side.tip.charge(WEIGHT, DENSITY)
    pulse = compress(side.press, powder(), charge, np.array([run.force / side.tip.area]), setting)
    solid = float(powder().solid_fraction(pulse.static_pressure)[0]) + 0.001 * of_mean[0]
    thickness = WEIGHT / (solid * DENSITY * side.tip.area)
    strength = factor * 1.6 * np.exp(8.0 * (solid - 0.74) + 0.03 * of_mean[1])
    breaking = float(strength * np.pi * side.tip.width * thickness / 2.0)
    return replace(
        run, force=reads * run.force, weight=WEIGHT, thickness=thickness, breaking_force=breaking
    )


def lab_runs(side: Side) -> Iterator[Run]:
    setting = Setting(hold=1.0, loading_rate=5e3)
    for force in (6e3, 8e3, 10e3, 12e3, 14e3):
        run = Run(f"L{force / 1e3:g}", force, hold=1.0, loading_rate=5e3, tablets=10)
        yield pressed(run, side, setting, 1.0)


def made_on(
    maker: str, speeds: tuple[float, ...], forces: tuple[float, ...], reads: float, factor: float
) -> Iterator[Run]:
    """Yield runs of a press whose gauge reads so much of the force."""
    side = side_of(produced(maker))
    for speed in speeds:
        for force in forces:
            name = f"{maker[7]}{speed:g}-{force / 1e3:g}"
            run = Run(name, force, "production", speed=speed, made_on=maker, tablets=10)
            yield pressed(run, side, Setting(speed=speed), factor, reads)


def produced(maker: str) -> ProductionSide:
    """Return a press with its tooling; that of B has a certificate of its gauge."""
    named, tooling = maker.split()
    press = rotary_profile(find_press(named))
    if maker == B:
        press = certified(press)
    return ProductionSide(press, find_tooling(tooling), 40.0)


def certified(press: NamedProfile[Profile]) -> NamedProfile[Profile]:
    return replace(press, profile=replace(press.profile, force_accuracy=0.01))


@cache
def runs(reads: float = READS) -> tuple[Run, ...]:
    """Return runs of the lab, of A whose gauge reads so much of the force, and of B."""
    lab = side_of(study_of((Run("L", 1e4, weight=WEIGHT, thickness=4.5),)).lab)
    slow = made_on(A, (12.0, 18.0, 25.0), (8e3, 9e3, 11e3, 12e3), reads, WEAKENS)
    fast = made_on(B, (40.0, 80.0), (9e3, 12e3), 1.0, 1.0)
    return (*lab_runs(lab), *slow, *fast)


def study_of(runs: tuple[Run, ...], own: str = B) -> Study:
    lab = certified(find_press("lab-hydraulic"))
    made, others = produced(own), [produced(maker) for maker in (A, B) if maker != own]
    return scaleup.study_from(
        runs, blend="1.51 g/cm^3", lab=(lab, "lab-flat-10"),
        production=(made.press, made.tooling, "40 rpm"), transfer=TERMS,
        made_elsewhere=[(each.press, each.tooling) for each in others],
    )  # fmt: skip


def fitted(study: Study) -> Fit:
    found = fit(study, draws=DRAWS)
    assert isinstance(found, Fit)
    return found


@cache
def apart(reads: float = READS) -> Fit:
    """Return the fit that knows which press made which run."""
    return fitted(study_of(runs(reads)))


@cache
def pooled(reads: float = READS) -> Fit:
    """Return the fit that takes every production run as made on B."""
    return fitted(study_of(tuple(replace(run, made_on="") for run in runs(reads))))


def shown(found: Fit, press: str) -> PlantRuns:
    return next(each for each in found.plant.every_press if f"{each.press} {each.tooling}" == press)


def factor(found: Fit, press: str) -> float:
    log_strength = shown(found, press).log_strength
    assert log_strength is not None
    return float(np.median(np.exp(log_strength)))


def offset(found: Fit, press: str) -> float:
    log_pressure = shown(found, press).log_pressure
    assert log_pressure is not None
    return float(np.median(np.exp(log_pressure)))


def exponent(found: Fit) -> float:
    return float(np.median(found.powder.rate_exponent))


def test_each_press_has_its_own_factor_of_strength() -> None:
    assert factor(apart(), B) == pytest.approx(1.0, abs=0.03)
    assert factor(apart(), A) == pytest.approx(WEAKENS, abs=0.03)
    assert 0.88 < factor(pooled(), B) < 0.96  # neither the one nor the other


def test_each_press_has_its_own_offset_of_pressure() -> None:
    assert offset(apart(), A) / offset(apart(), B) == pytest.approx(1.0 / READS, abs=0.01)


def test_the_gauge_of_one_press_does_not_move_the_rate_exponent() -> None:
    """Where all runs count as one press's, the same gauge makes a tenth of the exponent."""
    true = float(powder().rate_exponent[0])
    moved = {of: abs(exponent(of(READS)) - exponent(of(1.0))) / true for of in (apart, pooled)}
    assert moved[apart] < 0.03
    assert moved[pooled] > 0.08
    assert abs(exponent(apart()) / true - 1.0) < 0.03
    assert abs(exponent(pooled()) / true - 1.0) > 0.06
    assert pooled().solid_fraction_scatter > 3.0 * apart().solid_fraction_scatter


def test_a_fit_says_where_production_runs_were_made() -> None:
    assert str(apart().plant.made_told) == (
        "4 production runs were made on rotary-single-31, 12 on rotary-mid-19; each press has its "
        "own offset of pressure and factor of strength"
    )
    assert pooled().plant.made_told == ""


def terms(study: Study, asked: str) -> dict[str, Term]:
    made = produced(asked)
    case = transfer_case(calibrated(replace(study, production=made), Drawing(DRAWS, 1)), 40.0, 0.9)
    return {term.name: term for term in case.process.plant.terms}


@pytest.mark.parametrize("asked", [A, B])
def test_the_press_asked_about_is_forecast_by_its_own_runs(asked: str) -> None:
    """Whichever of the two the study calls its own."""
    found = terms(study_of(runs(), own=B), asked)
    assert found["pressure-offset"].grade == found["strength-factor"].grade == "measured"
    told = f"strength as production runs of one batch on {asked.split(maxsplit=1)[0]} show it"
    assert str(found["strength-factor"].told) == told


def test_a_press_without_runs_borrows_the_factor_of_the_one_with_most() -> None:
    found = terms(study_of(runs(), own=C), C)
    assert "pressure-offset" not in found
    assert found["strength-factor"].grade == "borrowed"
    assert str(found["strength-factor"].told).endswith("on rotary-mid-19 show it")
    fit_of_c = fitted(study_of(runs(), own=C))
    assert fit_of_c.plant.runs is not None
    assert fit_of_c.plant.runs.press == "rotary-mid-19"
    assert fit_of_c.strength is not None
    assert float(np.median(fit_of_c.strength.feeder)) == pytest.approx(factor(fit_of_c, A))
    assert str(fit_of_c.plant.made_told).endswith(
        "and a press without runs borrows the factor of rotary-mid-19"
    )


def test_without_lab_runs_the_others_are_held_against_the_own_press() -> None:
    def without_lab(reads: float) -> Fit:
        return fitted(study_of(tuple(run for run in runs(reads) if run.press == "production")))

    found = without_lab(READS)
    assert [each.press for each in found.plant.every_press] == ["rotary-mid-19"]
    assert offset(found, A) < offset(without_lab(1.0), A) - 0.01
    assert found.strength is not None
    assert not found.strength.feeder_known


def test_runs_at_one_speed_are_pressed_each_on_its_own_press() -> None:
    """At 40 rpm the smaller pitch circle of A presses for longer."""
    made = [next(made_on(maker, (40.0,), (12e3,), 1.0, 1.0)) for maker in (A, B)]
    lab = [run for run in runs() if run.press == "lab"]
    dwell = {
        each.observation.run.maker: each.effective_dwell
        for each in fitted(study_of((*lab, *made))).runs
    }
    assert dwell[A] > 1.1 * dwell["production"]


def test_the_runs_of_one_press_are_one_trial() -> None:
    """Each trial goes from -1/2 to 1/2 in its own time; one of three runs is none."""
    study = study_of(runs())
    seen = observe(study, sides(study))

    def timed(maker: str, minutes: list[float]) -> list[Observation]:
        some = [each for each in seen if each.run.maker == maker][: len(minutes)]
        return [
            replace(each, run=replace(each.run, elapsed=60.0 * minute))
            for each, minute in zip(some, minutes, strict=True)
        ]

    both = [*timed(A, [0.0, 10.0, 20.0, 40.0]), *timed("production", [100.0, 101.0, 102.0, 104.0])]
    trials = places_in_trials(both)
    assert trials[A].tolist() == [-0.5, -0.25, 0.0, 0.5, 0.0, 0.0, 0.0, 0.0]
    assert trials["production"].tolist() == [0.0, 0.0, 0.0, 0.0, -0.5, -0.25, 0.0, 0.5]
    assert list(places_in_trials(both[:7])) == [A]
