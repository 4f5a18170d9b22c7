"""Every way to a verdict: the answer, its reason word for word, and the numbers in it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from scaleup.sentence import Fact, Sentence
from scaleup.transfer.case import TransferCase
from scaleup.transfer.risks.registry import Effect, Risk
from scaleup.transfer.verdict import Answer, standing, verdict_on, verdict_word

YES: Answer = "transferable"
CHANGES: Answer = "transferable with changes"
NO: Answer = "not transferable"
UNKNOWN: Answer = "not enough evidence"
WithLimits = Callable[..., TransferCase]

WAYS: tuple[tuple[dict[str, float], Answer, str, dict[str, tuple[float, float]]], ...] = (
    (
        {"strength": 1.9},
        YES,
        (
            "The pressure match keeps each limit of machine and tablet with at least 90 % "
            "confidence; all 160 draws (above 98.1 %) keep them all together."
        ),
        {"within": (1.0, 1.0)},
    ),
    (
        {"solid_fraction_low": 0.83, "main_roller": 14.2e3},
        CHANGES,
        (
            "The solid-fraction match keeps each limit of machine and tablet with at least 90"
            " % confidence; 94 % of the draws keep them all together."
        ),
        {"within": (0.93, 0.95)},
    ),
    (
        {"solid_fraction_low": 0.820, "solid_fraction_high": 0.831},
        CHANGES,
        (
            "No match keeps every limit, but 163 MPa does, each with at least 90 % "
            "confidence: it is the least that keeps the lower limits."
        ),
        {"pressure": (162.0, 163.0)},
    ),
    (
        {"strength": 2.27, "solid_fraction_high": 0.826},
        CHANGES,
        (
            "No force keeps every limit at 45 rpm, but 155 MPa at 18 rpm does, each with at "
            "least 90 % confidence: it is the fastest speed that holds."
        ),
        {"pressure": (154.0, 155.0), "fastest": (18.0, 18.5), "speed": (45.0, 45.0)},
    ),
    (
        {"tested_pressure": 0.6},
        UNKNOWN,
        (
            "No match keeps every limit. 12 kN (153 MPa) at 45 rpm keeps every stated limit, "
            "each with at least 90 % confidence, but 153 MPa is 0.789 times the highest "
            "tested pressure of 194 MPa, and beyond 1.5 times nothing is answered: press lab "
            "runs up to 168 MPa, 13.2 kN."
        ),
        {"pressure": (153.0, 153.3), "ratio": (0.788, 0.790)},
    ),
    (
        {"strength": 2.2, "main_roller": 12.1e3, "speed_low": 44.9},
        UNKNOWN,
        (
            "At the best match (pressure) 79 % of the draws keep all limits together, 90 % is"
            " asked of each; it fails on tensile strength."
        ),
        {"within": (0.5, 0.9), "confidence": (0.9, 0.9)},
    ),
    (
        {"main_roller": 9e3},
        NO,
        (
            "At the best match (pressure) none of 160 draws (below 1.9 %) keep all limits "
            "together, 90 % is asked of each; it fails on main roller force."
        ),
        {"within": (0.0, 0.0)},
    ),
)


@pytest.mark.parametrize(("bounds", "answer", "reason", "numbers"), WAYS, ids=range(len(WAYS)))
def test_every_way(
    case: TransferCase,
    with_limits: WithLimits,
    bounds: dict[str, float],
    answer: Answer,
    reason: str,
    numbers: dict[str, tuple[float, float]],
) -> None:
    asked = with_limits(case, **bounds)
    verdict = verdict_on(asked, ())
    assert verdict.answer == verdict_word(asked, ()) == answer
    (told,) = verdict.reasons
    assert isinstance(told, Sentence)
    assert told == reason
    for name, (least, most) in numbers.items():
        fact = told.facts[name]
        assert isinstance(fact, Fact)
        assert least <= fact.value <= most


def finding(message: str, effect: Effect, in_doubt: str = "") -> Risk:
    return Risk("code", "severe", message, "", "", effect=effect, in_doubt=in_doubt)


def test_effects_come_before_any_setting_and_in_their_order(case: TransferCase) -> None:
    change, stop = finding("A change.", "needs a change"), finding("Stop.", "stops")
    lack = finding("A lack.", "lacks evidence", "units are in doubt")
    other, third = finding("Stop too.", "stops"), finding("And stop.", "stops")
    assert verdict_on(case, (change,)).answer == CHANGES
    assert verdict_on(case, (change,)).reasons[1:] == ("A change.",)
    stopped = verdict_on(case, (change, stop, other, third))
    assert (stopped.answer, stopped.reasons) == (NO, ("Stop.", "Stop too."))
    lacking = verdict_on(case, (change, stop, lack))
    assert (lacking.answer, lacking.reasons) == (UNKNOWN, ("A lack.",))
    assert standing((stop, lack)).in_doubt == "units are in doubt"
    assert standing((stop, change)).in_doubt == ""


def test_a_change_does_not_mend_what_no_setting_keeps(
    case: TransferCase, with_limits: WithLimits
) -> None:
    change = finding("A change.", "needs a change")
    assert verdict_on(with_limits(case, main_roller=9e3), (change,)).answer == NO
