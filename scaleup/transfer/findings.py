"""What is found about a case under one kind of answer: its risks, and what they do to it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from scaleup.transfer.case import TransferCase
from scaleup.transfer.fastest_speed import Fastest
from scaleup.transfer.outcomes import Outcome
from scaleup.transfer.risks.registry import Risk, all_risks, standing_risks, worst_first
from scaleup.transfer.suspects import suspects_decide
from scaleup.transfer.verdict import Standing, Verdict, standing, verdict_on


@dataclass(frozen=True)
class Findings:
    """Risks of a case, each looked for when first asked for and then kept."""

    case: TransferCase
    outcome: Outcome
    """How the answer is had in its few words; it tells whether suspicious runs decide it."""

    @cached_property
    def _suspects(self) -> tuple[Risk, ...]:
        return suspects_decide(self.case, self.outcome)

    @cached_property
    def risks(self) -> tuple[Risk, ...]:
        """Return every risk, worst first."""
        return worst_first((*all_risks(self.case), *self._suspects))

    @cached_property
    def standing(self) -> Standing:
        """Return what stands whatever force and speed are set; no pulse is solved for it."""
        return standing(worst_first((*standing_risks(self.case), *self._suspects)))

    @cached_property
    def verdict(self) -> Verdict:
        """Return the verdict."""
        return verdict_on(self.case, self.risks)

    @cached_property
    def fastest(self) -> Fastest:
        """Return the fastest speed that holds, or that all is in doubt."""
        if self.standing.in_doubt:
            return Fastest.unknown(self.standing.in_doubt)
        return self.case.fastest_told
