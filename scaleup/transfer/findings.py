"""What is found about one question: the equivalents, the risks, the verdict."""

from __future__ import annotations

from dataclasses import dataclass

from scaleup.evidence.fit import NoFit
from scaleup.evidence.observations import side_of
from scaleup.short_repr import short_repr
from scaleup.transfer.equivalent import Equivalent, equivalents_of, unreachable
from scaleup.transfer.holding import Fastest, fastest_speed, holding_pressure
from scaleup.transfer.line import rotary
from scaleup.transfer.matches import MATCHES
from scaleup.transfer.quantity import exactly
from scaleup.transfer.question import LabCase, Question
from scaleup.transfer.risks import Case, Risk, all_risks
from scaleup.transfer.risks.registry import Fitted
from scaleup.transfer.settings import machine_settings
from scaleup.transfer.verdict import IN_DOUBT, Verdict, against, verdict_on


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
    risks = all_risks(whole)
    fastest = Fastest.of(asked, whole.fastest)
    if against(risks).doubts:
        fastest = Fastest.unknown(IN_DOUBT)
    return Findings(whole.equivalents, risks, verdict_on(whole, risks), fastest)


def examined(case: LabCase, asked: Question) -> Case:
    """Return everything that risks and a verdict look at."""
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
        holding_pressure(asked, asked.speed),
        fastest_speed(asked),
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
    whole = Case(study, case.observations, reference, equivalents, speed, confidence, None, no_fit)
    risks = all_risks(whole)
    return Findings(equivalents, risks, verdict_on(whole, risks), Fastest.unknown(reason))
