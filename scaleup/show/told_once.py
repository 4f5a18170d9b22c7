"""What a screen tells of one lacking input: the risk first, else a gap, else what was assumed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from scaleup.answers.assumed import Assumed
from scaleup.sentence import Sentence, Words
from scaleup.transfer.about import About
from scaleup.transfer.risks.registry import Risk


class Gap(Protocol):
    """Something that is lacking."""

    @property
    def abouts(self) -> frozenset[About]:
        """Return which inputs are lacking; none for what nothing else tells."""
        ...


@dataclass(frozen=True)
class Once:
    """What is left to tell on a screen beside its risks."""

    assumed: tuple[Assumed, ...]
    decided: dict[About, Assumed]
    """What was assumed, decides, and is told by a risk."""
    told: frozenset[About]
    """What risks, and values that decide, have told before any gap."""

    def tells(self, gap: Gap) -> bool:
        """Return whether a gap is still to be told."""
        return not gap.abouts or bool(gap.abouts - self.told)

    def decides(self, risk: Risk) -> Words:
        """Return that the answer hangs on what a risk is about, "" if it does not.

        >>> risk = Risk("tip-rating-not-checked", "serious", "", "", "", about="tip rating")
        >>> rating = Assumed("b: tip_force_rating", "none", "missing", True, "16 kN", "tip rating")
        >>> print(told_once([risk], [rating]).decides(risk))
        It decides: asked again with 16 kN, the answer is another.
        """
        if risk.about not in self.decided:
            return ""
        instead = self.decided[risk.about].instead
        told = "It decides: asked again with {instead}, the answer is another."
        return Sentence(told, instead=instead)


def told_once(risks: Iterable[Risk], assumed: Iterable[Assumed], gaps: Iterable[Gap] = ()) -> Once:
    """Return what a screen that shows these risks, and has room for these gaps, has yet to tell.

    A value that decides comes before a gap, and a gap before a value that does not.
    """
    told: set[About] = {item.about for item in risks if item.about}
    decided = {each.about: each for each in assumed if each.about in told and each.decides}
    rest = [each for each in assumed if each.about not in told]
    told |= {each.about for each in rest if each.decides and each.about}
    once = Once((), decided, frozenset(told))
    told |= {about for each in gaps if once.tells(each) for about in each.abouts}
    left = tuple(each for each in rest if each.decides or each.about not in told)
    return Once(left, decided, once.told)
