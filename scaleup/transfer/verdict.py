"""The answer in a few words, and the facts that carry it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from scaleup.transfer.equivalent import Equivalent
from scaleup.transfer.risks.registry import Case, Risk
from scaleup.transfer.wording import percent, say

Answer = Literal[
    "transferable", "transferable with changes", "not transferable", "not enough evidence"
]
EVEN = 0.5

STOPPERS = ("strength-falls-with-pressure", "curve-depends-on-dwell", "tooling-does-not-fit")
"""Severe findings that no setting mends."""

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


def stoppers(risks: tuple[Risk, ...]) -> tuple[Risk, ...]:
    """Return the severe findings that no setting mends."""
    return tuple(item for item in risks if item.code in STOPPERS and item.severity == "severe")


def verdict_on(case: Case, risks: tuple[Risk, ...]) -> Verdict:
    """Return the verdict on a case.

    `transferable` if the lab's own pressure keeps every limit with the asked confidence at the
    asked speed; `with changes` if another match, or any pressure at all, does; otherwise `not
    transferable` if most draws say so, and `not enough evidence` if it is the width of the bands
    that fails.
    """
    if case.fitted is None or case.fitted.fit.strength is None:
        return Verdict("not enough evidence", tuple(item.message for item in risks[:2]))
    stopped = stoppers(risks)
    good = [item for item in case.dialled if item.reachable and not item.broken]
    if good and not stopped:
        best = next((item for item in good if item.match == "pressure"), good[0])
        answer: Answer = "transferable" if best.match == "pressure" else "transferable with changes"
        return Verdict(answer, (_holds(best, case.confidence),))
    if case.holding is not None and not stopped:
        return Verdict("transferable with changes", (_kept(case.holding, case.confidence),))
    reasons = tuple(item.message for item in stopped[:2])
    closest = max(case.dialled, key=lambda item: item.within, default=None)
    if stopped:
        return Verdict("not transferable", reasons)
    if closest is None:
        return Verdict("not transferable", ("No match gives a setting at the asked speed.",))
    answer = "not enough evidence" if closest.within >= EVEN else "not transferable"
    return Verdict(answer, (_fails(closest, case.confidence),))


def _holds(item: Equivalent, confidence: float) -> str:
    return (
        f"The {item.match} match keeps each limit of machine and tablet with at least "
        f"{percent(confidence)} confidence, all together with {percent(item.within)}."
    )


def _kept(pressure: float, confidence: float) -> str:
    return (
        f"No match keeps every limit, but {say(pressure, 'MPa')} does, each with at least "
        f"{percent(confidence)} confidence: it is the least that keeps the lower limits."
    )


def _fails(item: Equivalent, confidence: float) -> str:
    failing = ", ".join(limit.label for limit in item.broken) or item.reason
    return (
        f"The best match ({item.match}) keeps every limit with {percent(item.within)} confidence, "
        f"{percent(confidence)} is asked of each; it fails on {failing}."
    )
