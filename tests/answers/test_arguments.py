"""What the public functions refuse to be called with: the argument, what was found, what may be."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

import scaleup
from scaleup.answers.functions import learn, plan_trial
from scaleup.answers.trial.options import TrialOptions
from scaleup.calibration.fit import fit
from scaleup.errors import InputError
from scaleup.io.library import find_press
from scaleup.io.trial_sheet.reading import TrialSheet
from scaleup.model.study import Study

FUNCTIONS: dict[str, Callable[..., Any]] = {
    "translate": scaleup.translate,
    "judge": scaleup.judge,
    "check_speed": scaleup.check_speed,
    "compare": scaleup.compare,
    "operating_window": scaleup.operating_window,
    "imitate": scaleup.imitate,
    "fit": fit,
    "plan_trial": plan_trial,
    "learn": lambda study, **asked: learn(study, TrialSheet(()), **asked),
}
WITHOUT_CONFIDENCE = ("imitate", "fit")
WRONG: dict[str, tuple[dict[str, Any], str]] = {
    "few draws": ({"draws": 3}, "draws: found 3; allowed: 200 to 200000"),
    "draws as text": ({"draws": "300"}, 'draws: found "300"; allowed: a whole number'),
    "half a draw": ({"draws": 300.5}, "draws: found 300.5; allowed: a whole number"),
    "draws true": ({"draws": True}, "draws: found True; allowed: a whole number"),
    "negative seed": ({"seed": -1}, "seed: found -1; allowed: 0 to 4294967295"),
    "no seed": ({"seed": None}, "seed: found None; allowed: a whole number"),
    "per cent": ({"confidence": 95}, "confidence: found 95; allowed: 0.5 to 0.9999. 95 % is"),
    "certainty": ({"confidence": 1.0}, "confidence: found 1.0; allowed: 0.5 to 0.9999"),
    "not a number": ({"confidence": float("nan")}, "confidence: found nan"),
    "confidence as text": ({"confidence": "high"}, 'confidence: found "high"; allowed: a share'),
    "confidence in mm": ({"confidence": "95 mm"}, 'confidence: found the unit "mm"'),
}


@pytest.mark.parametrize(
    ("name", "case"),
    [
        (name, case)
        for name in FUNCTIONS
        for case, (asked, _) in WRONG.items()
        if "confidence" not in asked or name not in WITHOUT_CONFIDENCE
    ],
)
def test_what_is_out_of_range_is_refused_by_its_name(marram: Study, name: str, case: str) -> None:
    asked, told = WRONG[case]
    with pytest.raises(InputError) as error:
        FUNCTIONS[name](marram, **asked)
    assert [str(fault).startswith(told) for fault in error.value.faults] == [True]


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_folder_is_no_study(name: str) -> None:
    with pytest.raises(InputError, match='study: found "examples/marram"; allowed: a study as'):
        FUNCTIONS[name]("examples/marram", draws=200)


def test_every_fault_is_told_at_once(marram: Study) -> None:
    with pytest.raises(InputError) as error:
        scaleup.translate(marram, draws=3, seed=-1, confidence=95, speed=500.0)
    assert [fault.where for fault in error.value.faults] == ["confidence", "draws", "seed", "speed"]


@pytest.mark.parametrize("speed", [0.0, -3.0, 9.0, 76.0, float("inf"), float("nan"), "76 rpm"])
def test_a_speed_the_press_does_not_run_at_is_refused(marram: Study, speed: Any) -> None:
    for ask in (scaleup.translate, scaleup.check_speed):
        with pytest.raises(InputError, match="allowed: 10 to 75 rpm, the range of rotary-mid-19"):
            ask(marram, speed=speed, draws=200)
    with pytest.raises(InputError, match="speeds: found"):
        scaleup.check_speed(marram, speeds=[20.0, speed], draws=200)


@pytest.mark.parametrize("cells", [(3, 8), (8,), "6x6", (8, 501), (6.5, 8), 6])
def test_a_map_has_speeds_and_forces(marram: Study, cells: Any) -> None:
    with pytest.raises(InputError, match="cells: found"):
        scaleup.operating_window(marram, cells=cells, draws=200)


def test_an_unknown_match_is_told_with_those_there_are(marram: Study) -> None:
    translation = scaleup.translate(marram, draws=200)
    assert translation.equivalent("dwell").match == "dwell"
    for wrong in ("nonsense", None, 3):
        with pytest.raises(InputError, match="allowed: pressure, solid-fraction, strength, dwell"):
            translation.equivalent(wrong)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="Did you mean strength"):
        translation.equivalent("strenght")


def test_presses_are_named_or_given(marram: Study) -> None:
    given = marram.production.press
    one, other = (
        scaleup.compare(marram, [press], draws=200).candidates[0]
        for press in ("rotary-mid-19", given)
    )
    assert one.production.press == other.production.press
    assert one.output == other.output
    twice = scaleup.compare(marram, ["rotary-mid-19", given], draws=200)
    assert len(twice.candidates) == 1


PRESSES: dict[str, tuple[Any, str]] = {
    "a text": ("rotary-mid-19", 'presses: found "rotary-mid-19"; allowed: a list'),
    "unknown": (["rotary-none"], 'presses: found the unknown press "rotary-none"'),
    "a lab press": (["lab-hydraulic"], "presses: found lab-hydraulic, of kind hydraulic"),
    "a lab press given": ([find_press("lab-hydraulic")], "presses: found lab-hydraulic, of kind"),
    "a number": ([3], "presses: found 3; allowed: the id of a press"),
}


@pytest.mark.parametrize("case", PRESSES)
def test_what_is_no_production_press_is_refused(marram: Study, case: str) -> None:
    presses, told = PRESSES[case]
    with pytest.raises(InputError) as error:
        scaleup.compare(marram, presses, draws=200)
    assert str(error.value.faults[0]).startswith(told)


def test_many_studies_are_refused_at_once() -> None:
    for asked in ({"draws": 3}, {"confidence": 95}, {"seed": "a"}):
        with pytest.raises(InputError):
            scaleup.compare_many(["examples/marram"], **asked)
    with pytest.raises(InputError, match='studies: found "examples/marram"; allowed: a list'):
        scaleup.compare_many("examples/marram")
    with pytest.raises(InputError, match="presses: found"):
        scaleup.compare_many(["examples/marram"], "rotary-mid-19")


@pytest.mark.parametrize(
    ("options", "name"),
    [(TrialOptions(tablets=0), "tablets"), (TrialOptions(minutes=-1.0), "minutes"),
     (TrialOptions(setting_minutes=float("nan")), "setting_minutes"),
     (TrialOptions(hold_up=-5.0), "hold_up")],
)  # fmt: skip
def test_a_trial_of_nothing_is_refused(marram: Study, options: TrialOptions, name: str) -> None:
    with pytest.raises(InputError, match=f"^{name}: found"):
        plan_trial(marram, options=options, draws=200)


def test_an_unknown_production_run_is_named_by_the_argument(marram: Study) -> None:
    study = scaleup.read_study("examples/fescue")
    with pytest.raises(InputError, match=r'^run: found the unknown run "P9"; allowed: .* P1, P2'):
        scaleup.imitate(study, run="P9", draws=200)
    with pytest.raises(InputError, match=r"^run: found no name"):
        scaleup.imitate(study, draws=200)
