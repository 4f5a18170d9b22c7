"""The answers in a few words, worked out without solving any pulse that is only shown."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from scaleup.transfer.case import TransferCase
from scaleup.transfer.limits import broken
from scaleup.transfer.risks.registry import standing_risks
from scaleup.transfer.unproven import unproven
from scaleup.transfer.verdict import Standing, standing
from scaleup.transfer.verdict import verdict_word as word_of

Outcome = Callable[[TransferCase], str]
SpeedAnswer = Literal["yes", "yes with changes", "no", "not enough evidence"]
NO_EVIDENCE: Literal["not enough evidence"] = "not enough evidence"


def verdict_word(case: TransferCase) -> str:
    """Return the answer of the verdict."""
    return word_of(case, standing_risks(case))


def speed_word(case: TransferCase) -> SpeedAnswer:
    """Return whether the asked speed is all right."""
    against = standing(standing_risks(case))
    if case.fitted is None or against.lacks or against.stops:
        return speed_answer(against, kept=False, holds=False, nearly=case.fitted is None)
    kept = not broken(case.limits, case.at_lab_pressure, case.confidence)
    holds = kept or case.feasible_pressure is not None
    nearly = not holds and unproven(case, case.speed) is not None
    return speed_answer(against, kept=kept, holds=holds, nearly=nearly)


def press_word(case: TransferCase) -> SpeedAnswer:
    """Return whether some speed of the press is all right."""
    against = standing(standing_risks(case))
    if case.fitted is None or against.lacks or against.stops or case.fastest is not None:
        return speed_answer(against, kept=True, holds=True, nearly=False)
    nearly = unproven(case, case.speed, elsewhere=True) is not None
    return speed_answer(against, kept=False, holds=False, nearly=nearly)


def speed_answer(against: Standing, *, kept: bool, holds: bool, nearly: bool) -> SpeedAnswer:
    """Return the answer, given whether the lab's pressure, any, or nearly any keeps the limits."""
    if against.lacks:
        return NO_EVIDENCE
    if against.stops:
        return "no"
    if not kept and not holds:
        return NO_EVIDENCE if nearly else "no"
    return "yes" if kept and not against.changes else "yes with changes"
