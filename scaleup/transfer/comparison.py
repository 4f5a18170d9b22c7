"""Which production press? Every candidate at its fastest speed that holds, best first."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from scaleup.errors import InputError
from scaleup.evidence.fit import Drawing, Fit, NoFit
from scaleup.files.library import LoadedProfile, PressAtFault
from scaleup.files.press_profiles import RotaryProfile
from scaleup.files.study import ProductionSide, Study
from scaleup.short_repr import short_repr
from scaleup.transfer.findings import examined
from scaleup.transfer.holding import Fastest
from scaleup.transfer.margins import Held, held
from scaleup.transfer.quantity import Quantity, exactly, unavailable
from scaleup.transfer.question import LabCase, Question, lab_case, question
from scaleup.transfer.risks import all_risks
from scaleup.transfer.settings import NO_STRENGTH
from scaleup.transfer.speed import speed_point, stopped_by
from scaleup.transfer.verdict import CAUTION, IN_DOUBT, Against, against
from scaleup.transfer.wording import percent, say


@short_repr
@dataclass(frozen=True)
class Candidate:
    """One production press at the fastest speed that keeps every limit."""

    production: ProductionSide
    holds: bool
    speed: Quantity
    """rpm: the fastest that holds, else the slowest of the press, which comes closest."""
    output: Quantity
    """Tablets per hour at that speed."""
    told: str
    """The speed in words, with as many digits as its band allows."""
    output_told: str
    """The output in words."""
    held: Held | None
    """The least pressure that holds there, or the closest; None if nothing can be computed."""
    stopped_by: str
    """What ends the speeds above."""
    changes: tuple[str, ...]
    """What has to be changed on the press, or in what is asked of it, before any speed is run."""
    reason: str
    """Why it does not come first; for the first, why it does."""


@short_repr
@dataclass(frozen=True)
class Comparison:
    """The candidates, best first."""

    study: Study
    confidence: float
    drawing: Drawing
    fit: Fit | NoFit
    candidates: tuple[Candidate, ...]
    reasons: tuple[str, ...]
    """Why nothing can be compared, or what stands against every candidate."""
    at_fault: tuple[PressAtFault, ...] = ()
    """Presses whose profile, or whose profile with this tooling, is at fault."""
    caution: str = CAUTION


def compare(
    study: Study,
    presses: Sequence[LoadedProfile[RotaryProfile] | PressAtFault],
    *,
    confidence: float | None = None,
    draws: int = 4000,
    seed: int = 1,
    as_given: bool = False,
    advance: Callable[[], None] = lambda: None,
) -> Comparison:
    """Return production presses ranked by the output at which they keep every limit.

    Presses that hold come before those that do not. Among those that hold, the one with the larger
    output at its fastest holding speed is better, and of equals the one that needs no change; among
    the others, the one whose draws come closer to keeping every limit at its slowest speed.

    Parameters
    ----------
    study
        As read by `scaleup.read_study`; its production tooling is used on every press.
    presses
        The candidates, rotary presses that take the tooling. Those at fault are told with their
        reason beside the others.
    confidence
        With which every limit must hold, the study's if absent.
    draws, seed
        How many parameter sets are drawn, and the seed that repeats them.
    as_given
        Whether the user confirms figures that no published material has.
    advance
        Called after each press, for a sign of progress.

    Raises
    ------
    InputError
        If runs contradict each other, or every press is at fault.

    Examples
    --------
    >>> from scaleup import read_study
    >>> study = read_study("examples/marram")
    >>> from scaleup.files.library import find_press, rotary_profile
    >>> found = compare(study, [rotary_profile(find_press("rotary-mid-19"))], draws=300)
    >>> found.candidates[0].holds, found.candidates[0].output.value
    (True, 85500.0)
    """
    study = study.confirmed(as_given)
    asked_confidence = study.target.confidence if confidence is None else confidence
    case = lab_case(study, Drawing(draws, seed))
    found: list[Candidate] = []
    at_fault: list[PressAtFault] = []
    stopped: dict[str, None] = {}
    for press in presses:
        tried = press if isinstance(press, PressAtFault) else _tried(case, press, asked_confidence)
        if isinstance(tried, PressAtFault):
            at_fault.append(tried)
        else:
            found.append(tried[0])
            stopped |= dict.fromkeys(tried[1])
        advance()
    if at_fault and not found:
        raise InputError(dict.fromkeys(fault for each in at_fault for fault in each.faults))
    found.sort(key=_rank, reverse=True)
    reasons = tuple(stopped) if isinstance(case.fit, Fit) else case.fit.reasons
    reasons = tuple(dict.fromkeys((*case.doubts, *reasons)))
    ranked = tuple(_reasoned(each, found[0], found) for each in found)
    return Comparison(
        study, asked_confidence, case.drawing, case.fit, ranked, reasons, tuple(at_fault)
    )


def _tried(
    case: LabCase, press: LoadedProfile[RotaryProfile], confidence: float
) -> tuple[Candidate, tuple[str, ...]] | PressAtFault:
    """Return a candidate with the severe findings against it, or why it cannot be computed."""
    production = replace(case.study.production, press=press)
    if not isinstance(case.fit, Fit):
        return _unknown(production, "; ".join(case.fit.reasons)), ()
    other = replace(case, study=replace(case.study, production=production))
    try:
        return _candidate(other, production, confidence)
    except InputError as error:
        return PressAtFault(press.id, error.faults)


def _candidate(
    case: LabCase, production: ProductionSide, confidence: float
) -> tuple[Candidate, tuple[str, ...]]:
    """Return a candidate, and the severe findings that no setting of it mends."""
    limits = production.press.model.speed
    usual = min(max(production.speed, limits.min), limits.max)
    asked = question(case, production, usual, confidence)
    whole = examined(case, asked)
    standing = against(all_risks(whole))
    if whole.fastest is None:
        return _closest(asked, production, standing), standing.stops
    fastest = Fastest.of(asked, whole.fastest)
    candidate = Candidate(
        production,
        holds=not (standing.doubts or standing.stops),
        speed=fastest.speed,
        told=fastest.told,
        output_told=fastest.output_told,
        output=fastest.output,
        held=held(asked, fastest.pressure, whole.fastest.speed),
        stopped_by=stopped_by(asked, whole.fastest),
        changes=standing.changes,
        reason="; ".join((*[IN_DOUBT] * bool(standing.doubts), *standing.stops)),
    )
    return candidate, standing.stops


def _closest(asked: Question, production: ProductionSide, standing: Against) -> Candidate:
    """Return a press that holds at no speed, at its slowest."""
    slowest = production.press.model.speed.min
    point = speed_point(asked, slowest, standing)
    if asked.line.fit.strength is None and asked.target is not None:
        failing = f"{asked.target.label}: {NO_STRENGTH}; and "
    else:
        failing = ""
    failing += ", ".join(each.told for each in point.closest.broken(asked.confidence))
    return Candidate(
        production,
        holds=False,
        speed=exactly(slowest, "rpm"),
        told=say(slowest, "rpm"),
        output_told=say(production.output(slowest), "1/h"),
        output=exactly(production.output(slowest), "1/h"),
        held=point.closest,
        stopped_by="",
        changes=standing.changes,
        reason=f"holds at no speed; at its slowest it misses {failing}",
    )


def _unknown(production: ProductionSide, reason: str) -> Candidate:
    return Candidate(
        production,
        holds=False,
        speed=unavailable("rpm", reason),
        told="n/a",
        output_told="n/a",
        output=unavailable("1/h", reason),
        held=None,
        stopped_by="",
        changes=(),
        reason=reason,
    )


def _rank(candidate: Candidate) -> tuple[bool, float, bool, float]:
    as_it_is = not candidate.changes
    if candidate.held is None:
        return False, 0.0, as_it_is, 0.0
    output = candidate.output.value or 0.0
    if candidate.holds:
        return True, output, as_it_is, candidate.held.within
    return False, candidate.held.binding.share, as_it_is, candidate.held.within


def _reasoned(candidate: Candidate, first: Candidate, every: list[Candidate]) -> Candidate:
    """Return the candidate with why it does, or does not, come first."""
    if candidate.reason:
        return candidate
    stop = f"what stops it above {candidate.told}: {candidate.stopped_by}"
    if candidate is first:
        holding = sum(each.holds for each in every)
        told = f"largest output of the {holding} that hold" if holding > 1 else "the one that holds"
        return replace(candidate, reason=f"{told}; {stop}")
    ours, theirs = candidate.output.value or 0.0, first.output.value or 1.0
    if ours >= theirs:
        lost = f"as much output as {first.production.press.id}" + (
            ", but not without a change" if candidate.changes else ""
        )
    else:
        lost = f"{percent(1.0 - ours / theirs)} less output than {first.production.press.id}"
    return replace(candidate, reason=f"{lost}; {stop}")
