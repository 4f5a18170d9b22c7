"""May this lab result be transferred? The verdict, what carries it, and what to press next."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from scaleup.answers.assumed import Assumed
from scaleup.answers.budget import BudgetAnswer, budget_of
from scaleup.answers.first_runs import FirstRuns, first_runs
from scaleup.answers.proposals import Proposals, proposals
from scaleup.calibration.fit import Drawing, Fit, NoFit
from scaleup.calibration.run_fit import RunFit
from scaleup.model.estimate import Estimate, drawn, unavailable
from scaleup.model.press import HydraulicProfile
from scaleup.model.study import Study
from scaleup.sentence import Fact, Sentence, Words
from scaleup.short_repr import short_repr
from scaleup.shown import Drawn
from scaleup.transfer.about import About
from scaleup.transfer.case import TransferCase
from scaleup.transfer.findings import Findings
from scaleup.transfer.risks import Risk
from scaleup.transfer.settings import NO_STRENGTH
from scaleup.transfer.verdict import CAUTION, Verdict
from scaleup.wording import percent

MOST_FACTS = 3
DECIDES = 0.9
"""Leverage from which a run decides its own fitted value and cannot be judged by the others."""


@dataclass(frozen=True)
class Missing:
    """An input that is lacking; with it the answer would be surer."""

    told: Words
    about: About = ""

    def __str__(self) -> str:
        return str(self.told)

    @property
    def abouts(self) -> frozenset[About]:
        """Return which input is lacking; none for what nothing else tells."""
        return frozenset([self.about] if self.about else [])


@short_repr
@dataclass(frozen=True)
class Judgement(Drawn):
    """Whether a lab result may be transferred, and what would make that surer.

    Examples
    --------
    >>> import scaleup
    >>> analysis = scaleup.Analysis(scaleup.read_study("examples/marram"), draws=200)
    >>> found = analysis.judge()
    >>> found.verdict.answer, found.to_frame()["tablets"].to_list()[:2]
    ('transferable with changes', [3, 3])
    """

    study: Study
    confidence: float
    drawing: Drawing
    fit: Fit | NoFit
    verdict: Verdict
    facts: tuple[Words, ...]
    """The two or three that carry the verdict."""
    missing: tuple[Missing, ...]
    strength: Estimate
    """Production strength at the lab's pressure and the asked speed, MPa."""
    needed: Estimate
    """Main force of the match named by the proposals, N: the very one that translating tells, with
    the band of the settings required across plausible fits."""
    proposals: Proposals | None
    """None where the runs allow no fit."""
    first: FirstRuns | None
    """What has to be pressed before there can be an answer; None where there can."""
    suspicious: tuple[RunFit, ...]
    """Runs far from what the others suggest; they were kept."""
    deciding: tuple[RunFit, ...]
    """Runs that decide their own fitted solid fraction."""
    budget: BudgetAnswer
    """What the bands are made of, and everything that could be measured next."""
    risks: tuple[Risk, ...]
    assumed: tuple[Assumed, ...] = ()
    """What no input states and the program supplied."""
    logged_pulse: Words = ""
    """Whether logs of the production press agree with its geometry; empty where there are none."""
    caution: str = CAUTION


def judgement_of(
    findings: Findings, assumed: tuple[Assumed, ...], advance: Callable[[], None] = lambda: None
) -> Judgement:
    """Return what is found about a case as the answer that judges it; `advance` marks stages."""
    case, fit = findings.case, findings.case.calibrated.fit
    verdict = findings.verdict
    advance()
    what_next = None if case.fitted is None else proposals(case)
    advance()
    return Judgement(
        study=case.study,
        confidence=case.confidence,
        drawing=case.calibrated.drawing,
        fit=fit,
        verdict=verdict,
        facts=() if case.fitted is None else _facts(case, findings),
        missing=tuple(_missing(case)),
        strength=_strength(case),
        needed=_needed(case, what_next),
        proposals=what_next,
        first=first_runs(case.calibrated),
        suspicious=case.calibrated.suspicious,
        deciding=()
        if isinstance(fit, NoFit)
        else tuple(row for row in fit.runs if row.solid_fraction_miss.leverage > DECIDES),
        budget=budget_of(case, what_next),
        risks=findings.risks,
        assumed=assumed,
        logged_pulse=case.logged_pulse,
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
    equivalent = case.equivalent(what_next.needed_by)
    if equivalent.pressure is None:
        return unavailable("N", equivalent.reason)
    return equivalent.pressure.times(case.process.charge.tip_area, "N")


def _facts(case: TransferCase, findings: Findings) -> tuple[Words, ...]:
    """Return the rate, the reach beyond the runs, and the worst finding that is not the verdict."""
    fit = case.fit
    m = drawn(fit.powder.rate_exponent, "1")
    rate = Sentence(
        "The rate exponent is {rate_evidence}: {rate_exponent:.3f} ({low:.3f} to {high:.3f}); the "
        "runs span {decades:.1f} decades of effective dwell.",
        rate_evidence=fit.rate.evidence,
        rate_exponent=m.value or 0.0,
        low=m.low or 0.0,
        high=m.high or 0.0,
        decades=fit.decades,
    )
    facts: list[Words] = [rate, _reach(case)]
    told = " ".join(map(str, findings.verdict.reasons))
    worst = next(
        (
            item
            for item in findings.risks
            if item.severity != "watch" and str(item.message) not in told
        ),
        None,
    )
    if worst is not None:
        facts.append(worst.message)
    return tuple(facts[:MOST_FACTS])


def _reach(case: TransferCase) -> Sentence:
    dwell = case.at_lab_pressure.effective_dwell
    decades = float(np.median(case.fit.powder.decades_beyond(dwell)))
    lab = float(np.median(case.lab_pulse.pulse.effective_dwell))
    here, there = Fact(lab, "s"), Fact(float(np.median(dwell)), "s")
    beyond: Words = "within the dwells tested"
    if decades >= 0.05:
        beyond = Sentence("{decades:.1f} decades beyond the shortest tested", decades=decades)
    same = "Effective dwell is {lab} in the lab and at {speed}, {beyond}."
    moves = "Effective dwell {goes} from {lab} in the lab to {production} at {speed}, {beyond}."
    return Sentence(
        same if str(here) == str(there) else moves,
        goes="falls" if there.value < lab else "rises",
        lab=here,
        production=there,
        speed=Fact(case.speed, "rpm"),
        beyond=beyond,
    )


def _missing(case: TransferCase) -> Iterator[Missing]:
    """Yield what the study lacks that would make the answer surer, weightiest first."""
    study, fit = case.study, case.calibrated.fit
    lab = case.lab_runs
    if isinstance(fit, NoFit):
        yield from (Missing(f"a fit: {reason}") for reason in fit.reasons)
    elif fit.strength is None:
        told = "breaking force and thickness of three runs at two forces: strength is not judged"
        yield Missing(told, "strength measured")
    if study.target.strength is None and study.target.breaking_force is None:
        yield Missing(
            "a target of strength or breaking force in the study: none is held against the tablet",
            "strength target",
        )
    if isinstance(fit, Fit) and fit.rate.evidence != "measured":
        more = Sentence(
            "runs a decade of effective dwell apart ({decades:.1f} now): the rate exponent is "
            "{rate_evidence}",
            decades=fit.decades,
            rate_evidence=fit.rate.evidence,
        )
        yield Missing(more, "rate exponent")
    if study.production.tooling.profile.tip_force_rating is None:
        yield Missing(
            "the rated tip force of the production tooling: the force is not held against it",
            "tip rating",
        )
    if len({seen.run.name for seen in lab}) == len(lab):
        yield Missing("replicates: a misfit of the law cannot be told from scatter")
    yield from _missing_timing(case)
    yield from _missing_columns(case)


def _missing_timing(case: TransferCase) -> Iterator[Missing]:
    """Yield what is taken for granted of the time under pressure in the lab."""
    press = case.study.lab.press.profile
    if not isinstance(press, HydraulicProfile):
        return
    timed = [seen for seen in case.lab_runs if seen.logged is None]
    unheld = sum(seen.setting.hold is None for seen in timed)
    if unheld and press.hold is not None and not press.automatic_release:
        bare = "hold of {unheld} of {runs} lab runs: they count as not held"
        yield Missing(Sentence(bare, unheld=unheld, runs=len(timed)), "hold")
    rateless = sum(seen.setting.loading_rate is None for seen in timed)
    if rateless and press.loading_rate is not None:
        told = Sentence(
            "loading rate of {rateless} of {runs} lab runs: that of the press profile is taken, "
            "{loading_rate}",
            rateless=rateless,
            runs=len(timed),
            loading_rate=Fact(press.loading_rate, "N/s"),
        )
        yield Missing(told, "loading rate")


COLUMNS: tuple[tuple[str, Missing], ...] = (
    (
        "ejection_force",
        Missing(
            "ejection force in the lab: ejection in production is not predicted",
            "ejection measured",
        ),
    ),
    (
        "fill_depth",
        Missing("fill depth in the lab: the fill depth to set is not predicted", "fill depth"),
    ),
    (
        "in_die_thickness",
        Missing("in-die thickness: the elastic part is from a usual range", "elastic part"),
    ),
)
"""Columns of the run table, each with what lacks without it."""


def _missing_columns(case: TransferCase) -> Iterator[Missing]:
    for name, missing in COLUMNS:
        if all(getattr(seen.run, name) is None for seen in case.observations):
            yield missing


def narrowing(before: Estimate, share: float | None) -> str:
    """Return by how much a band would narrow, in words.

    >>> narrowing(Estimate(2.0, "MPa", 1.8, 2.2), 0.25)
    '25 % narrower'
    """
    if share is None or before.value is None:
        return "not predicted"
    return "no narrower" if share < 0.005 else f"{percent(share)} narrower"
