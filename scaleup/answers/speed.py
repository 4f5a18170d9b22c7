"""Is a turret speed all right? The margins there, the force that holds, and the fastest speed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from scaleup.answers.assumed import Assumed
from scaleup.calibration.fit import Drawing, Fit, NoFit
from scaleup.model.estimate import Estimate, drawn, exactly
from scaleup.model.study import ProductionSide, Study
from scaleup.sentence import Fact, Sentence, Words
from scaleup.short_repr import short_repr
from scaleup.shown import Drawn
from scaleup.transfer.case import TransferCase
from scaleup.transfer.fastest_speed import Fastest, FeasibleSpeed
from scaleup.transfer.feasible import least_pressure, lower_limits, needed_pressure
from scaleup.transfer.findings import Findings
from scaleup.transfer.margins import Margin, SetPoint, closest, set_point
from scaleup.transfer.outcomes import SpeedAnswer, speed_answer
from scaleup.transfer.risks import Risk
from scaleup.transfer.tested import tested_pressure
from scaleup.transfer.unproven import Unproven, unproven
from scaleup.transfer.verdict import CAUTION, Standing
from scaleup.wording import asked_alone

STEP_BEYOND = 1.03
"""How much faster than the fastest speed is looked at to see what stops it."""


@short_repr
@dataclass(frozen=True)
class SpeedPoint:
    """One turret speed: what the lab's pressure gives there, and the pressure that would hold."""

    speed: float
    answer: SpeedAnswer
    at_lab_pressure: SetPoint
    holding: SetPoint | None
    """The least pressure that keeps every limit; None if no pressure does."""
    closest: SetPoint
    """The pressure that comes closest to keeping every limit."""
    unproven: Unproven | None = None
    """Where no pressure keeps every limit: one that breaks only limits that are not firm."""


@short_repr
@dataclass(frozen=True)
class SpeedCheck(Drawn):
    """The answer to a proposed turret speed.

    Examples
    --------
    >>> import scaleup
    >>> analysis = scaleup.Analysis(scaleup.read_study("examples/marram"), draws=200)
    >>> found = analysis.speed(at="55 rpm")
    >>> found.answer, found.point.at_lab_pressure.binding.limit.label
    ('yes with changes', 'tensile strength')
    """

    study: Study
    production: ProductionSide
    speed: float
    output: Estimate
    confidence: float
    drawing: Drawing
    fit: Fit | NoFit
    answer: SpeedAnswer
    reasons: tuple[Words, ...]
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


def speed_check_of(
    findings: Findings,
    speeds: Sequence[float],
    assumed: tuple[Assumed, ...],
    advance: Callable[[], None] = lambda: None,
) -> SpeedCheck:
    """Return what is found about a case as the answer to its speed, with a curve over others.

    `speeds` are in rpm; `advance` is called after each of them.
    """
    case, against = findings.case, findings.standing
    point, curve = None, []
    if case.fitted is not None:
        point = speed_point(case, against)
        for each in speeds:
            curve.append(speed_point(case.at(speed=each), against))
            advance()
    fastest = case.fastest
    return SpeedCheck(
        study=case.study,
        production=case.production,
        speed=case.speed,
        output=exactly(case.production.output(case.speed), "1/h"),
        confidence=case.confidence,
        drawing=case.calibrated.drawing,
        fit=case.calibrated.fit,
        answer="not enough evidence" if point is None else point.answer,
        reasons=_told(case, point, against),
        point=point,
        fastest=findings.fastest,
        stopped_by="" if fastest is None else stopped_by(case, fastest),
        curve=tuple(curve),
        risks=findings.risks,
        assumed=assumed,
    )


def speed_point(case: TransferCase, against: Standing) -> SpeedPoint:
    """Return the margins at a case's speed, and the answer under what stands against any speed."""
    lab = set_point(case, exactly(case.reference.pressure, "MPa"), case.speed)
    pressure = case.feasible_pressure
    holding = None if pressure is None else set_point(case, _with_band(case, pressure), case.speed)
    kept = not lab.broken(case.confidence)
    nearly = None if kept or holding is not None else unproven(case, case.speed)
    return SpeedPoint(
        case.speed,
        speed_answer(against, kept=kept, holds=holding is not None, nearly=nearly is not None),
        lab,
        holding,
        holding or closest(case, case.speed),
        nearly,
    )


def _with_band(case: TransferCase, pressure: float) -> Estimate:
    """Return the pressure dialled with the band of the settings required across plausible fits."""
    lower = lower_limits(case.limits)
    needs = [needed_pressure(case.process, case.speed, limit) for limit in lower]
    return drawn(np.max(needs, axis=0), "MPa", pressure) if needs else exactly(pressure, "MPa")


def stopped_by(case: TransferCase, fastest: FeasibleSpeed) -> str:
    """Return the limit that ends the speeds above the fastest one that holds.

    Just beyond it, that is what fails first at the least pressure that keeps the lower limits of
    the tablet; where no pressure keeps those, it is the worst of what comes closest.
    """
    highest = case.production.press.profile.speed.max
    if fastest.speed >= highest * 0.999:
        return "the fastest speed of the press"
    beyond = min(fastest.speed * STEP_BEYOND, highest)
    least = least_pressure(case.process, beyond, lower_limits(case.limits), case.confidence)
    at = closest(case, beyond) if least is None else set_point(case, exactly(least, "MPa"), beyond)
    failed = at.broken(case.confidence)
    return failed[0].limit.label if failed else case.limits[0].label


def _told(case: TransferCase, point: SpeedPoint | None, against: Standing) -> tuple[Words, ...]:
    """Return why the answer is what it is, what stands against every speed first."""
    if against.lacks or point is None:
        return against.lacks
    return against.stops or (*_reasons(case, point), *against.changes)


def _reasons(case: TransferCase, point: SpeedPoint) -> tuple[Sentence, ...]:
    lab, holding = point.at_lab_pressure, point.holding
    if not lab.broken(case.confidence):
        return _lab_keeps(case, lab), _binds(lab.binding)
    first = Sentence(
        "At the lab's own {force} ({pressure}): {failing}.",
        **_dialled(lab),
        failing=lab.failing(case.confidence),
    )
    if holding is not None:
        return first, _another_keeps(case, holding), _binds(holding.binding)
    return first, _none(case, point)


def _lab_keeps(case: TransferCase, lab: SetPoint) -> Sentence:
    return Sentence(
        "At {speed} the lab's own {force} ({pressure}) keeps each limit with at least "
        "{confidence:%} confidence; {within} keep them all together{alone}.",
        speed=Fact(case.speed, "rpm"),
        **_dialled(lab),
        confidence=case.confidence,
        within=lab.told_within,
        alone=asked_alone(lab.within, case.confidence),
    )


def _another_keeps(case: TransferCase, item: SetPoint) -> Sentence:
    """Return the force that holds, and how far it is above any tested."""
    beyond = (item.pressure.value or 0.0) / tested_pressure(case.process.fit) - 1.0
    more = Sentence(" That is {beyond:%} above the highest tested pressure.", beyond=beyond)
    return Sentence(
        "At {speed} {force} ({pressure}) keeps each limit with at least {confidence:%} "
        "confidence.{more}",
        speed=Fact(case.speed, "rpm"),
        **_dialled(item),
        confidence=case.confidence,
        more=more if beyond > 0.0 else "",
    )


def _none(case: TransferCase, point: SpeedPoint) -> Sentence:
    """Return that no force holds, and what comes closest."""
    told: Words
    if point.unproven is not None:
        told = point.unproven.told
    else:
        told = Sentence(
            "The closest, {force} ({pressure}): {failing}.",
            **_dialled(point.closest),
            failing=point.closest.failing(case.confidence),
        )
    speed = Fact(case.speed, "rpm")
    return Sentence("No force keeps every limit at {speed}. {told}", speed=speed, told=told)


def _dialled(item: SetPoint) -> dict[str, Fact]:
    return {
        "force": Fact(item.force.value or 0.0, "N"),
        "pressure": Fact(item.pressure.value or 0.0, "MPa"),
    }


def _binds(margin: Margin) -> Sentence:
    room, label = margin.room.value, margin.limit.label
    if room is None:
        return Sentence("What binds is {limit}.", limit=label)
    return Sentence("What binds is {limit}, {room:%} away from its bound.", limit=label, room=room)
