"""Whether an answer hangs on runs that are far from what the other runs suggest."""

from __future__ import annotations

from dataclasses import replace

from scaleup.answers.assumed import Outcome
from scaleup.calibration.fit import NoFit, fit_study
from scaleup.calibration.observations import Observation
from scaleup.calibration.run_fit import RunFit
from scaleup.transfer.question import LabCase, Question, question
from scaleup.transfer.reference import Reference, choose_reference
from scaleup.transfer.risks.registry import Risk

NO_EVIDENCE = "not enough evidence"


def suspects_of(case: LabCase) -> tuple[RunFit, ...]:
    """Return the runs that chance hardly explains; none where there is no fit."""
    if isinstance(case.fit, NoFit):
        return ()
    return tuple(row for row in case.fit.runs if row.suspicious)


def without_suspects(case: LabCase) -> LabCase | None:
    """Return the case fitted without its suspicious runs; None if it has none."""
    lines = {row.observation.run.line for row in suspects_of(case)}
    if not lines:
        return None
    kept = tuple(seen for seen in case.observations if seen.run.line not in lines)
    if not kept:
        return None
    fit = fit_study(case.study, kept, case.drawing)
    return replace(case, observations=kept, reference=_reference(case, kept), fit=fit)


def _reference(case: LabCase, kept: tuple[Observation, ...]) -> Reference:
    """Return the lab result to be made again; one named in the study stays it."""
    if case.study.lab.reference is None:
        return choose_reference(case.study, kept)
    lines = {seen.run.line for seen in kept}
    runs = tuple(seen for seen in case.reference.runs if seen.run.line in lines)
    return replace(case.reference, runs=runs or case.reference.runs)


def doubts_of_suspects(
    case: LabCase, without: LabCase | None, asked: Question, answer: str, outcome: Outcome
) -> tuple[Risk, ...]:
    """Return the severe finding that an answer is another without the suspicious runs, if it is.

    Parameters
    ----------
    case
        With every run.
    without
        As `without_suspects` returns it.
    asked, answer
        The question about `case`, and the answer to it.
    outcome
        How the same question is answered of another case.
    """
    if without is None or case.doubts:
        return ()
    other = NO_EVIDENCE
    if not isinstance(without.fit, NoFit):
        production = asked.line.production
        other = outcome(without, question(without, production, asked.speed, asked.confidence))
    if other == answer:
        return ()
    return (_decides(case, answer, other),)


def _decides(case: LabCase, answer: str, other: str) -> Risk:
    rows = suspects_of(case)
    file = case.study.lab.runs_file
    names = ", ".join(
        f"run {row.observation.run.name} ({file}, line {row.observation.run.line})" for row in rows
    )
    them = "it" if len(rows) == 1 else "them"
    worst = max(abs(row.largest_miss) for row in rows)
    return Risk(
        "suspect-run-decides",
        "severe",
        f'The answer hangs on {names}: with {them} it is "{answer}", without {them} "{other}".',
        f"Up to {worst:.1f} standard deviations from what the other runs suggest. The figures "
        "shown are those with every run.",
        "Check force, weight, thickness and breaking force of these rows, and their units; press "
        "the condition again. Leave a row out only for a reason found there, and say so in the "
        "study.",
        worst,
    )
