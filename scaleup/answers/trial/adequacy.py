"""By which rules the verdict after a trial is withheld, or bounded."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from scaleup.answers.trial.acceptance import AT_SPEED, Accepted
from scaleup.answers.trial.causes import AS_PREDICTED, NAMED, Cause
from scaleup.answers.trial.centre_runs import CentreRuns
from scaleup.answers.trial.results import RunResult
from scaleup.model.defects import BOUNDING
from scaleup.model.estimate import Estimate
from scaleup.sentence import Fact, Sentence, Words
from scaleup.short_repr import short_repr
from scaleup.transfer.verdict import Answer, Verdict

FAR_OUT = 4.0
"""Standard deviations of the predicted mean from which a residual is far out (a judgement of this
program)."""
WORST = 3
"""How many of them are told."""
CLEAR = 0.8
"""Probability from which a cause is taken as found (a judgement of this program)."""
SLOWER_IS_LOOSER = (
    "Slower runs made looser tablets, which no powder does: look whether runs or speeds were "
    "exchanged, or weight or gauge changed with speed."
)
PROCESS = ("rate", "strength-factor")
"""Causes that are of the process and not of its readings: what was learned of them holds."""


@short_repr
@dataclass(frozen=True)
class Adequacy:
    """Why the trial carries no verdict, and what bounds the verdict that it carries."""

    withheld: tuple[Words, ...]
    bounded: tuple[Words, ...]


def adequacy(
    results: tuple[RunResult, ...],
    rule: tuple[Accepted, ...],
    centre: CentreRuns,
    found: tuple[Cause, ...],
    alone: Estimate,
    speed: float,
) -> Adequacy:
    """Return what withholds and what bounds the verdict of a trial at a speed in rpm.

    `alone` is the rate exponent of the production ladder alone.
    """
    explained = _explained(found)
    withheld = [*_readings(found), *_apart(centre), *_failed(rule, explained)]
    far = _far_out(results)
    if far and not explained:
        withheld.append(far)
    if alone.high is not None and alone.high < 0.0:
        withheld.append(SLOWER_IS_LOOSER)
    bounded = [*_seen(results, speed), *_not_known(rule)]
    if explained and any(item.code == "prediction" and item.holds is False for item in rule):
        bounded += [_confirm(each) for each in found if each.code in PROCESS and each.named]
    return Adequacy(tuple(withheld), tuple(bounded))


def bounded_verdict(verdict: Verdict, of_trial: Adequacy) -> Verdict:
    """Return the verdict of the learned study as far as the trial carries it."""
    if of_trial.withheld:
        return Verdict("not enough evidence", of_trial.withheld)
    if not of_trial.bounded:
        return verdict
    answer: Answer = verdict.answer
    if answer == "transferable":
        answer = "transferable with changes"
    return Verdict(answer, (*verdict.reasons, *of_trial.bounded))


def _explained(found: tuple[Cause, ...]) -> bool:
    """Return whether what was not as predicted is surely of the process, and named."""
    of_process = [each for each in found if each.code in PROCESS]
    sure = sum(each.probability for each in found if each.code in (AS_PREDICTED, *PROCESS))
    return sure >= CLEAR and any(each.named for each in of_process)


def _readings(found: tuple[Cause, ...]) -> Iterator[Words]:
    """Yield that readings are in doubt, where a cause of theirs is named."""
    named = [
        each for each in found if each.probability >= NAMED and (each.of_readings or each.of_drift)
    ]
    predicted = sum(each.probability for each in found if each.code == AS_PREDICTED)
    if named and predicted < 0.5:
        yield Sentence(
            "What was measured cannot be relied on before this is settled: {causes}",
            causes=" ".join(str(each.told) for each in named),
        )


def _apart(centre: CentreRuns) -> Iterator[Words]:
    if centre.together is False:
        yield Sentence("Centre runs are apart: {told}.", told=centre.told)


def _failed(rule: tuple[Accepted, ...], explained: bool) -> Iterator[Words]:
    """Yield the rules that failed; that a prediction did not hold, only while it is unexplained."""
    for item in rule:
        told = item.code == "centre" or (item.code == "prediction" and explained)
        if item.holds is False and not told:
            yield Sentence("Acceptance rule failed: {rule} ({why}).", rule=item.rule, why=item.why)


def _far_out(results: tuple[RunResult, ...]) -> Words:
    far = [
        (abs(item.residual), f"{result.name} {item.measure.replace('_', ' ')} {item.residual:+.1f}")
        for result in results
        for item in result.compared
        if abs(item.residual) > FAR_OUT
    ]
    if not far:
        return ""
    worst = ", ".join(told for _, told in sorted(far, reverse=True)[:WORST])
    return f"{len(far)} means are far from any prediction (standard deviations): worst {worst}."


def _seen(results: tuple[RunResult, ...], speed: float) -> Iterator[Words]:
    """Yield the findings above the asked speed, which bound what may be set."""
    for result in results:
        names = [name for name in BOUNDING if name in result.seen]
        if names and result.speed > speed * AT_SPEED:
            yield Sentence(
                "{defects} seen in {run}, at {force} and {speed}, bounds the window.",
                defects=", ".join(names).capitalize(),
                run=result.name,
                force=Fact(result.force, "N"),
                speed=Fact(result.speed, "rpm"),
            )


def _not_known(rule: tuple[Accepted, ...]) -> Iterator[Words]:
    """Yield the rules that the sheet does not tell of."""
    for item in rule:
        if item.holds is None:
            yield Sentence("Not known: {rule} ({why}).", rule=item.rule, why=item.why)


def _confirm(cause: Cause) -> Sentence:
    return Sentence(
        "The prediction did not hold, and one cause explains it: {told} Confirm it by "
        "another trial.",
        told=cause.told,
    )
