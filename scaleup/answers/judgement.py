"""May this lab result be transferred? The verdict, what carries it, and what to press next."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from scaleup.answers.assumed import Assumed
from scaleup.answers.first_runs import FirstRuns, first_runs
from scaleup.answers.proposals import Proposals, proposals
from scaleup.calibration.fit import Drawing, Fit, NoFit
from scaleup.calibration.run_fit import RunFit
from scaleup.model.estimate import Estimate, drawn, unavailable
from scaleup.model.press import HydraulicProfile
from scaleup.model.study import Study
from scaleup.short_repr import short_repr
from scaleup.transfer.case import TransferCase
from scaleup.transfer.findings import Findings
from scaleup.transfer.risks import Risk
from scaleup.transfer.settings import NO_STRENGTH
from scaleup.transfer.verdict import CAUTION, Verdict
from scaleup.wording import percent, say

MOST_FACTS = 3
DECIDES = 0.9
"""Leverage from which a run decides its own fitted value and cannot be judged by the others."""


@short_repr
@dataclass(frozen=True)
class Judgement:
    """Whether a lab result may be transferred, and what would make that surer."""

    study: Study
    confidence: float
    drawing: Drawing
    fit: Fit | NoFit
    verdict: Verdict
    facts: tuple[str, ...]
    """The two or three that carry the verdict."""
    missing: tuple[str, ...]
    strength: Estimate
    """Production strength at the lab's pressure and the asked speed, MPa."""
    needed: Estimate
    """Main force of the match named by the proposals, N: the very one that translating tells, with
    the band of what the single draws need."""
    proposals: Proposals | None
    """None where the runs allow no fit."""
    first: FirstRuns | None
    """What has to be pressed before there can be an answer; None where there can."""
    suspicious: tuple[RunFit, ...]
    """Runs far from what the others suggest; they were kept."""
    deciding: tuple[RunFit, ...]
    """Runs that decide their own fitted solid fraction."""
    risks: tuple[Risk, ...]
    assumed: tuple[Assumed, ...] = ()
    """What no input states and the program supplied."""
    caution: str = CAUTION


def judgement_of(
    found: Findings, assumed: tuple[Assumed, ...], advance: Callable[[], None] = lambda: None
) -> Judgement:
    """Return what is found about a case as the answer that judges it; `advance` marks stages."""
    case, fit = found.case, found.case.lab.fit
    verdict = found.verdict
    advance()
    what_next = None if case.fitted is None else proposals(case)
    advance()
    return Judgement(
        study=case.study,
        confidence=case.confidence,
        drawing=case.lab.drawing,
        fit=fit,
        verdict=verdict,
        facts=() if case.fitted is None else _facts(case, found),
        missing=tuple(_missing(case)),
        strength=_strength(case),
        needed=_needed(case, what_next),
        proposals=what_next,
        first=first_runs(case.lab),
        suspicious=case.lab.suspicious,
        deciding=()
        if isinstance(fit, NoFit)
        else tuple(row for row in fit.runs if row.solid_fraction_miss.leverage > DECIDES),
        risks=found.risks,
        assumed=assumed,
    )


def _strength(case: TransferCase) -> Estimate:
    if case.no_fit is not None:
        return unavailable("MPa", case.no_fit.why)
    strength = case.at_lab_pressure.strength
    return unavailable("MPa", NO_STRENGTH) if strength is None else drawn(strength, "MPa")


def _needed(case: TransferCase, what_next: Proposals | None) -> Estimate:
    """Return the main force in N that the match of the proposals dials."""
    if what_next is None:
        return unavailable("N", case.no_fit.why if case.no_fit else "")
    found = case.equivalent(what_next.needed_by)
    if found.pressure is None:
        return unavailable("N", found.reason)
    return found.pressure.times(case.process.charge.tip_area, "N")


def _facts(case: TransferCase, found: Findings) -> tuple[str, ...]:
    """Return the rate, the reach beyond the runs, and the worst finding that is not the verdict."""
    fit = case.fit
    m = drawn(fit.powder.rate_exponent, "1")
    known = f"{m.value:.3f} ({m.low:.3f} to {m.high:.3f})"
    span = f"the runs span {fit.decades:.1f} decades of effective dwell"
    rate = f"The rate exponent is {fit.rate.evidence}: {known}; {span}."
    facts = [rate, _reach(case)]
    told = " ".join(found.verdict.reasons)
    worst = next(
        (item for item in found.risks if item.severity != "watch" and item.message not in told),
        None,
    )
    if worst is not None:
        facts.append(worst.message)
    return tuple(facts[:MOST_FACTS])


def _reach(case: TransferCase) -> str:
    dwell = case.at_lab_pressure.effective_dwell
    decades = float(np.median(case.fit.powder.decades_beyond(dwell)))
    lab = float(np.median(case.lab_pulse.pulse.effective_dwell))
    there = say(float(np.median(dwell)), "s")
    beyond = (
        "within the dwells tested"
        if decades < 0.05
        else (f"{decades:.1f} decades beyond the shortest tested")
    )
    here, speed = say(lab, "s"), say(case.speed, "rpm")
    if here == there:
        return f"Effective dwell is {here} in the lab and at {speed}, {beyond}."
    goes = "falls" if np.median(dwell) < lab else "rises"
    return f"Effective dwell {goes} from {here} in the lab to {there} at {speed}, {beyond}."


def _missing(case: TransferCase) -> Iterator[str]:
    """Yield what the study lacks that would make the answer surer, weightiest first."""
    study, fit = case.study, case.lab.fit
    lab = case.lab_runs
    if isinstance(fit, NoFit):
        yield from (f"a fit: {reason}" for reason in fit.reasons)
    elif fit.strength is None:
        yield "breaking force and thickness of three runs at two forces: strength is not judged"
    if study.target.strength is None and study.target.breaking_force is None:
        yield "a target of strength or breaking force in the study: none is held against the tablet"
    if isinstance(fit, Fit) and fit.rate.evidence != "measured":
        yield (
            f"runs a decade of effective dwell apart ({fit.decades:.1f} now): the rate exponent is "
            f"{fit.rate.evidence}"
        )
    if study.production.tooling.model.tip_force_rating is None:
        yield "the rated tip force of the production tooling: the force is not held against it"
    if len({seen.run.name for seen in lab}) == len(lab):
        yield "replicates: a misfit of the law cannot be told from scatter"
    yield from _missing_timing(case)
    yield from _missing_columns(case)


def _missing_timing(case: TransferCase) -> Iterator[str]:
    """Yield what is taken for granted of the time under pressure in the lab."""
    press = case.study.lab.press.model
    if not isinstance(press, HydraulicProfile):
        return
    timed = [seen for seen in case.lab_runs if seen.logged is None]
    unheld = sum(seen.setting.hold is None for seen in timed)
    if unheld and press.hold is not None and not press.automatic_release:
        yield f"hold of {unheld} of {len(timed)} lab runs: they count as not held"
    rateless = sum(seen.setting.loading_rate is None for seen in timed)
    if rateless and press.loading_rate is not None:
        rate = say(press.loading_rate, "N/s")
        yield (
            f"loading rate of {rateless} of {len(timed)} lab runs: that of the press profile is "
            f"taken, {rate}"
        )


def _missing_columns(case: TransferCase) -> Iterator[str]:
    columns = (
        ("ejection_force", "ejection force in the lab: ejection in production is not predicted"),
        ("fill_depth", "fill depth in the lab: the fill depth to set is not predicted"),
        ("in_die_thickness", "in-die thickness: the elastic part is from a usual range"),
    )
    for name, text in columns:
        if all(getattr(seen.run, name) is None for seen in case.observations):
            yield text


def narrowing(before: Estimate, share: float | None) -> str:
    """Return by how much a band would narrow, in words.

    >>> narrowing(Estimate(2.0, "MPa", 1.8, 2.2), 0.25)
    '25 % narrower'
    """
    if share is None or before.value is None:
        return "not predicted"
    return "no narrower" if share < 0.005 else f"{percent(share)} narrower"
