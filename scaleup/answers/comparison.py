"""Which production press? Every candidate at its fastest speed that holds, best first."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from scaleup.answers.assumed import Assumed, merged
from scaleup.answers.findings import examined, matched
from scaleup.answers.granted import taken_for_granted
from scaleup.answers.speed import SpeedAnswer, speed_point, stopped_by
from scaleup.answers.suspects import doubts_of_suspects, without_suspects
from scaleup.calibration.arguments import check_answer, shown
from scaleup.calibration.fit import Drawing, Fit, NoFit
from scaleup.errors import Fault, InputError
from scaleup.io.library import (
    PressAtFault,
    press_or_fault,
    presses_taking,
    require_fit,
    rotary_profile,
)
from scaleup.model.estimate import Estimate, exactly, unavailable
from scaleup.model.press import RotaryProfile
from scaleup.model.profile import NamedProfile
from scaleup.model.study import ProductionSide, Study
from scaleup.short_repr import short_repr
from scaleup.transfer.holding import Fastest, some_speed
from scaleup.transfer.margins import Held, held
from scaleup.transfer.question import LabCase, Question, lab_case, question
from scaleup.transfer.risks import Case, standing_risks
from scaleup.transfer.settings import NO_STRENGTH
from scaleup.transfer.unproven import unproven
from scaleup.transfer.verdict import CAUTION, Against, against, nothing_predicted
from scaleup.wording import percent, say, sentence


@short_repr
@dataclass(frozen=True)
class Candidate:
    """One production press at the fastest speed that keeps every limit."""

    production: ProductionSide
    holds: bool
    speed: Estimate
    """rpm: the fastest that holds, else the slowest of the press, which comes closest."""
    output: Estimate
    """Tablets per hour at that speed."""
    answer: SpeedAnswer
    """Whether some speed holds: `yes`, `yes with changes`, `no` or `not enough evidence`."""
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
    assumed: tuple[Assumed, ...] = ()
    """What no input states and the program supplied."""
    caution: str = CAUTION


def compare(
    study: Study,
    presses: Sequence[str | NamedProfile[RotaryProfile] | PressAtFault] = (),
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
        The candidates: rotary presses that take the tooling, by id or as profiles; every known one
        that does if there are none. Those at fault are told with their reason beside the others.
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
        If an argument is out of range, a press is not known or does not take the tooling, runs
        contradict each other, or every press is at fault.

    Examples
    --------
    >>> from scaleup import read_study
    >>> study = read_study("examples/marram")
    >>> found = compare(study, ["rotary-mid-19"], draws=300)
    >>> found.candidates[0].holds, found.candidates[0].output.value
    (True, 85500.0)
    """
    check_answer(study, confidence=confidence, draws=draws, seed=seed)
    study = study.confirmed(as_given)
    candidates = candidate_presses(study, presses)
    asked_confidence = study.target.confidence if confidence is None else confidence
    case = lab_case(study, Drawing(draws, seed))
    asked = _Asked(case, without_suspects(case), asked_confidence, confidence is not None)
    found: list[Candidate] = []
    taken: list[tuple[Assumed, ...]] = []
    at_fault: list[PressAtFault] = []
    stopped: dict[str, None] = {}
    for press in candidates:
        tried = press if isinstance(press, PressAtFault) else _tried(asked, press)
        if isinstance(tried, PressAtFault):
            at_fault.append(tried)
        else:
            found.append(tried.candidate)
            taken.append(tried.taken)
            stopped |= dict.fromkeys(tried.stops)
        advance()
    if at_fault and not found:
        raise InputError(dict.fromkeys(fault for each in at_fault for fault in each.faults))
    found.sort(key=_rank, reverse=True)
    reasons = tuple(stopped) if isinstance(case.fit, Fit) else nothing_predicted(case.fit)
    reasons = tuple(dict.fromkeys((*case.doubts, *reasons)))
    ranked = tuple(_reasoned(each, found[0], found) for each in found)
    return Comparison(
        study, asked_confidence, case.drawing, case.fit, ranked, reasons, tuple(at_fault),
        merged(taken),
    )  # fmt: skip


Press = NamedProfile[RotaryProfile] | PressAtFault


def candidate_presses(
    study: Study, presses: Sequence[str | NamedProfile[RotaryProfile] | PressAtFault] = ()
) -> tuple[Press, ...]:
    """Return presses named by id or given as profiles, each once; all that fit if there are none.

    Raises
    ------
    InputError
        If one is not known, is no rotary press, or does not take the study's tooling.
    """
    if isinstance(presses, str) or not isinstance(presses, Sequence):
        raise InputError(Fault("", "presses", shown(presses), "a list of ids or of profiles"))
    if not presses:
        return _every_press(study)
    chosen: dict[str, Press] = {}
    faults: list[Fault] = []
    for each in presses:
        try:
            press = _one_press(study, each)
            chosen.setdefault(press.id, press)
        except InputError as error:
            faults += error.faults
    if faults:
        raise InputError(dict.fromkeys(faults))
    return tuple(chosen.values())


def _one_press(study: Study, press: str | Press) -> Press:
    where = "presses"
    if isinstance(press, PressAtFault):
        return press
    if isinstance(press, NamedProfile):
        return rotary_profile(press, where=where)
    if not isinstance(press, str):
        raise InputError(Fault("", where, shown(press), "the id of a press, or its profile"))
    found = press_or_fault(press, study.folder, where=where)
    if not isinstance(found, PressAtFault):
        require_fit(found, study.production.tooling, study.folder, where)
    return found


def _every_press(study: Study) -> tuple[Press, ...]:
    tooling = study.production.tooling
    found = tuple(presses_taking(tooling.model.standard, study.folder))
    if not found:
        allowed = "tooling that a known rotary press takes"
        told = f"{tooling.id}, of standard {tooling.model.standard}"
        raise InputError(Fault("", "tooling", told, allowed))
    return found


@dataclass(frozen=True)
class _Asked:
    """What every press is asked with."""

    case: LabCase
    without: LabCase | None
    """Without the suspicious runs; None if there are none."""
    confidence: float
    confidence_given: bool

    def granted(self, case: LabCase, asked: Question | None) -> tuple[Assumed, ...]:
        """Return what the answer about one press takes for granted."""
        return taken_for_granted(case, asked, press_word, confidence_given=self.confidence_given)


@dataclass(frozen=True)
class _Tried:
    """One press with the severe findings against it, and what its answer takes for granted."""

    candidate: Candidate
    stops: tuple[str, ...]
    taken: tuple[Assumed, ...]


def _tried(asked: _Asked, press: NamedProfile[RotaryProfile]) -> _Tried | PressAtFault:
    """Return what one press makes of the question, or why it cannot be computed."""
    case = _on(asked.case, press)
    production = case.study.production
    if not isinstance(case.fit, Fit):
        unknown = _unknown(production, "; ".join(case.fit.reasons))
        return _Tried(unknown, (), asked.granted(case, None))
    without = None if asked.without is None else _on(asked.without, press)
    try:
        there = _asked(case, asked.confidence)
        candidate, stops = _candidate(case, without, there)
        return _Tried(candidate, stops, asked.granted(case, there))
    except InputError as error:
        return PressAtFault(press.id, error.faults)


def _on(case: LabCase, press: NamedProfile[RotaryProfile]) -> LabCase:
    production = replace(case.study.production, press=press)
    return replace(case, study=replace(case.study, production=production))


def _asked(case: LabCase, confidence: float) -> Question:
    """Return the question at the study's speed, or the nearest the press runs at."""
    production = case.study.production
    limits = production.press.model.speed
    usual = min(max(production.speed, limits.min), limits.max)
    return question(case, production, usual, confidence)


def _candidate(
    case: LabCase, without: LabCase | None, asked: Question
) -> tuple[Candidate, tuple[str, ...]]:
    """Return a candidate, and the severe findings that no setting of it mends."""
    production = case.study.production
    whole = examined(case, asked)
    word = press_word(case, asked)
    doubts = doubts_of_suspects(case, without, asked, word, press_word)
    standing = against((*standing_risks(whole), *doubts))
    answer: SpeedAnswer = "not enough evidence" if doubts else word
    if whole.fastest is None:
        return _closest(asked, production, standing, whole, answer), standing.stops
    fastest = Fastest.of(asked, whole.fastest)
    candidate = Candidate(
        production,
        holds=answer in HOLDING,
        speed=fastest.speed,
        told=fastest.told,
        output_told=fastest.output_told,
        output=fastest.output,
        answer=answer,
        held=held(asked, fastest.pressure, whole.fastest.speed),
        stopped_by=stopped_by(asked, whole.fastest),
        changes=standing.changes,
        reason=" ".join(standing.doubts or _no_strength(asked) or standing.stops),
    )
    return candidate, standing.stops


HOLDING = ("yes", "yes with changes")


def press_word(case: LabCase, asked: Question) -> SpeedAnswer:
    """Return whether some speed of the press holds; no pulse is solved for it."""
    standing = against(standing_risks(matched(case, asked)))
    if standing.doubts or asked.line.fit.strength is None:
        return "not enough evidence"
    if standing.stops:
        return "no"
    if some_speed(asked) is None:
        nearly = unproven(asked, asked.speed, elsewhere=True)
        return "no" if nearly is None else "not enough evidence"
    return "yes with changes" if standing.changes else "yes"


def _no_strength(asked: Question) -> tuple[str, ...]:
    return (f"{sentence(NO_STRENGTH)}.",) if asked.line.fit.strength is None else ()


def _closest(
    asked: Question, production: ProductionSide, standing: Against, whole: Case, answer: SpeedAnswer
) -> Candidate:
    """Return a press that holds at no speed, at its slowest."""
    slowest = production.press.model.speed.min
    point = speed_point(asked, slowest, standing)
    failing = point.closest.failing(asked.confidence)
    told = f"Holds at no speed; at its slowest it misses: {failing}."
    if whole.unproven is not None:
        told = f"No speed keeps every limit. {whole.unproven.told}"
    why = standing.doubts or _no_strength(asked) or standing.stops
    return Candidate(
        production,
        holds=False,
        speed=exactly(slowest, "rpm"),
        told=say(slowest, "rpm"),
        output_told=say(production.output(slowest), "1/h"),
        output=exactly(production.output(slowest), "1/h"),
        answer=answer,
        held=point.closest,
        stopped_by="",
        changes=standing.changes,
        reason=" ".join((*why, told)),
    )


def _unknown(production: ProductionSide, reason: str) -> Candidate:
    return Candidate(
        production,
        holds=False,
        speed=unavailable("rpm", reason),
        told="n/a",
        output_told="n/a",
        output=unavailable("1/h", reason),
        answer="not enough evidence",
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
