"""The answer in a few words, and the facts that carry it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Literal

from scaleup.sentence import Fact, Sentence, Words, share_of_draws
from scaleup.transfer.case import TransferCase
from scaleup.transfer.equivalent import Equivalent
from scaleup.transfer.fastest_speed import FeasibleSpeed
from scaleup.transfer.matches import MATCHES
from scaleup.transfer.risks.registry import Effect, Risk
from scaleup.wording import asked_alone

Answer = Literal[
    "transferable", "transferable with changes", "not transferable", "not enough evidence"
]
EVEN = 0.5

CAUTION = (
    "A screening calculation, not a validation. Ratings of tooling and press, guards and lock-out, "
    "local codes, the quality system and licensed or qualified people decide; a trial decides "
    "about the tablet."
)


@dataclass(frozen=True)
class Verdict:
    """The answer with its reasons."""

    answer: Answer
    reasons: tuple[Words, ...]


@dataclass(frozen=True)
class Standing:
    """What risks do to the verdict whatever force and speed are set, in sentences."""

    stops: tuple[Words, ...] = ()
    """Why no setting transfers the tablet."""
    changes: tuple[Words, ...] = ()
    """What has to be changed on the press, or in what is asked of it."""
    lacks: tuple[Words, ...] = ()
    """Why there is no evidence for an answer, which comes before all else."""
    in_doubt: str = ""
    """What is in doubt, in a few words, so that no figure can be told; empty if nothing is."""


def standing(risks: tuple[Risk, ...]) -> Standing:
    """Return what risks do to the verdict."""

    def told(effect: Effect) -> tuple[Words, ...]:
        return tuple(item.message for item in risks if item.effect == effect)

    in_doubt = next((item.in_doubt for item in risks if item.in_doubt), "")
    return Standing(told("stops"), told("needs a change"), told("lacks evidence"), in_doubt)


def verdict_on(case: TransferCase, risks: tuple[Risk, ...]) -> Verdict:
    """Return the verdict on a case.

    `transferable` if the lab's own pressure keeps every limit with the asked confidence at the
    asked speed; `with changes` if another match, or any pressure at all, does, there or at another
    speed of the press, or if the press has to be fitted otherwise; otherwise `not transferable` if
    most draws say so. `not enough evidence` if a risk leaves all in doubt, if only a limit that
    is not firm is broken, or if it is the width of the bands that fails.
    """
    answer, tell = _decided(case, standing(risks))
    return Verdict(answer, tell())


def verdict_word(case: TransferCase, risks: tuple[Risk, ...]) -> Answer:
    """Return the answer of the verdict alone, with no more worked out than it takes."""
    return _decided(case, standing(risks))[0]


Decided = tuple[Answer, Callable[[], tuple[Words, ...]]]


def _decided(case: TransferCase, against: Standing) -> Decided:
    if against.lacks:
        return "not enough evidence", lambda: against.lacks
    if against.stops:
        return "not transferable", lambda: against.stops[:2]
    way = _way(case)
    if way is None:
        no_way = _no_way(case)
        return no_way.answer, lambda: no_way.reasons
    answer, tell = way
    changed: Answer = "transferable with changes" if against.changes else answer
    return changed, lambda: (tell(), *against.changes)


def _way(case: TransferCase) -> tuple[Answer, Callable[[], Sentence]] | None:
    """Return the nearest setting that keeps every limit, and what it makes of the transfer."""
    for match in MATCHES:
        item = case.equivalent(match)
        if match != "dwell" and item.point is not None and item.reachable and not item.broken:
            same: Answer = "transferable" if match == "pressure" else "transferable with changes"
            return same, partial(_holds, case, item)
    pressure = case.feasible_pressure
    if pressure is not None:
        return "transferable with changes", lambda: _kept(pressure, case.confidence)
    if case.fastest is not None:
        return "transferable with changes", lambda: _kept_elsewhere(case, case.fastest_with_band)
    return None


def _no_way(case: TransferCase) -> Verdict:
    if case.unproven is not None:
        told = Sentence("No match keeps every limit. {but}", but=case.unproven.told)
        return Verdict("not enough evidence", (told,))
    closest = max(case.dialled, key=lambda item: item.within)
    answer: Answer = "not enough evidence" if closest.within >= EVEN else "not transferable"
    return Verdict(answer, (_fails(case, closest),))


def _holds(case: TransferCase, item: Equivalent) -> Sentence:
    return Sentence(
        "The {match} match keeps each limit of machine and tablet with at least {confidence:%} "
        "confidence; {within} keep them all together{alone}.",
        match=item.match,
        confidence=case.confidence,
        within=_together(case, item),
        alone=asked_alone(item.within, case.confidence),
    )


def _kept(pressure: float, confidence: float) -> Sentence:
    return Sentence(
        "No match keeps every limit, but {pressure} does, each with at least {confidence:%} "
        "confidence: it is the least that keeps the lower limits.",
        pressure=Fact(pressure, "MPa"),
        confidence=confidence,
    )


def _kept_elsewhere(case: TransferCase, fastest: FeasibleSpeed | None) -> Sentence:
    if fastest is None:
        raise TypeError("no speed keeps every limit")
    return Sentence(
        "No force keeps every limit at {speed}, but {pressure} at {fastest} does, each with at "
        "least {confidence:%} confidence: it is the fastest speed that holds.",
        speed=Fact(case.speed, "rpm"),
        pressure=Fact(fastest.pressure, "MPa"),
        fastest=fastest.told,
        confidence=case.confidence,
    )


def _fails(case: TransferCase, item: Equivalent) -> Sentence:
    return Sentence(
        "At the best match ({match}) {within} keep all limits together, {confidence:%} is asked of "
        "each; it fails on {failing}.",
        match=item.match,
        within=_together(case, item),
        confidence=case.confidence,
        failing=", ".join(limit.label for limit in item.broken) or item.reason,
    )


def _together(case: TransferCase, item: Equivalent) -> Fact:
    """Return how many draws keep every limit."""
    return share_of_draws(item.within, case.fit.powder.draws)
