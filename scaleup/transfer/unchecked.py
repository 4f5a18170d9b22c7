"""What is not held against a limit at an operating point, since bound or figure is not known."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from scaleup.model.estimate import Estimate, drawn, exactly, unavailable
from scaleup.sentence import Sentence, joined
from scaleup.transfer.about import About
from scaleup.transfer.case import TransferCase
from scaleup.transfer.limits import SHORT_FEED
from scaleup.transfer.operating_point import OperatingPoint
from scaleup.transfer.settings import NO_EJECTION, NO_STRENGTH

ABOUT: dict[str, tuple[About, About]] = {
    "tip-rating": ("tip rating", ""),
    "ejection-force": ("ejection limit", "ejection measured"),
    "strength": ("strength target", "strength measured"),
    "feed-time": ("", "feeder arc"),
}
"""Which input is lacking where the bound of a limit, or its figure, is not known."""


@dataclass(frozen=True)
class Unchecked:
    """A limit that is usual, of which the bound is not stated or the figure not known."""

    code: str
    label: str
    side: Literal["at most", "at least"]
    bound: Estimate
    value: Estimate

    @property
    def abouts(self) -> frozenset[About]:
        """Return which inputs are lacking."""
        parts = zip((self.bound, self.value), ABOUT[self.code], strict=True)
        return frozenset(about for part, about in parts if part.value is None)

    def why(self, told: frozenset[About] = frozenset()) -> Sentence:
        """Return what is not known, and why; without what is told already."""
        parts = zip((self.bound, self.value), ABOUT[self.code], strict=True)
        unknown = [part.reason for part, about in parts if part.value is None and about not in told]
        return joined("; ", unknown)


def unchecked(case: TransferCase, point: OperatingPoint) -> Iterator[Unchecked]:
    """Yield the usual limits that an operating point is not held against."""
    yield from _tip_force(point)
    yield from _ejection(point)
    yield from _strength(case, point)
    yield from _feed_time(point)


def _tip_force(point: OperatingPoint) -> Iterator[Unchecked]:
    tooling = point.process.production.tooling
    if tooling.profile.tip_force_rating is None:
        bound = unavailable("N", f"not stated: {tooling.id} has no tip_force_rating")
        yield Unchecked("tip-rating", "tip force", "at most", bound, drawn(point.force, "N"))


def _ejection(point: OperatingPoint) -> Iterator[Unchecked]:
    press, force = point.process.production.press, point.ejection_force
    limit = press.profile.ejection_limit
    if limit is not None and force is not None:
        return
    reason = f"not stated: {press.id} has no ejection_limit"
    bound = unavailable("N", reason) if limit is None else exactly(limit, "N")
    value = (
        unavailable("N", f"not available: {NO_EJECTION}") if force is None else drawn(force, "N")
    )
    yield Unchecked("ejection-force", "ejection force", "at most", bound, value)


def _strength(case: TransferCase, point: OperatingPoint) -> Iterator[Unchecked]:
    if case.target is not None:
        return
    strength = point.strength
    bound = unavailable("MPa", "not stated: the study asks for no strength or breaking force")
    reason = f"not available: {NO_STRENGTH}"
    value = unavailable("MPa", reason) if strength is None else drawn(strength, "MPa")
    yield Unchecked("strength", "tensile strength", "at least", bound, value)


def _feed_time(point: OperatingPoint) -> Iterator[Unchecked]:
    press = point.process.production.press
    if press.profile.feeder_arc is None:
        value = unavailable("s", f"not available: {press.id} has no feeder_arc")
        yield Unchecked(
            "feed-time", "time under the feeder", "at least", exactly(SHORT_FEED, "s"), value
        )
