"""The answer in a few words, and the facts that carry it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from scaleup.calibration.fit import NoFit
from scaleup.transfer.equivalent import Equivalent
from scaleup.transfer.holding import Holding
from scaleup.transfer.risks.registry import Case, Risk
from scaleup.wording import asked_alone, of_draws, percent, say, sentence

Answer = Literal[
    "transferable", "transferable with changes", "not transferable", "not enough evidence"
]
EVEN = 0.5

STOPPERS = ("strength-falls-with-pressure", "curve-depends-on-dwell", "tooling-does-not-fit")
"""Severe findings that no setting mends."""

LACKING = ("not-enough-runs", "strength-not-checked")
"""Findings that say why there is no answer."""

DOUBTS = {
    "units-doubtful": "the units of the study are in doubt",
    "suspect-run-decides": "the answer hangs on a run far from what the others suggest",
}
"""Severe findings under which there is no answer, whatever else is found, in a few words."""

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
    """Severe findings under which there is no answer at all; they come before all else."""
    in_doubt: str = ""
    """What is in doubt, in a few words; empty if nothing is."""


def against(risks: tuple[Risk, ...]) -> Against:
    """Return the severe findings that stand whatever force and speed are set."""
    severe = [item for item in risks if item.severity == "severe"]
    return Against(
        tuple(item.message for item in severe if item.code in STOPPERS),
        tuple(item.message for item in severe if item.code in MENDABLE),
        tuple(item.message for item in severe if item.code in DOUBTS),
        next((DOUBTS[item.code] for item in severe if item.code in DOUBTS), ""),
    )


def nothing_predicted(fit: NoFit) -> tuple[str, ...]:
    """Return why there is no answer where the runs allow no fit, in sentences."""
    return tuple(f"{sentence(each)}." for each in fit.reasons)


def settled(case: Case, risks: tuple[Risk, ...]) -> bool:
    """Return whether a verdict needs no search beyond the matches."""
    standing = against(risks)
    unfitted = case.fitted is None or case.fitted.fit.strength is None
    return bool(standing.doubts or standing.stops or unfitted or _good(case))


def _good(case: Case) -> list[Equivalent]:
    """Return the matches that keep every limit."""
    return [item for item in case.dialled if item.reachable and not item.broken]


def verdict_on(case: Case, risks: tuple[Risk, ...]) -> Verdict:
    """Return the verdict on a case.

    `transferable` if the lab's own pressure keeps every limit with the asked confidence at the
    asked speed; `with changes` if another match, or any pressure at all, does, there or at another
    speed of the press, or if the press has to be fitted otherwise; otherwise `not transferable` if
    most draws say so. `not enough evidence` if a finding leaves all in doubt, if only a limit that
    is not firm is broken, or if it is the width of the bands that fails.
    """
    standing = against(risks)
    if standing.doubts:
        return Verdict("not enough evidence", standing.doubts)
    if case.fitted is None or case.fitted.fit.strength is None:
        lacking = [item.message for item in risks if item.code in LACKING]
        return Verdict("not enough evidence", tuple(lacking or (risks[0].message,)))
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
    good = _good(case)
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
    if case.unproven is not None:
        return Verdict(
            "not enough evidence", (f"No match keeps every limit. {case.unproven.told}",)
        )
    closest = max(case.dialled, key=lambda item: item.within, default=None)
    if closest is None:
        return Verdict("not transferable", ("No match gives a setting at the asked speed.",))
    answer: Answer = "not enough evidence" if closest.within >= EVEN else "not transferable"
    return Verdict(answer, (_fails(closest, case.confidence),))


def _holds(item: Equivalent, confidence: float) -> str:
    return (
        f"The {item.match} match keeps each limit of machine and tablet with at least "
        f"{percent(confidence)} confidence; {_together(item)} keep them all together"
        f"{asked_alone(item.within, confidence)}."
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
