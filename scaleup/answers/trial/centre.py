"""The setting that a trial goes around, or why none is safe."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.answers.trial.stop_limits import StopLimits, stop_limits
from scaleup.model.estimate import drawn
from scaleup.sentence import Fact, Sentence, Words, share_of_draws
from scaleup.transfer.case import TransferCase
from scaleup.transfer.limits import Limit
from scaleup.transfer.margins import closest
from scaleup.transfer.operating_point import OperatingPoint
from scaleup.transfer.tested import tested_pressure
from scaleup.transfer.window_centre import feasible_range

EVEN = 0.5
NEXT_TO = 0.005
"""Share by which a force may be rounded up beyond its end."""


@dataclass(frozen=True)
class CentreSetting:
    """A main force at the asked speed, and what is to be said of it."""

    force: float
    """N."""
    point: OperatingPoint
    stops: StopLimits
    reason: Words
    against: tuple[Words, ...] = ()
    """What the prediction there does not keep with the asked confidence."""
    withheld: tuple[Words, ...] = ()
    """What must be true first, where the prediction breaks what it is held to."""


def settable(value: float) -> float:
    """Return a force in N or a speed in rpm as an operator can set it: with three digits.

    >>> settable(17815.3)
    17800.0
    """
    return float(f"{value:.3g}")


def centre_setting(case: TransferCase) -> CentreSetting:
    """Return the middle of the forces that keep every limit, as far as they were tested.

    Where none keeps every limit with the asked confidence it is the one that comes closest; where
    most draws break a limit even there, or a stop limit is near, no trial is planned around it.
    """
    process, area = case.process, case.process.charge.tip_area
    at_lab = case.at_lab_pressure
    top = stop_limits(case, at_lab).highest_force
    ends = feasible_range(case, case.speed)
    tested = tested_pressure(process.fit) * area
    if ends is not None and ends[0] * area <= top:
        middle = float(np.sqrt(ends[0] * ends[1])) * area
        force = min(middle, max(tested, ends[0] * area), top)
        reason: Words = Sentence(
            "The centre is the middle of the forces that keep every limit at the asked "
            "speed{bounded}.",
            bounded=_bounded(force, tested, top, middle),
            centre_force=Fact(force, "N"),
        )
    else:
        force = min(closest(case, case.speed).force.value or 0.0, top)
        reason = "No force keeps every limit at the asked speed; the centre comes closest."
    least = 0.0 if ends is None else ends[0] * area
    force = _as_set(force, least, min(top, max(tested, least)))
    point = process.at(force / area, case.speed)
    stops = stop_limits(case, point)
    return CentreSetting(
        force,
        point,
        stops,
        reason,
        against=tuple(_missed(case, point, EVEN, case.confidence)),
        withheld=(*_missed(case, point, 0.0, EVEN), *_near_a_stop(stops, point, case)),
    )


def _as_set(force: float, least: float, most: float) -> float:
    """Return a force with three digits, within the two ends where such a force is."""
    step = 10.0 ** (np.floor(np.log10(force)) - 2)
    nearest = settable(force)
    if nearest > most * (1.0 + NEXT_TO):
        return float(np.floor(most / step) * step)
    return float(np.ceil(least / step) * step) if nearest < least else nearest


def _bounded(force: float, tested: float, top: float, middle: float) -> Words:
    """Return what keeps the centre below the middle, all in N; empty if nothing does."""
    if force == middle:
        return ""
    if force == top < tested:
        return ", but at a distance from what stops the trial"
    if force > tested:
        return Sentence(
            ", but no higher than it must be: {beyond:%} above the highest tested force",
            beyond=force / tested - 1.0,
        )
    return ", but not above the highest tested force"


def _missed(case: TransferCase, point: OperatingPoint, above: float, below: float) -> list[Words]:
    """Return the limits that a share of the draws keeps, above the one and below the other."""
    told: list[Words] = []
    for limit in case.limits:
        share = float(limit.holds(point).mean())
        if above <= share < below:
            told.append(_must(case, point, limit, share))
    return told


def _must(case: TransferCase, point: OperatingPoint, limit: Limit, share: float) -> Sentence:
    value = limit.figure(point)
    here: Words = "not known"
    if value is not None:
        whole = drawn(np.broadcast_to(value, point.pressure.shape), limit.unit)
        here = Sentence(
            "{middle} ({low} to {high})",
            middle=limit.fact(whole.value or 0.0),
            low=limit.fact(whole.low or 0.0),
            high=limit.fact(whole.high or 0.0),
        )
    return Sentence(
        "{figure} {side} {bound} at {force} and {speed}; predicted is {here}, which {kept} keep",
        figure=limit.label,
        side=limit.side,
        bound=limit.fact(limit.bound),
        force=Fact(float(np.median(point.force)), "N"),
        speed=Fact(case.speed, "rpm"),
        here=here,
        kept=share_of_draws(share, point.draws),
    )


def _near_a_stop(stops: StopLimits, point: OperatingPoint, case: TransferCase) -> list[Words]:
    return stops.kept(point, case.confidence)
