"""What is found about one question: the equivalents, the risks, the verdict."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from scaleup.answers.suspects import doubts_of_suspects, without_suspects
from scaleup.calibration.fit import NoFit
from scaleup.calibration.observations import side_of
from scaleup.model.estimate import exactly
from scaleup.short_repr import short_repr
from scaleup.transfer.equivalent import Equivalent, equivalents_of, unreachable
from scaleup.transfer.holding import (
    Fastest,
    Holding,
    fastest_speed,
    holding_pressure,
    some_speed,
)
from scaleup.transfer.line import rotary
from scaleup.transfer.matches import MATCHES
from scaleup.transfer.question import LabCase, Question
from scaleup.transfer.risks import Case, Risk, all_risks, standing_risks
from scaleup.transfer.risks.registry import Fitted, worst_first
from scaleup.transfer.settings import machine_settings
from scaleup.transfer.unproven import unproven
from scaleup.transfer.verdict import Verdict, against, settled, verdict_on


@short_repr
@dataclass(frozen=True)
class Findings:
    """Everything that is judged about one question."""

    equivalents: tuple[Equivalent, ...]
    risks: tuple[Risk, ...]
    verdict: Verdict
    fastest: Fastest


def findings(case: LabCase, asked: Question) -> Findings:
    """Return equivalents, risks and verdict of a question."""
    whole = examined(case, asked)
    answer = verdict_on(whole, standing_risks(whole)).answer
    doubts = doubts_of_suspects(case, without_suspects(case), asked, answer, verdict_word)
    risks = worst_first((*all_risks(whole), *doubts))
    standing = against(risks)
    fastest = Fastest.of(asked, whole.fastest)
    if standing.doubts:
        fastest = Fastest.unknown(standing.in_doubt)
    return Findings(whole.equivalents, risks, verdict_on(whole, risks), fastest)


def verdict_word(case: LabCase, asked: Question) -> str:
    """Return the answer of the verdict alone; no pulse is solved for it."""
    whole = matched(case, asked)
    risks = standing_risks(whole)
    if not settled(whole, risks):
        whole = _searched(whole, asked, some_speed)
    return verdict_on(whole, risks).answer


def examined(case: LabCase, asked: Question) -> Case:
    """Return everything that risks and a verdict look at."""
    return _searched(matched(case, asked), asked, fastest_speed)


def _searched(
    whole: Case, asked: Question, fastest_of: Callable[[Question], Holding | None]
) -> Case:
    """Return the case with what a search over pressures and speeds finds."""
    holding, fastest = holding_pressure(asked, asked.speed), fastest_of(asked)
    nowhere = holding is None and fastest is None
    return replace(
        whole,
        holding_pressure=holding,
        fastest=fastest,
        unproven=unproven(asked, asked.speed, elsewhere=True) if nowhere else None,
    )


def matched(case: LabCase, asked: Question) -> Case:
    """Return the matches of a question; what stands against every setting takes no more."""
    line = asked.line
    return Case(
        case.study,
        case.observations,
        case.reference,
        equivalents_of(asked, case.weight),
        asked.speed,
        asked.confidence,
        Fitted(line.fit, line, asked.lab, asked.limits),
        None,
        case.unit_doubts,
    )


def findings_without_fit(case: LabCase, no_fit: NoFit, speed: float, confidence: float) -> Findings:
    """Return what geometry alone can say where the runs allow no fit."""
    study, reference = case.study, case.reference
    reason = "; ".join(no_fit.reasons)
    production = side_of(study.production)
    known = machine_settings(study.production, rotary(production), exactly(speed, "rpm"))
    pressure = {
        "main_pressure": exactly(reference.pressure, "MPa"),
        "main_force": exactly(reference.pressure * production.tip.area, "N"),
    }
    equivalents = tuple(
        unreachable(name, reason, case.weight, **(known | pressure if name == "pressure" else {}))
        for name in MATCHES
    )
    whole = Case(
        study,
        case.observations,
        reference,
        equivalents,
        speed,
        confidence,
        None,
        no_fit,
        case.unit_doubts,
    )
    risks = all_risks(whole)
    return Findings(equivalents, risks, verdict_on(whole, risks), Fastest.unknown(reason))
