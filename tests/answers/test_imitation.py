"""A production result on the lab press: identity, the law, and what cannot be imitated."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scaleup.answers.functions import imitate
from scaleup.answers.imitation import Imitation, LabEquivalent
from scaleup.calibration.fit import Fit
from scaleup.errors import InputError
from scaleup.model.estimate import Estimate
from scaleup.model.study import RunDefaults, Study
from tests.studies import of_the_law

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def fescue() -> Study:
    return of_the_law("fescue")


def of(imitation: Imitation, match: str) -> LabEquivalent:
    return next(item for item in imitation.equivalents if item.match == match)


def number(quantity: Estimate) -> float:
    assert quantity.value is not None, quantity.reason
    return quantity.value


def test_a_production_press_in_the_lab_imitates_itself(fescue: Study) -> None:
    """The production press as lab press, at the speed of the run: everything comes back."""
    made = fescue.own_production
    runs = tuple(
        replace(run, press="lab", name=f"L{run.line}", hold=None, loading_rate=None)
        if run.press == "production"
        else replace(run, hold=None, loading_rate=None, speed=60.0)
        for run in fescue.lab.runs
    )
    again = tuple(run for run in fescue.lab.runs if run.press == "production")
    lab = replace(
        fescue.lab, press=made.press, tooling=made.tooling, runs=(*runs, *again),
        reference=None, defaults=RunDefaults(),
    )  # fmt: skip
    lab = replace(lab, runs=tuple(replace(run, precompression=None) for run in lab.runs))
    imitation = imitate(replace(fescue, lab=lab), run="P2", draws=300)
    pressure = imitation.reference.pressure
    for match in ("pressure", "solid-fraction", "dwell"):
        item = of(imitation, match)
        assert item.reachable, item.reason
        assert number(item.settings.main_pressure) == pytest.approx(pressure, rel=2e-3)
        assert number(item.settings.effective_dwell) == pytest.approx(
            number(imitation.settings.effective_dwell), rel=5e-3
        )
    assert number(of(imitation, "dwell").settings.stroke_rate) == 60.0
    assert not [
        line for line in imitation.cannot if str(line).startswith(("the dwell", "the strain"))
    ]


def test_the_longer_lab_dwell_takes_less_pressure_as_the_law_says(fescue: Study) -> None:
    """``P_lab/P_production`` is the ratio of the dwell factors; ``(t_2/t_1)^m`` at c = 0."""
    imitation = imitate(fescue, run="P2", draws=600)
    assert isinstance(imitation.fit, Fit)
    item = of(imitation, "solid-fraction")
    ratio = number(item.settings.main_pressure) / imitation.reference.pressure
    made, lab = (number(each.settings.effective_dwell) for each in (imitation, item))
    powder = imitation.fit.powder
    factor = np.median(powder.dwell_factor(np.array(made)) / powder.dwell_factor(np.array(lab)))
    assert ratio == pytest.approx(float(factor), rel=0.01)
    assert ratio < 0.9


def test_what_each_match_makes_again(fescue: Study) -> None:
    imitation = imitate(fescue, run="P2", draws=600)
    harder = of(imitation, "pressure").tablet
    assert number(harder.solid_fraction) > number(imitation.tablet.solid_fraction)
    same = of(imitation, "solid-fraction").tablet.solid_fraction
    assert number(same) == pytest.approx(number(imitation.tablet.solid_fraction), abs=0.006)
    strong = of(imitation, "strength").tablet.tensile_strength
    assert number(strong) == pytest.approx(number(imitation.tablet.tensile_strength), rel=0.03)


def test_the_nearest_dwell_of_the_lab_press_is_its_fastest_loading(fescue: Study) -> None:
    item = of(imitate(fescue, run="P1", draws=300), "dwell")
    assert not item.reachable
    assert "nearest dwell the lab press makes" in item.reason
    assert number(item.settings.hold) == 0.0
    assert number(item.settings.loading_rate) == 20e3


def test_a_force_beyond_the_lab_tips_is_not_reachable(fescue: Study) -> None:
    tooling = fescue.lab.tooling
    weak = replace(tooling, profile=replace(tooling.profile, tip_force_rating=9.5e3))
    imitation = imitate(replace(fescue, lab=replace(fescue.lab, tooling=weak)), run="P2", draws=300)
    assert not of(imitation, "pressure").reachable
    assert "9.5 kN" in of(imitation, "pressure").reason
    assert of(imitation, "solid-fraction").reachable
    assert not [line for line in imitation.can if line.startswith("the peak pressure")]


def test_what_the_bench_cannot_show_is_said(fescue: Study) -> None:
    told = " ".join(map(str, imitate(fescue, run="P2", draws=300).cannot))
    for word in ("dwell", "strain rate", "precompression", "forced feeder", "temperature"):
        assert word in told


def test_one_production_run_needs_no_name_and_several_do(fescue: Study) -> None:
    one = tuple(run for run in fescue.lab.runs if run.name != "P1")
    imitation = imitate(replace(fescue, lab=replace(fescue.lab, runs=one)), draws=300)
    assert imitation.reference.name == "P2"
    with pytest.raises(InputError, match="P1, P2"):
        imitate(fescue, draws=300)
    with pytest.raises(InputError, match="Did you mean P2"):
        imitate(fescue, run="P22", draws=300)


def test_without_production_runs_there_is_nothing_to_imitate(marram: Study) -> None:
    with pytest.raises(InputError, match="no run on the production press"):
        imitate(marram, draws=300)


def test_runs_without_a_fit_are_not_imitated(fescue: Study) -> None:
    few = tuple(run for run in fescue.lab.runs if run.line in (4, 23))
    imitation = imitate(
        replace(fescue, lab=replace(fescue.lab, runs=few, reference=None)), draws=300
    )
    assert all(not item.reachable for item in imitation.equivalents)
    assert imitation.can == ()
    assert number(imitation.tablet.weight) > 0.0
