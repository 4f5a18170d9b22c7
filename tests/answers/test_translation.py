"""The whole path: identity, round trip, grades, bands and what cannot be had."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace

import numpy as np
import pytest

from scaleup.answers.functions import translate
from scaleup.answers.translation import Translation
from scaleup.calibration.fit import Fit, NoFit
from scaleup.model.estimate import Estimate
from scaleup.model.run import Run
from scaleup.model.study import RunDefaults, Study
from scaleup.transfer.process_model import ProcessModel
from scaleup.wording import say

pytestmark = pytest.mark.slow

Change = Callable[..., Study]


def line_of(answer: Translation) -> ProcessModel:
    point = answer.equivalent("pressure").point
    assert point is not None
    return point.process


def fit_of(answer: Translation) -> Fit:
    assert isinstance(answer.fit, Fit)
    return answer.fit


def number(quantity: Estimate) -> float:
    assert quantity.value is not None
    return quantity.value


def on_its_own_press(study: Study, speed: float) -> Study:
    """Return the study as if its lab runs had been pressed on the production press."""
    made = study.production
    lab = replace(
        study.lab,
        press=made.press,
        tooling=made.tooling,
        runs=tuple(
            replace(run, hold=None, loading_rate=None, speed=speed) for run in study.lab.runs
        ),
        defaults=RunDefaults(speed=speed),
    )
    return replace(study, lab=lab, production=replace(made, precompression=None, speed=speed))


def test_the_same_press_on_both_sides_gives_the_lab_settings_back(marram: Study) -> None:
    answer = translate(on_its_own_press(marram, 30.0), draws=300)
    pressure = answer.lab.reference.pressure
    for match in ("pressure", "solid-fraction"):
        item = answer.equivalent(match)
        assert number(item.settings.main_pressure) == pytest.approx(pressure, rel=1e-3)
        assert number(item.settings.turret_speed) == 30.0
    assert number(answer.equivalent("dwell").settings.turret_speed) == pytest.approx(30.0, rel=2e-3)
    dwell = number(answer.lab.settings.effective_dwell)
    same = answer.equivalent("pressure").settings.effective_dwell
    assert number(same) == pytest.approx(dwell, rel=5e-3)


def test_there_and_back_closes(marram: Study) -> None:
    """From 20 rpm to 60 rpm for the same solid fraction, and from there back to 20 rpm."""
    line = line_of(translate(on_its_own_press(marram, 20.0), draws=300))
    powder = line.fit.powder
    start = np.full(powder.draws, 150.0)
    there = line.at(start, 20.0)
    pressure = start
    for speed in (60.0, 20.0):
        for _ in range(6):
            dwell = line.map.effective_dwell(pressure, speed)
            pressure = powder.peak_pressure(there.static_pressure, dwell)
    assert pressure == pytest.approx(start, rel=1e-6)


def test_pressure_pays_for_dwell_as_the_law_says(marram: Study) -> None:
    answer = translate(marram, draws=300)
    line, item = line_of(answer), answer.equivalent("solid-fraction")
    powder = line.fit.powder
    pressure = np.full(powder.draws, number(item.settings.main_pressure))
    lab = answer.lab.reference.pressure
    lab_dwell = number(answer.lab.settings.effective_dwell)
    dwell = line.map.effective_dwell(pressure, answer.speed)
    ratio = np.median((lab_dwell / dwell) ** powder.rate_exponent / powder.weakening(dwell))
    assert number(item.settings.main_pressure) / lab == pytest.approx(ratio, rel=5e-3)


def test_same_seed_same_numbers(marram: Study) -> None:
    first, again, other = (translate(marram, draws=300, seed=seed) for seed in (7, 7, 8))
    assert first.equivalents[1].settings == again.equivalents[1].settings
    assert first.equivalents[1].settings != other.equivalents[1].settings


def test_the_strength_match_holds_with_the_asked_confidence(marram: Study) -> None:
    for confidence in (0.6, 0.9, 0.97):
        item = translate(marram, confidence=confidence, draws=400).equivalent("strength")
        assert item.point is not None
        assert item.point.strength is not None
        share = np.mean(item.point.strength >= 2.0)
        assert confidence <= share <= confidence + 1.0 / 400 + 1e-12


@pytest.mark.parametrize(("share", "met"), [(1.25, True), (0.9, False)])
def test_a_target_met_at_the_lowest_pressure_sets_nothing(
    marram: Study, changed: Change, share: float, met: bool
) -> None:
    """The target is the strength that nine tenths of the draws have near the map's floor."""
    line = line_of(translate(marram, draws=300))
    pressure = share * line.map.floor
    strength = line.at(pressure, line.exact_speed).strength
    assert strength is not None
    target = float(np.quantile(strength, 0.1, method="lower"))
    study = changed(marram, target={"strength": target, "confidence": 0.9})
    item = translate(study, draws=300).equivalent("strength")
    assert (item.point is not None) is met
    if met:
        assert number(item.settings.main_pressure) == pytest.approx(pressure, rel=0.01)


@pytest.mark.parametrize("match", ["pressure", "solid-fraction", "strength", "dwell"])
def test_every_band_holds_its_value(marram: Study, match: str) -> None:
    item = translate(marram, draws=300).equivalent(match)
    for part in (item.settings, item.tablet):
        for field in fields(part):
            quantity = getattr(part, field.name)
            assert quantity.value is not None, field.name
            assert quantity.low <= quantity.value <= quantity.high, field.name


def test_set_up_values_follow_from_what_they_are_made_of(marram: Study) -> None:
    answer = translate(marram, draws=300)
    item = answer.equivalent("pressure")
    settings, tablet = item.settings, item.tablet
    area = np.pi * 25.0
    assert number(settings.main_force) == pytest.approx(number(settings.main_pressure) * area)
    force = number(settings.main_force)
    assert number(settings.precompression_force) == pytest.approx(0.15 * force)
    assert number(settings.output) == 19 * 45 * 60
    flat = 2.0 * np.arcsin(9.5 / 317.0) / (45.0 * 2.0 * np.pi / 60.0)
    assert number(settings.dwell_time) == pytest.approx(flat)
    solid = number(tablet.weight) / 1.5407 / area / number(tablet.thickness)
    assert number(tablet.solid_fraction) == pytest.approx(solid, rel=2e-3)
    breaking = number(tablet.tensile_strength) * np.pi * 10.0 * number(tablet.thickness) / 2.0
    assert number(tablet.breaking_force) == pytest.approx(breaking, rel=5e-3)


def test_the_three_examples_have_three_answers(marram: Study, dunlin: Study, sedge: Study) -> None:
    answers = [translate(study, draws=400) for study in (marram, dunlin, sedge)]
    assert [answer.verdict.answer for answer in answers] == [
        "transferable",
        "transferable",
        "not transferable",
    ]
    assert [fit_of(answer).rate.evidence for answer in answers] == [
        "measured",
        "borrowed",
        "measured",
    ]


def test_a_dearer_target_needs_changes(marram: Study, changed: Change) -> None:
    answer = translate(changed(marram, target={"strength": 2.4}), draws=400)
    assert answer.verdict.answer == "transferable with changes"


@pytest.mark.parametrize(
    ("strength", "confidence", "answer"),
    [
        (6.0, 0.9, "not transferable"),
        (3.9, 0.9, "not enough evidence"),
        (3.9, 0.6, "transferable with changes"),
    ],
)
def test_the_answer_turns_with_target_and_confidence(
    marram: Study, changed: Change, strength: float, confidence: float, answer: str
) -> None:
    """A target that most draws miss, one that most meet, and one that enough of them meet.

    The press runs no slower than is asked, where more draws would meet it.
    """
    speed = replace(marram.production.press.profile.speed, min=45.0)
    target = {"strength": strength, "confidence": confidence}
    study = changed(marram, target=target, press={"speed": speed})
    translation = translate(study, draws=300)
    assert translation.verdict.answer == answer
    assert len(translation.verdict.reasons) == 1


def test_without_a_material_the_rate_is_assumed_and_wider(dunlin: Study, changed: Change) -> None:
    borrowed = fit_of(translate(dunlin, draws=400))
    assumed = fit_of(translate(changed(dunlin, blend={"rate_material": None}), draws=400))
    assert (borrowed.rate.evidence, assumed.rate.evidence) == ("borrowed", "assumed")
    assert assumed.powder.rate_exponent.std() > 2.0 * borrowed.powder.rate_exponent.std()


def test_few_runs_are_no_fit_and_say_so(marram: Study, changed: Change) -> None:
    kept = {"M3", "M4"}

    def few(run: Run) -> Run | None:
        return replace(run, force=10e3) if run.name in kept else None

    answer = translate(changed(marram, runs=few), draws=300)
    assert isinstance(answer.fit, NoFit)
    assert "one pressure" in answer.fit.reasons[0]
    assert answer.verdict.answer == "not enough evidence"
    tablet = answer.equivalent("pressure").tablet
    assert tablet.solid_fraction.value is None
    assert "one pressure" in tablet.solid_fraction.reason
    assert number(answer.equivalent("pressure").settings.dwell_time) > 0.0


def test_runs_without_strength_still_give_solid_fractions(marram: Study, changed: Change) -> None:
    study = changed(marram, runs=lambda run: replace(run, breaking_force=None))
    answer = translate(study, draws=300)
    tablet = answer.equivalent("pressure").tablet
    assert tablet.tensile_strength.value is None
    assert number(tablet.solid_fraction) > 0.7
    assert answer.verdict.answer == "not enough evidence"


def test_lab_runs_on_an_eccentric_press_are_solved_not_assumed(
    marram: Study, changed: Change
) -> None:
    from scaleup.io.library import find_press  # noqa: PLC0415

    lab = replace(marram.lab, press=find_press("lab-eccentric"))
    runs = tuple(
        replace(run, hold=None, loading_rate=None, speed=30.0 if run.hold == 1.0 else 60.0)
        for run in lab.runs
    )
    answer = translate(
        replace(marram, lab=replace(lab, runs=runs, defaults=RunDefaults())), draws=300
    )
    fit = fit_of(answer)
    assert fit.rate.evidence == "assumed"
    assert 0.0 < fit.dwell_error < 0.05
    by_speed = {row.observation.setting.speed: row.effective_dwell for row in fit.runs}
    assert by_speed[30.0] / by_speed[60.0] == pytest.approx(2.0, rel=0.15)


def test_fastest_speed_keeps_every_limit_and_is_the_fastest(marram: Study, changed: Change) -> None:
    limits = changed(marram, target={"strength": 2.4}, press={"ejection_limit": 318.0})
    answer = translate(limits, draws=300)
    fastest, line = answer.fastest.speed.value, line_of(answer)
    assert fastest is not None
    assert 10.0 < fastest < 75.0
    point = line.at(number(answer.fastest.pressure), fastest)
    assert point.ejection_force is not None
    assert point.strength is not None
    assert np.mean(point.ejection_force <= 318.0) >= 0.9
    assert np.mean(point.strength >= 2.4) >= 0.9


def test_a_pressure_that_no_match_dials_counts_and_is_told(marram: Study, changed: Change) -> None:
    """No strength target, tablets denser than any match makes them, far above the tested force."""
    window = replace(marram.target.solid_fraction, min=0.87, max=0.93)
    dense = changed(marram, target={"strength": None, "solid_fraction": window})
    answer = translate(dense, draws=300)
    assert all(item.broken for item in answer.equivalents if item.point is not None)
    assert answer.verdict.answer == "transferable with changes"
    assert "No match keeps every limit" in answer.verdict.reasons[0]
    told = [item.message for item in answer.risks if item.code == "pressure-beyond-tested"]
    assert any(text.startswith("Keeping every limit takes") for text in told)


def test_the_pressure_at_a_slower_speed_is_held_against_the_tested_ones_too(
    marram: Study, changed: Change
) -> None:
    """Dense tablets and a roller whose rating is reached between 10 and 45 rpm."""
    window = replace(marram.target.solid_fraction, min=0.87, max=0.93)
    roller = replace(marram.production.press.profile.main_roller, force_limit=19_200.0)
    study = changed(
        marram,
        target={"strength": None, "solid_fraction": window},
        press={"main_roller": roller},
    )
    answer = translate(study, speed=45.0, draws=300)
    fastest, pressure = number(answer.fastest.speed), number(answer.fastest.pressure)
    assert 10.0 < fastest < 45.0
    assert "No force keeps every limit at 45 rpm" in answer.verdict.reasons[0]
    (told,) = [item for item in answer.risks if item.message.startswith("Keeping every limit at ")]
    assert told.code == "pressure-beyond-tested"
    assert f"takes {say(pressure, 'MPa')}" in told.message
    assert f"at {answer.fastest.told} takes" in told.message
    assert 0.0 <= fastest - float(str(answer.fastest.told).removesuffix(" rpm")) < 1.0
