"""The answer in a few words, and the facts that carry it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from scaleup.transfer.equivalent import Equivalent
from scaleup.transfer.holding import Holding
from scaleup.transfer.risks.registry import Case, Risk
from scaleup.transfer.wording import of_draws, percent, say

Answer = Literal[
    "transferable", "transferable with changes", "not transferable", "not enough evidence"
]
EVEN = 0.5

STOPPERS = ("strength-falls-with-pressure", "curve-depends-on-dwell", "tooling-does-not-fit")
"""Severe findings that no setting mends."""

UNITS = "units-doubtful"
IN_DOUBT = "the units of the study are in doubt"
LACKING = (UNITS, "not-enough-runs", "strength-not-checked")
"""Findings that say why there is no answer; units in doubt come before any other answer."""

MENDABLE = ("precompression-not-possible", "fill-depth-outside-ranges")
"""Severe findings that no force or speed mends, but another fitting of the press does."""

CAUTION = (
    "A screening calculation, not a validation. Ratings of tooling and press, guards and lock-out, "
    "local codes, the quality system and licensed or qualified people decide; a trial decides "
    "about the tablet."
)


@dataclass(frozen=True)
class Verdict:
    """The answer with its reasons."""

    answer: Answer
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class Against:
    """What stands against every force and speed, in sentences."""

    stops: tuple[str, ...]
    """Severe findings that no setting mends."""
    changes: tuple[str, ...]
    """Severe findings that ask for a change of the press or of what is asked of it."""
    doubts: tuple[str, ...] = ()
    """Why the units are doubtful, so that there is no answer until they are confirmed."""


def against(risks: tuple[Risk, ...]) -> Against:
    """Return the severe findings that stand whatever force and speed are set."""
    severe = [item for item in risks if item.severity == "severe"]
    return Against(
        tuple(item.message for item in severe if item.code in STOPPERS),
        tuple(item.message for item in severe if item.code in MENDABLE),
        tuple(item.message for item in severe if item.code == UNITS),
    )


def verdict_on(case: Case, risks: tuple[Risk, ...]) -> Verdict:
    """Return the verdict on a case.

    `transferable` if the lab's own pressure keeps every limit with the asked confidence at the
    asked speed; `with changes` if another match, or any pressure at all, does, there or at another
    speed of the press, or if the press has to be fitted otherwise; otherwise `not transferable` if
    most draws say so, and `not enough evidence` if it is the width of the bands that fails.
    """
    doubted = any(item.code == UNITS for item in risks)
    if doubted or case.fitted is None or case.fitted.fit.strength is None:
        lacking = [item.message for item in risks if item.code in LACKING]
        return Verdict("not enough evidence", tuple(lacking or (risks[0].message,)))
    standing = against(risks)
    if standing.stops:
        return Verdict("not transferable", standing.stops[:2])
    way = _way(case)
    if way is None:
        return _no_way(case)
    answer, told = way
    return Verdict(
        "transferable with changes" if standing.changes else answer, (told, *standing.changes)
    )


def _way(case: Case) -> tuple[Answer, str] | None:
    """Return the nearest setting that keeps every limit, and what it makes of the transfer."""
    good = [item for item in case.dialled if item.reachable and not item.broken]
    if good:
        best = next((item for item in good if item.match == "pressure"), good[0])
        same = best.match == "pressure"
        told = _holds(best, case.confidence)
        return "transferable" if same else "transferable with changes", told
    if case.holding_pressure is not None:
        return "transferable with changes", _kept(case.holding_pressure, case.confidence)
    if case.fastest is not None:
        return "transferable with changes", _kept_elsewhere(case, case.fastest)
    return None


def _no_way(case: Case) -> Verdict:
    closest = max(case.dialled, key=lambda item: item.within, default=None)
    if closest is None:
        return Verdict("not transferable", ("No match gives a setting at the asked speed.",))
    answer: Answer = "not enough evidence" if closest.within >= EVEN else "not transferable"
    return Verdict(answer, (_fails(closest, case.confidence),))


def _holds(item: Equivalent, confidence: float) -> str:
    return (
        f"The {item.match} match keeps each limit of machine and tablet with at least "
        f"{percent(confidence)} confidence; {_together(item)} keep them all together."
    )


def _kept(pressure: float, confidence: float) -> str:
    return (
        f"No match keeps every limit, but {say(pressure, 'MPa')} does, each with at least "
        f"{percent(confidence)} confidence: it is the least that keeps the lower limits."
    )


def _kept_elsewhere(case: Case, fastest: Holding) -> str:
    return (
        f"No force keeps every limit at {say(case.speed, 'rpm')}, but "
        f"{say(fastest.pressure, 'MPa')} at {fastest.told} does, each with at least "
        f"{percent(case.confidence)} confidence: it is the fastest speed that holds."
    )


def _fails(item: Equivalent, confidence: float) -> str:
    failing = ", ".join(limit.label for limit in item.broken) or item.reason
    return (
        f"At the best match ({item.match}) {_together(item)} keep all limits together, "
        f"{percent(confidence)} is asked of each; it fails on {failing}."
    )


def _together(item: Equivalent) -> str:
    """Return how many draws keep every limit; without a setting there are none to count."""
    return "none of the draws" if item.point is None else of_draws(item.within, item.point.draws)
