"""Units in doubt: figures that no published material has, and rows that step by a unit."""

from __future__ import annotations

from collections.abc import Iterator

from scaleup.sentence import Sentence
from scaleup.transfer.case import TransferCase
from scaleup.transfer.risks.registry import Risk, risk

FIRST = 10.0
"""Size that puts a doubt before every other severe finding."""


@risk(without_fit=True, standing=True)
def units_doubtful(case: TransferCase) -> Iterator[Risk]:
    """Figures that a slip of a unit explains, or that the user has confirmed."""
    for doubt in case.calibrated.unit_doubts:
        if case.study.as_given:
            yield Risk(
                "units-as-given",
                "serious",
                Sentence("{doubt} Taken as given.", doubt=doubt.message),
                doubt.evidence,
                "Make sure of the units before anything is pressed.",
                FIRST,
            )
        else:
            yield Risk(
                "units-doubtful", "severe", doubt.message, doubt.evidence, doubt.action, FIRST,
                effect="lacks evidence", in_doubt="the units of the study are in doubt",
            )  # fmt: skip
