"""Whether an answer hangs on runs that are far from what the other runs suggest."""

from __future__ import annotations

from scaleup.sentence import Sentence
from scaleup.transfer.case import TransferCase
from scaleup.transfer.outcomes import NO_EVIDENCE, Outcome
from scaleup.transfer.risks.registry import Risk


def suspects_decide(case: TransferCase, outcome: Outcome) -> tuple[Risk, ...]:
    """Return the severe finding that an answer is another without the suspicious runs, if it is.

    `outcome` is how the answer is had in its few words.
    """
    without = case.without_suspicious
    if without is None or case.calibrated.doubts:
        return ()
    answer = outcome(case)
    other = NO_EVIDENCE if without.no_fit is not None else outcome(without)
    return () if other == answer else (_decides(case, answer, other),)


def _decides(case: TransferCase, answer: str, other: str) -> Risk:
    rows = case.calibrated.suspicious
    file = case.study.lab.runs_file
    names = ", ".join(
        f"run {row.observation.run.name} ({file}, line {row.observation.run.line})" for row in rows
    )
    worst = max(abs(row.largest_miss) for row in rows)
    return Risk(
        "suspect-run-decides",
        "severe",
        Sentence(
            'The answer hangs on {runs}: with {them} it is "{answer}", without {them} "{other}".',
            runs=names,
            them="it" if len(rows) == 1 else "them",
            answer=answer,
            other=other,
        ),
        Sentence(
            "Up to {deviations:.1f} standard deviations from what the other runs suggest. The "
            "figures shown are those with every run.",
            deviations=worst,
        ),
        "Check force, weight, thickness and breaking force of these rows, and their units; press "
        "the condition again. Leave a row out only for a reason found there, and say so in the "
        "study.",
        worst,
        effect="lacks evidence",
        in_doubt="the answer hangs on a run far from what the others suggest",
    )
