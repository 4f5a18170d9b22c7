"""Units in doubt: figures that no published material has, and rows that step by a unit."""

from __future__ import annotations

from collections.abc import Iterator

from scaleup.transfer.risks.registry import Case, Risk, risk, stands

UNITS_DOUBTFUL = "units-doubtful"
FIRST = 10.0
"""Size that puts a doubt before every other severe finding."""


@stands
@risk
def units_doubtful(case: Case) -> Iterator[Risk]:
    """Figures that a slip of a unit explains, or that the user has confirmed."""
    given = case.study.as_given
    for doubt in case.unit_doubts:
        yield Risk(
            "units-as-given" if given else UNITS_DOUBTFUL,
            "serious" if given else "severe",
            f"{doubt.message} Taken as given." if given else doubt.message,
            doubt.evidence,
            "Make sure of the units before anything is pressed." if given else doubt.action,
            FIRST,
        )
