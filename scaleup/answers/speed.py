"""Is a turret speed all right? The margins there, the force that holds, and the fastest speed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from scaleup.answers.assumed import Assumed
from scaleup.answers.findings import examined, findings_without_fit, matched
from scaleup.answers.granted import taken_for_granted
from scaleup.answers.suspects import doubts_of_suspects, without_suspects
from scaleup.calibration.arguments import check_answer
from scaleup.calibration.fit import Drawing, Fit, NoFit
from scaleup.model.estimate import Estimate, drawn, exactly
from scaleup.model.study import ProductionSide, Study
from scaleup.short_repr import short_repr
from scaleup.transfer.holding import (
    Fastest,
    Holding,
    holding_pressure,
    least_pressure,
    lower_limits,
    needed_pressure,
)
from scaleup.transfer.limits import broken
from scaleup.transfer.margins import Held, Margin, closest, held
from scaleup.transfer.question import LabCase, Question, lab_case, question
from scaleup.transfer.risks import Risk, all_risks, standing_risks
from scaleup.transfer.risks.registry import worst_first
from scaleup.transfer.settings import NO_STRENGTH
from scaleup.transfer.tested import tested_pressure
from scaleup.transfer.unproven import Unproven, unproven
from scaleup.transfer.verdict import CAUTION, Against, against, nothing_predicted
from scaleup.wording import asked_alone, percent, say, sentence

SpeedAnswer = Literal["yes", "yes with changes", "no", "not enough evidence"]
STEP_BEYOND = 1.03
"""How much faster than the fastest speed is looked at to see what stops it."""


@short_repr
@dataclass(frozen=True)
class SpeedPoint:
    """One turret speed: what the lab's pressure gives there, and the pressure that would hold."""

    speed: float
    answer: SpeedAnswer
    at_lab_pressure: Held
    holding: Held | None
    """The least pressure that keeps every limit; None if no pressure does."""
    closest: Held
    """The pressure that comes closest to keeping every limit."""
    unproven: Unproven | None = None
    """Where no pressure keeps every limit: one that breaks only limits that are not firm."""


@short_repr
@dataclass(frozen=True)
class SpeedCheck:
    """The answer to a proposed turret speed."""

    study: Study
    production: ProductionSide
    speed: float
    output: Estimate
    confidence: float
    drawing: Drawing
    fit: Fit | NoFit
    answer: SpeedAnswer
    reasons: tuple[str, ...]
    point: SpeedPoint | None
    """None where the runs allow no fit."""
    fastest: Fastest
    stopped_by: str
    """Which limit ends the speeds above the fastest; empty if none holds."""
    curve: tuple[SpeedPoint, ...]
    risks: tuple[Risk, ...]
    assumed: tuple[Assumed, ...] = ()
    """What no input states and the program supplied."""
    caution: str = CAUTION


def check_speed(
    study: Study,
    *,
    speed: float | None = None,
    speeds: Sequence[float] = (),
    confidence: float | None = None,
    draws: int = 4000,
    seed: int = 1,
    as_given: bool = False,
    advance: Callable[[], None] = lambda: None,
) -> SpeedCheck:
    """Return whether a turret speed is all right, and the curve over other speeds.

    Parameters
    ----------
    study
        As read by `scaleup.read_study`.
    speed
        Turret speed in rpm, the study's if absent.
    speeds
        More speeds in rpm, for the curve.
    confidence
        With which every limit must hold, the study's if absent.
    draws, seed
        How many parameter sets are drawn, and the seed that repeats them.
    as_given
        Whether the user confirms figures that no published material has.
    advance
        Called after each speed of the curve, for a sign of progress.

    Raises
    ------
    InputError
        If runs contradict each other, or the tooling cannot work on the press.

    Examples
    --------
    >>> from scaleup import read_study
    >>> study = read_study("examples/marram")
    >>> check_speed(study, speed=60.0, draws=300).answer
    'yes'
    """
    check_answer(study, confidence=confidence, draws=draws, seed=seed, speed=speed, speeds=speeds)
    study = study.confirmed(as_given)
    asked_speed = study.production.speed if speed is None else speed
    asked_confidence = study.target.confidence if confidence is None else confidence
    case = lab_case(study, Drawing(draws, seed))
    if isinstance(case.fit, NoFit):
        bare = _without_fit(case, case.fit, asked_speed, asked_confidence)
        told = taken_for_granted(case, None, speed_word, confidence_given=confidence is not None)
        return replace(bare, assumed=told)
    asked = question(case, study.production, asked_speed, asked_confidence)
    whole = examined(case, asked)
    doubts = doubts_of_suspects(
        case, without_suspects(case), asked, speed_word(case, asked), speed_word
    )
    risks = worst_first((*all_risks(whole), *doubts))
    standing = against(risks)
    point = speed_point(asked, asked_speed, standing)
    curve = []
    for each in speeds:
        curve.append(speed_point(asked, each, standing))
        advance()
    return SpeedCheck(
        study=study,
        production=study.production,
        speed=asked_speed,
        output=exactly(study.production.output(asked_speed), "1/h"),
        confidence=asked_confidence,
        drawing=case.drawing,
        fit=case.fit,
        answer=point.answer,
        reasons=_told(asked, point, standing),
        point=point,
        fastest=fastest_told(asked, whole.fastest, standing),
        stopped_by="" if whole.fastest is None else stopped_by(asked, whole.fastest),
        curve=tuple(curve),
        risks=risks,
        assumed=taken_for_granted(case, asked, speed_word, confidence_given=confidence is not None),
    )


def fastest_told(asked: Question, found: Holding | None, standing: Against) -> Fastest:
    """Return the fastest speed that was found, or that all is in doubt."""
    if standing.doubts:
        return Fastest.unknown(standing.in_doubt)
    return Fastest.of(asked, found)


def speed_point(asked: Question, speed: float, standing: Against) -> SpeedPoint:
    """Return the margins at one speed, and the answer under what stands against every speed."""
    lab = held(asked, exactly(asked.reference.pressure, "MPa"), speed)
    pressure = holding_pressure(asked, speed)
    holding = None if pressure is None else held(asked, _with_band(asked, pressure, speed), speed)
    kept = not lab.broken(asked.confidence)
    nearly = None if kept or holding is not None else unproven(asked, speed)
    return SpeedPoint(
        speed,
        _answer(asked, standing, kept=kept, holds=holding is not None, nearly=nearly is not None),
        lab,
        holding,
        holding or closest(asked, speed),
        nearly,
    )


def speed_word(case: LabCase, asked: Question) -> SpeedAnswer:
    """Return the answer at the asked speed alone; no pulse is solved for it."""
    standing = against(standing_risks(matched(case, asked)))
    speed = asked.speed
    own = asked.line.at(asked.reference.pressure, speed)
    kept = not broken(asked.limits, own, asked.confidence)
    holds = kept or holding_pressure(asked, speed) is not None
    nearly = not holds and unproven(asked, speed) is not None
    return _answer(asked, standing, kept=kept, holds=holds, nearly=nearly)


def _answer(
    asked: Question, standing: Against, *, kept: bool, holds: bool, nearly: bool
) -> SpeedAnswer:
    """Return the answer, given whether the lab's pressure, any, or nearly any keeps the limits."""
    if standing.doubts or asked.line.fit.strength is None:
        return "not enough evidence"
    if standing.stops:
        return "no"
    if not kept and not holds:
        return "not enough evidence" if nearly else "no"
    return "yes" if kept and not standing.changes else "yes with changes"


def _with_band(asked: Question, pressure: float, speed: float) -> Estimate:
    """Return the pressure dialled with the band of what the single draws need."""
    needs = [needed_pressure(asked.line, speed, limit) for limit in lower_limits(asked.limits)]
    return drawn(np.max(needs, axis=0), "MPa", pressure) if needs else exactly(pressure, "MPa")


def stopped_by(asked: Question, fastest: Holding) -> str:
    """Return the limit that ends the speeds above the fastest one that holds.

    Just beyond it, that is what fails first at the least pressure that keeps the lower limits of
    the tablet; where no pressure keeps those, it is the worst of what comes closest.
    """
    highest = asked.line.production.press.model.speed.max
    if fastest.speed >= highest * 0.999:
        return "the fastest speed of the press"
    beyond = min(fastest.speed * STEP_BEYOND, highest)
    least = least_pressure(asked.line, beyond, lower_limits(asked.limits), asked.confidence)
    at = closest(asked, beyond) if least is None else held(asked, exactly(least, "MPa"), beyond)
    failed = at.broken(asked.confidence)
    return failed[0].limit.label if failed else asked.limits[0].label


def _told(asked: Question, point: SpeedPoint, standing: Against) -> tuple[str, ...]:
    """Return why the answer is what it is, what stands against every speed first."""
    if standing.doubts:
        return standing.doubts
    if asked.line.fit.strength is None:
        return (f"{sentence(NO_STRENGTH)}.",)
    return standing.stops or (*_reasons(asked, point), *standing.changes)


def _reasons(asked: Question, point: SpeedPoint) -> tuple[str, ...]:
    here, confidence = say(point.speed, "rpm"), percent(asked.confidence)
    lab = point.at_lab_pressure
    if not lab.broken(asked.confidence):
        told = f"At {here} the lab's own {_dialled(lab)} keeps each limit with at least "
        told += f"{confidence} confidence; {lab.told_within} keep them all together"
        told += f"{asked_alone(lab.within, asked.confidence)}."
        return told, _binds(lab.binding)
    first = f"At the lab's own {_dialled(lab)}: {lab.failing(asked.confidence)}."
    if point.holding is not None:
        told = f"{_dialled(point.holding)} keeps each limit with at least {confidence} confidence."
        told += _beyond_tested(asked, point.holding)
        return first, f"At {here} {told}", _binds(point.holding.binding)
    told = f"No force keeps every limit at {here}."
    if point.unproven is not None:
        return first, f"{told} {point.unproven.told}"
    beyond = point.closest.failing(asked.confidence)
    return first, f"{told} The closest, {_dialled(point.closest)}: {beyond}."


def _beyond_tested(asked: Question, item: Held) -> str:
    """Return how far a pressure is above any tested, "" if it is not."""
    beyond = (item.pressure.value or 0.0) / tested_pressure(asked.line.fit) - 1.0
    return f" That is {percent(beyond)} above the highest tested pressure." if beyond > 0.0 else ""


def _dialled(item: Held) -> str:
    force = item.force.value or 0.0
    return f"{say(force, 'N')} ({say(item.pressure.value or 0.0, 'MPa')})"


def _binds(margin: Margin) -> str:
    room = margin.room.value
    left = "" if room is None else f", {percent(room)} away from its bound"
    return f"What binds is {margin.limit.label}{left}."


def _without_fit(case: LabCase, fit: NoFit, speed: float, confidence: float) -> SpeedCheck:
    study = case.study
    reason = "; ".join(fit.reasons)
    return SpeedCheck(
        study=study,
        production=study.production,
        speed=speed,
        output=exactly(study.production.output(speed), "1/h"),
        confidence=confidence,
        drawing=case.drawing,
        fit=fit,
        answer="not enough evidence",
        reasons=(*case.doubts, *nothing_predicted(fit)),
        point=None,
        fastest=Fastest.unknown(reason),
        stopped_by="",
        curve=(),
        risks=findings_without_fit(case, fit, speed, confidence).risks,
    )
