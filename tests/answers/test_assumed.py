"""What an answer takes for granted, and whether it decides, held against studies that state it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from scaleup import Analysis
from scaleup.answers.assumed import Assumed, merged
from scaleup.answers.functions import (
    check_speed,
    compare,
    judge,
    operating_window,
    plan_trial,
    translate,
)
from scaleup.answers.granted import granted
from scaleup.answers.granted.machine import LEAST_TIP_STRESS
from scaleup.answers.granted.scene import Scene
from scaleup.answers.granted.target import WEIGHT_OFF
from scaleup.io.schema import read_as
from scaleup.io.study import read_study
from scaleup.model.study import RunDefaults, Study
from scaleup.model.target import Target
from scaleup.model.transfer_terms import NOTHING_STATED
from tests.studies import EXAMPLES

pytestmark = pytest.mark.slow

Change = Callable[..., Study]
FEW = 200


def taken(study: Study, **asked: Any) -> dict[str, Assumed]:
    return {each.key: each for each in translate(study, draws=FEW, **asked).assumed}


def verdict(study: Study, **asked: Any) -> str:
    return translate(study, draws=FEW, **asked).verdict.answer


def bare(marram: Study, changed: Change) -> Study:
    """Return marram without anything that may be left out."""
    study = changed(
        marram,
        press={"ejection_limit": None, "feeder_arc": None, "stiffness": None},
        tooling={"tip_force_rating": None},
        production={"precompression": None},
        runs=lambda run: (
            replace(run, hold=None, loading_rate=None, ejection_force=None, fill_depth=None)
            if run.hold == 1.0
            else None
        ),
    )
    return replace(study, target=Target(), lab=replace(study.lab, defaults=RunDefaults()))


EVERY = {
    "blend.true_density": "default", "blend.rate_material": "missing", "column hold": "default",
    "column loading rate": "default", "column diameter": "default",
    "column in-die thickness": "default", "column ejection force": "missing",
    "column fill depth": "missing", "production.precompression": "default",
    "transfer: force gauges": "default", "transfer: die-wall friction": "default",
    "transfer: lubricant and shear": "default", "transfer: breaking-force testers": "default",
    "transfer: thickness, weight and true density": "default",
    "rotary-mid-19: feeder_arc": "missing",
    "b-flat-10: tip_force_rating": "missing", "rotary-mid-19: ejection_limit": "missing",
    "rotary-mid-19: stiffness": "missing", "target.strength": "missing",
    "target.solid_fraction": "default", "target.weight": "default", "target.confidence": "default",
}  # fmt: skip


def test_everything_that_no_input_states_is_told(marram: Study, changed: Change) -> None:
    found = taken(replace(bare(marram, changed), transfer=NOTHING_STATED))
    assert {key: each.origin for key, each in found.items()} == EVERY
    assert all(each.value for each in found.values())
    unasked = {key for key, each in found.items() if not each.instead}
    assert unasked == {
        "rotary-mid-19: feeder_arc", "rotary-mid-19: ejection_limit", "column ejection force"
    }  # fmt: skip


def test_what_is_stated_is_not_taken_for_granted(marram: Study) -> None:
    assert set(taken(marram)) == {
        "blend.true_density", "column diameter", "column in-die thickness", "target.weight",
    }  # fmt: skip
    assert "target.confidence" not in taken(replace(marram, target=Target()), confidence=0.9)
    assert "target.confidence" in taken(replace(marram, target=Target()))


@pytest.mark.parametrize("answer", ["judge", "speed", "compare", "window", "plan"])
def test_every_answer_tells_it(marram: Study, answer: str) -> None:
    ask: dict[str, Callable[[], Any]] = {
        "judge": lambda: judge(marram, draws=FEW),
        "speed": lambda: check_speed(marram, draws=FEW),
        "compare": lambda: compare(marram, ["rotary-mid-19"], draws=FEW),
        "window": lambda: operating_window(marram, cells=(4, 4), draws=FEW),
        "plan": lambda: plan_trial(marram, draws=FEW),
    }
    assert {each.key for each in ask[answer]().assumed} == set(taken(marram))


def test_without_a_fit_it_is_told_and_decides_nothing(marram: Study, changed: Change) -> None:
    one = changed(bare(marram, changed), runs=lambda run: run if run.name == "M4" else None)
    for found in (translate(one, draws=FEW), check_speed(one, draws=FEW), compare(one, draws=FEW)):
        assert {"target.solid_fraction", "column hold"} <= {each.key for each in found.assumed}
        assert not any(each.decides for each in found.assumed)


Flip = tuple[str, Callable[[Study, Change], Study], Callable[[Study, Change], list[Study]]]


def _target(**asked: object) -> Target:
    window = {"solid_fraction": {"min": "60 %", "max": "97 %"}}
    return read_as(Target, {"confidence": "90 %", **window, **asked})


def _strong(study: Study, strength: float) -> Study:
    return replace(study, target=_target(strength=f"{strength} MPa"))


FLIPS: dict[str, Flip] = {
    "confidence that decides": (
        "target.confidence",
        lambda study, _: replace(
            study,
            target=read_as(
                Target, {"strength": "2.17 MPa", "solid_fraction": {"min": "60 %", "max": "97 %"}}
            ),
        ),
        lambda study, _: [
            replace(study, target=replace(study.target, confidence=share)) for share in (0.8, 0.95)
        ],
    ),
    "tip rating that decides": (
        "b-flat-10: tip_force_rating",
        lambda study, changed: changed(_strong(study, 3.0), tooling={"tip_force_rating": None}),
        lambda study, changed: [
            changed(study, tooling={"tip_force_rating": LEAST_TIP_STRESS * 78.5398})
        ],
    ),
    "strength that decides": (
        "target.strength",
        lambda study, _: replace(study, target=_target()),
        lambda study, _: [_strong(study, 2.69)],
    ),
    "window that decides": (
        "target.solid_fraction",
        lambda study, _: replace(
            study,
            blend=replace(study.blend, stated_true_density=1.75),
            target=read_as(Target, {"strength": "2 MPa"}),
        ),
        lambda study, _: [_strong(study, 2.0)],
    ),
    "weight": (
        "target.weight",
        lambda study, _: _strong(study, 2.0),
        lambda study, _: [
            replace(study, target=replace(study.target, weight=401.97 * share))
            for share in (1.0 - WEIGHT_OFF, 1.0 + WEIGHT_OFF)
        ],
    ),
    "precompression": (
        "production.precompression",
        lambda study, changed: changed(study, production={"precompression": None}),
        lambda study, changed: [changed(study, production={"precompression": 0.2})],
    ),
    "true density that decides": (
        "blend.true_density",
        lambda study, changed: changed(
            study,
            target={"solid_fraction": replace(study.target.solid_fraction, min=0.811)},
        ),
        lambda study, _: [
            replace(
                study,
                blend=replace(study.blend, stated_true_density=study.blend.true_density * off),
            )
            for off in (0.99, 1.01)
        ],
    ),
    "hold": (
        "column hold",
        lambda study, changed: changed(
            _strong(study, 2.4),
            runs=lambda run: replace(run, hold=None) if run.hold == 1.0 else None,
        ),
        lambda study, changed: [changed(study, runs=lambda run: replace(run, hold=1.0))],
    ),
}


@pytest.mark.parametrize("case", FLIPS)
def test_it_decides_if_a_study_that_states_another_value_is_answered_otherwise(
    marram: Study, changed: Change, case: str
) -> None:
    key, begin, others = FLIPS[case]
    study = begin(marram, changed)
    whole = translate(study, draws=FEW)
    found = {each.key: each for each in whole.assumed}[key]
    answers = {verdict(each) for each in others(study, changed)}
    assert found.decides == (answers != {whole.verdict.answer})
    assert found.decides or "decides" not in case


def test_draws_of_cupped_tips_are_chosen_with_their_map(dunlin: Study) -> None:
    """The elastic part of a powder in cups is asked about by thirds of the draws."""
    found = taken(dunlin)["column in-die thickness"]
    assert str(found.instead).count("third") == 2


def test_of_several_presses_it_decides_if_it_does_for_one() -> None:
    one = Assumed("a", "1", "default", decides=False, instead="2")
    other = replace(one, decides=True)
    third = Assumed("b", "1", "missing", decides=False, instead="")
    assert merged([(third, one), (other,)]) == (other, third)


def test_a_press_too_strong_to_give_so_much_is_not_asked_with_it(marram: Study) -> None:
    """900 kN at 100 kN/mm were 9 mm, which no profile may have."""
    made = marram.production
    roller = replace(made.press.profile.main_roller, force_limit=900e3)
    press = replace(made.press.profile, stiffness=None, main_roller=roller)
    strong = replace(made, press=replace(made.press, profile=press))
    found = translate(replace(marram, production=strong), draws=200).assumed
    (told,) = [each for each in found if each.key == f"{made.press.id}: stiffness"]
    assert (told.value, told.instead) == ("rigid", "")


@pytest.mark.parametrize("name", ["marram", "sedge"])
def test_a_refit_shifts_the_solid_fraction_by_less_than_the_screen(name: str) -> None:
    """So that what more than the shift does not change need not be fitted again."""
    study = read_study(EXAMPLES / name)
    analysis = Analysis(study, draws=400)
    case, asked = analysis.case(), 0
    here = float(np.median(case.at_lab_pressure.solid_fraction))
    for each in granted(Scene(analysis.calibrated, confidence_stated=True)):
        for other in each.others:
            if other.screen is None or other.study is None:
                continue
            there = Analysis(other.study(study), draws=400).case().at_lab_pressure
            shift = abs(float(np.median(there.solid_fraction)) / here - 1.0)
            screened = other.screen(case).limits
            moved = [
                abs(new.bound / old.bound - 1.0)
                for new, old in zip(screened, case.limits, strict=True)
                if old.code.startswith("solid-fraction")
            ]
            assert 0.005 < shift < min(moved)
            asked += 1
    assert asked > 0
