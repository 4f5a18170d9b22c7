"""What the tablet must be, and how many are wanted per hour."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from scaleup.errors import field_fault
from scaleup.model.checked import Checked
from scaleup.model.fields import Ends, Force, Mass, Measure, Output, Pressure, Share
from scaleup.model.ranges import Range

MARGIN, LARGEST_MARGIN = 0.10, 0.50
"""Share by which force and speed may both be off at a recommended point, where the study states
none (a judgement of this program), and the largest that may be asked for."""


class UsualRange(Range):
    """A range that no input states: the program supplied it."""


class UsualShare(float):
    """A share that no input states: the program supplied it."""


_SHARE = Measure("1", most=1.0)
USUAL_WINDOW, USUAL_CONFIDENCE = UsualRange(0.80, 0.90), UsualShare(0.90)
"""Solid fractions of most tablets (common practice), and the confidence of every answer."""


@dataclass(frozen=True, kw_only=True)
class Target(Checked):
    """What the tablet must be, in MPa, N, mg and shares, and how many are wanted per hour.

    Examples
    --------
    >>> Target(strength=2.0).states_solid_fraction, Target(confidence=0.95).states_confidence
    (False, True)
    """

    strength: Pressure | None = None
    breaking_force: Force | None = None
    solid_fraction: Annotated[Range, Ends(_SHARE, _SHARE)] = USUAL_WINDOW
    weight: Mass | None = None
    output: Output | None = None
    """Tablets per hour, at least."""
    confidence: Share = USUAL_CONFIDENCE
    margin: Share = MARGIN
    """Share by which force and speed may both be off at the recommended point."""

    @property
    def states_solid_fraction(self) -> bool:
        """Return whether the study states the window of the solid fraction."""
        return self.solid_fraction != USUAL_WINDOW

    @property
    def states_confidence(self) -> bool:
        """Return whether the study states the confidence."""
        return not isinstance(self.confidence, UsualShare)

    def check(self) -> None:
        """Refuse two targets for one figure, and shares that are too small or too large."""
        if self.strength is not None and self.breaking_force is not None:
            raise field_fault(
                "both strength and breaking_force",
                "one of the two",
                "Remove the one that follows from the other.",
            )
        if not 0.5 <= self.confidence < 1.0:
            raise field_fault(
                f"{self.confidence * 100:g} %", "50 % up to below 100 %", where="confidence"
            )
        if self.margin > LARGEST_MARGIN:
            raise field_fault(
                f"{self.margin * 100:g} %", f"up to {LARGEST_MARGIN * 100:g} %", where="margin"
            )
