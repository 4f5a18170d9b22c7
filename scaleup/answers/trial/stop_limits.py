"""When a run of a trial is stopped at once, and how far from that its settings keep."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.sentence import Fact, Sentence, Words
from scaleup.transfer.case import TransferCase
from scaleup.transfer.limits import Limit
from scaleup.transfer.operating_point import OperatingPoint

OF_A_RATING = 0.90
"""Share of a rating at which a trial is stopped (common practice)."""
OF_THE_TARGET = 0.50
"""Share of the strength asked for below which a run is stopped: tablets so weak break in the
discharge (a judgement of this program)."""
DISTANCE = 0.05
"""Share by which what is planned keeps from every stop limit (a judgement of this program)."""


@dataclass(frozen=True)
class StopLimits:
    """What stops a run, in what an operator reads; None where nothing is known to stop it."""

    force: float
    """Main force in N."""
    ejection: float | None
    """N."""
    weakest: Limit | None
    """The least strength in MPa, or breaking force in N, as a limit."""
    breaking_force: float | None
    """The same in N, for the tablet of the centre."""

    def kept(self, point: OperatingPoint, confidence: float) -> list[Words]:
        """Return what of the stop limits a prediction does not keep its distance from."""
        told: list[Words] = []
        force = float(np.median(point.force))
        if force > self.highest_force * (1.0 + 1e-9):
            told.append(self._too_near("main force", Fact(force, "N"), Fact(self.force, "N")))
        ejection = point.ejection_force
        if self.ejection is not None and ejection is not None:
            most = (1.0 - DISTANCE) * self.ejection
            if float(np.mean(ejection <= most)) < confidence:
                here = Fact(float(np.median(ejection)), "N")
                told.append(self._too_near("ejection force", here, Fact(self.ejection, "N")))
        if self.weakest is not None:
            value, least = self.weakest.figure(point), (1.0 + DISTANCE) * self.weakest.bound
            if value is None or float(np.mean(value >= least)) < confidence:
                limit = self.weakest
                here = limit.fact(limit.middle(point))
                told.append(self._too_near(limit.label, here, limit.fact(limit.bound)))
        return told

    @property
    def highest_force(self) -> float:
        """Return the highest main force in N that a run is planned with."""
        return (1.0 - DISTANCE) * self.force

    @staticmethod
    def _too_near(figure: str, here: Fact, stop: Fact) -> Sentence:
        return Sentence(
            "{figure} at least {distance:%} away from its stop limit of {stop}; predicted is "
            "{here}",
            figure=figure,
            here=here,
            distance=DISTANCE,
            stop=stop,
        )


def stop_limits(case: TransferCase, centre: OperatingPoint) -> StopLimits:
    """Return the stop limits of a trial whose centre is an operating point."""
    process = case.process
    ejection = next((each for each in case.limits if each.code == "ejection-force"), None)
    target = case.target
    return StopLimits(
        force=OF_A_RATING * process.force_limit,
        ejection=None if ejection is None else OF_A_RATING * ejection.bound,
        weakest=None if target is None else weakest_of(target),
        breaking_force=None if target is None else in_newton(target, centre, OF_THE_TARGET),
    )


def weakest_of(target: Limit) -> Limit:
    """Return the target as the limit below which a run is stopped."""
    return Limit(
        "strength", target.label, "tablet", target.unit, OF_THE_TARGET * target.bound, "at least",
        target.figure, target.absent,
    )  # fmt: skip


def in_newton(target: Limit, point: OperatingPoint, share: float = 1.0) -> float | None:
    """Return the breaking force in N of a share of the target, for the tablet of a point."""
    if target.unit == "N":
        return share * target.bound
    force, strength = point.breaking_force, point.strength
    if force is None or strength is None:
        return None
    return share * target.bound * float(np.median(force) / np.median(strength))


def stop_rules(stops: StopLimits) -> tuple[Words, ...]:
    """Return when a run is stopped at once, as an operator reads it."""
    rules: list[Words] = [
        Sentence(
            "Main force above {most} ({share:%} of what tips and roller allow).",
            most=Fact(stops.force, "N"),
            share=OF_A_RATING,
        )
    ]
    if stops.ejection is not None:
        most = Fact(stops.ejection, "N")
        rules.append(Sentence("Ejection force above {most}.", most=most))
    if stops.breaking_force is not None:
        rules.append(
            Sentence(
                "Mean breaking force below {least} in two samples, one after the other.",
                least=Fact(stops.breaking_force, "N"),
            )
        )
    return (
        *rules,
        "Capping, lamination, picking or sticking on any tablet.",
        "Any doubt of the operator: unusual noise, heat, vibration or smell.",
        "A mean outside its action limits: stop the feeder, look into it, then go on or end.",
    )
