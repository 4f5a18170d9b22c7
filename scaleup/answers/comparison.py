"""Which production press? Every candidate at its fastest speed that holds, best first."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from scaleup.answers.assumed import Assumed, merged
from scaleup.answers.speed import speed_point, stopped_by
from scaleup.calibration.arguments import shown
from scaleup.calibration.calibrated_study import CalibratedStudy
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
from scaleup.sentence import Fact, Sentence, Words, joined
from scaleup.short_repr import short_repr
from scaleup.shown import Drawn
from scaleup.transfer.case import TransferCase
from scaleup.transfer.fastest_speed import Fastest
from scaleup.transfer.findings import Findings
from scaleup.transfer.margins import SetPoint, set_point
from scaleup.transfer.outcomes import NO_EVIDENCE, SpeedAnswer, press_word
from scaleup.transfer.verdict import CAUTION, Standing

Press = NamedProfile[RotaryProfile] | PressAtFault


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
    told: Fact | Words
    """The speed with as many digits as its band allows."""
    output_told: Fact | str
    """The output with as many digits as the speed."""
    set_point: SetPoint | None
    """The least pressure that holds there, or the closest; None if nothing can be computed."""
    stopped_by: str
    """What ends the speeds above."""
    changes: tuple[Words, ...]
    """What has to be changed on the press, or in what is asked of it, before any speed is run."""
    reason: Words
    """Why it does not come first; for the first, why it does."""


@short_repr
@dataclass(frozen=True)
class Comparison(Drawn):
    """The candidates, best first.

    Examples
    --------
    >>> import scaleup
    >>> analysis = scaleup.Analysis(scaleup.read_study("examples/marram"), draws=200)
    >>> found = analysis.compare(["rotary-mid-19", "rotary-single-31"])
    >>> [each.production.press.id for each in found.candidates]
    ['rotary-single-31', 'rotary-mid-19']
    >>> found.to_frame()["output [1/h]"].to_list()
    [158100.0, 85500.0]
    """

    study: Study
    confidence: float
    drawing: Drawing
    fit: Fit | NoFit
    candidates: tuple[Candidate, ...]
    reasons: tuple[Words, ...]
    """Why nothing can be compared, or what stands against every candidate."""
    at_fault: tuple[PressAtFault, ...] = ()
    """Presses whose profile, or whose profile with this tooling, is at fault."""
    assumed: tuple[Assumed, ...] = ()
    """What no input states and the program supplied."""
    caution: str = CAUTION


def comparison_of(
    asked: Callable[[NamedProfile[RotaryProfile]], Findings],
    taken_of: Callable[[Findings], tuple[Assumed, ...]],
    lab: CalibratedStudy,
    confidence: float,
    presses: Sequence[Press],
    advance: Callable[[], None] = lambda: None,
) -> Comparison:
    """Return presses ranked by the output at which they keep every limit.

    Presses that hold come before those that do not. Among those that hold, the one with the larger
    output at its fastest holding speed is better, and of equals the one that needs no change; among
    the others, the one whose draws come closer to keeping every limit at its slowest speed.

    Parameters
    ----------
    asked
        What is found about a press at the study's speed, or the nearest it runs at.
    taken_of
        What the answer about that takes for granted.
    lab, confidence
        What is asked of every press.
    presses
        As `candidate_presses` returns them; those at fault are told with their reason.
    advance
        Called after each press.

    Raises
    ------
    InputError
        If every press is at fault.
    """
    tried: list[Candidate] = []
    taken: list[tuple[Assumed, ...]] = []
    at_fault: list[PressAtFault] = []
    told: dict[Words, None] = dict.fromkeys(lab.doubts)
    for press in presses:
        if isinstance(press, PressAtFault):
            at_fault.append(press)
        else:
            try:
                findings = asked(press)
                candidate, granted = _candidate(findings), taken_of(findings)
            except InputError as error:
                at_fault.append(PressAtFault(press.id, error.faults))
            else:
                tried.append(candidate)
                taken.append(granted)
                told |= dict.fromkeys(findings.standing.lacks if findings.case.no_fit else ())
                told |= dict.fromkeys(findings.standing.stops)
        advance()
    if at_fault and not tried:
        raise InputError(dict.fromkeys(fault for each in at_fault for fault in each.faults))
    tried.sort(key=_rank, reverse=True)
    ranked = tuple(_reasoned(each, tried[0], tried) for each in tried)
    return Comparison(
        lab.study, confidence, lab.drawing, lab.fit, ranked, tuple(told), tuple(at_fault),
        merged(taken),
    )  # fmt: skip


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
    profile = press_or_fault(press, study.folder, where=where)
    if not isinstance(profile, PressAtFault):
        require_fit(profile, study.production.tooling, study.folder, where)
    return profile


def _every_press(study: Study) -> tuple[Press, ...]:
    tooling = study.production.tooling
    presses = tuple(presses_taking(tooling.profile.standard, study.folder))
    if not presses:
        allowed = "tooling that a known rotary press takes"
        told = f"{tooling.id}, of standard {tooling.profile.standard}"
        raise InputError(Fault("", "tooling", told, allowed))
    return presses


def _candidate(findings: Findings) -> Candidate:
    """Return a press at the fastest speed that keeps every limit, or at its slowest."""
    case, against = findings.case, findings.standing
    if case.no_fit is not None:
        return _unknown(case.production, case.no_fit.why)
    answer: SpeedAnswer = NO_EVIDENCE if against.lacks else press_word(case)
    if case.fastest_with_band is None:
        return _closest(case, against, answer)
    fastest = Fastest.of(case, case.fastest_with_band)
    return Candidate(
        case.production,
        holds=answer in HOLDING,
        speed=fastest.speed,
        told=fastest.told,
        output_told=fastest.output_told,
        output=fastest.output,
        answer=answer,
        set_point=set_point(case, fastest.pressure, case.fastest_with_band.speed),
        stopped_by=stopped_by(case, case.fastest_with_band),
        changes=against.changes,
        reason=joined(" ", against.lacks or against.stops),
    )


HOLDING = ("yes", "yes with changes")


def _closest(case: TransferCase, against: Standing, answer: SpeedAnswer) -> Candidate:
    """Return a press that holds at no speed, at its slowest."""
    production = case.production
    slowest = production.press.profile.speed.min
    point = speed_point(case.at(speed=slowest), against)
    told = Sentence(
        "Holds at no speed; at its slowest it misses: {failing}.",
        failing=point.closest.failing(case.confidence),
    )
    if case.unproven is not None:
        told = Sentence("No speed keeps every limit. {but}", but=case.unproven.told)
    why = against.lacks or against.stops
    return Candidate(
        production,
        holds=False,
        speed=exactly(slowest, "rpm"),
        told=Fact(slowest, "rpm"),
        output_told=Fact(production.output(slowest), "1/h"),
        output=exactly(production.output(slowest), "1/h"),
        answer=answer,
        set_point=point.closest,
        stopped_by="",
        changes=against.changes,
        reason=joined(" ", (*why, told)),
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
        set_point=None,
        stopped_by="",
        changes=(),
        reason=reason,
    )


def _rank(candidate: Candidate) -> tuple[bool, float, bool, float]:
    as_it_is = not candidate.changes
    if candidate.set_point is None:
        return False, 0.0, as_it_is, 0.0
    output = candidate.output.value or 0.0
    if candidate.holds:
        return True, output, as_it_is, candidate.set_point.within
    return False, candidate.set_point.binding.share, as_it_is, candidate.set_point.within


def _reasoned(candidate: Candidate, first: Candidate, every: list[Candidate]) -> Candidate:
    """Return the candidate with why it does, or does not, come first."""
    if candidate.reason:
        return candidate
    holding = sum(each.holds for each in every)
    rank: Words = "the one that holds"
    if candidate is not first:
        rank = _lost(candidate, first)
    elif holding > 1:
        rank = Sentence("largest output of the {holding} that hold", holding=holding)
    reason = Sentence(
        "{rank}; what stops it above {speed}: {limit}",
        rank=rank,
        speed=candidate.told,
        limit=candidate.stopped_by,
    )
    return replace(candidate, reason=reason)


def _lost(candidate: Candidate, first: Candidate) -> Sentence:
    """Return by how much a press that holds is not the first."""
    ours, theirs = candidate.output.value or 0.0, first.output.value or 1.0
    press = first.production.press.id
    if ours < theirs:
        less = 1.0 - ours / theirs
        return Sentence("{less:%} less output than {best_press}", less=less, best_press=press)
    but = ", but not without a change" if candidate.changes else ""
    return Sentence("as much output as {best_press}{but}", best_press=press, but=but)
