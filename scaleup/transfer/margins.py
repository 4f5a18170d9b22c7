"""How far an operating point is from every limit, and which limit comes first."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.model.estimate import Estimate, drawn, exactly, unavailable
from scaleup.sentence import Fact, Sentence, Words, joined, share_of_draws
from scaleup.short_repr import short_repr
from scaleup.transfer.case import TransferCase
from scaleup.transfer.limits import Limit, all_kept, filling_limits, share_within
from scaleup.transfer.operating_point import OperatingPoint
from scaleup.transfer.unchecked import Unchecked, unchecked
from scaleup.wording import percent_of_draws

DIALLED_WITHIN = 0.02
"""Share within which a force or a speed is kept to what is dialled (this project's judgement); it
only orders limits that every draw keeps."""
NORMAL = 1.645
"""Half the width of a 90 % band over the standard deviation, of a normal distribution."""
SET_SPEED = ("speed-high", "speed-low")
"""Codes of the limits that are the range of what is set."""
LOOKED_AT, LOOKS = 32, 3
"""Pressures looked at for the closest, and how often, each time around the best."""


@short_repr
@dataclass(frozen=True)
class Margin:
    """One limit at one operating point."""

    limit: Limit
    value: Estimate
    """The figure that is limited, in the limit's unit."""
    room: Estimate
    """Share of the bound that is left; below 0 beyond the bound."""
    share: float
    """Share of the draws that keep the limit."""
    draws: int
    """How many draws that is a share of."""
    watched: bool = False
    """Whether the limit is only watched, because its bound is a rule of thumb."""

    @property
    def told(self) -> Sentence:
        """Return in words how many draws keep the limit."""
        label = self.limit.label
        if self.value.value is None:
            return Sentence("{limit} not known ({why})", limit=label, why=self.value.reason)
        if self.value.exact:
            side = "above" if self.limit.side == "at most" else "below"
            bound = self.limit.fact(self.limit.bound)
            return Sentence("{limit} {side} {bound}", limit=label, side=side, bound=bound)
        kept = share_of_draws(self.share, self.draws)
        return Sentence("{limit} kept by {kept}", limit=label, kept=kept)

    @property
    def kept_by(self) -> str:
        """Return the same for a cell of a table; a figure that is set needs no draws."""
        if self.value.value is None:
            return "n/a"
        if self.value.exact:
            return "always" if self.share > 0.0 else "never"
        return percent_of_draws(self.share, self.draws)

    @property
    def deviations(self) -> float:
        """Return about how many standard deviations the figure is inside its bound."""
        low, middle, high = self.room.low, self.room.value, self.room.high
        if low is None or middle is None or high is None:
            return float("-inf")
        spread = (high - low) / (2.0 * NORMAL)
        return middle / max(spread, 1e-9 if self.limit.of == "tablet" else DIALLED_WITHIN)


@short_repr
@dataclass(frozen=True)
class SetPoint:
    """A main pressure dialled at a turret speed, with its margins."""

    pressure: Estimate
    """MPa; the band is of the settings required across plausible fits, if those were sought."""
    point: OperatingPoint
    margins: tuple[Margin, ...]
    within: float
    """Share of the draws that keep every limit of machine and tablet together."""
    unchecked: tuple[Unchecked, ...] = ()
    """What is not checked against a limit, and why."""

    @property
    def told_within(self) -> Fact:
        """Return how many draws keep every limit together."""
        return share_of_draws(self.within, self.point.draws)

    @property
    def force(self) -> Estimate:
        """Return the main force in N."""
        return self.pressure.times(self.point.process.charge.tip_area, "N")

    @property
    def binding(self) -> Margin:
        """Return the limit that fewest draws keep; of several, the one nearest to its bound.

        A speed within the press's own range is what was set, and binds nothing.
        """
        counted = [
            each
            for each in self.margins
            if not each.watched and (each.share < 1.0 or each.limit.code not in SET_SPEED)
        ]
        return min(counted, key=lambda each: (each.share, each.deviations))

    def broken(self, confidence: float) -> tuple[Margin, ...]:
        """Return the limits kept by fewer draws than the asked confidence, worst first."""
        failed = [each for each in self.margins if each.share < confidence and not each.watched]
        return tuple(sorted(failed, key=lambda each: each.share))

    def failing(self, confidence: float) -> Words:
        """Return the limits that are broken, worst first, in words."""
        failed = self.broken(confidence)
        if not failed:
            return "each limit by itself is kept"
        return joined(", ", (each.told for each in failed))


def set_point(case: TransferCase, pressure: Estimate, speed: float) -> SetPoint:
    """Return the margins at a main pressure in MPa and a turret speed in rpm.

    Raises
    ------
    ValueError
        If the pressure has no value.
    """
    if pressure.value is None:
        raise ValueError("a pressure is dialled")
    point = case.process.at(pressure.value, speed)
    watched = filling_limits(case.production)
    margins = [_margin(limit, point) for limit in case.limits]
    margins += [_margin(limit, point, watched=True) for limit in watched]
    within = share_within(case.limits, point)
    return SetPoint(pressure, point, tuple(margins), within, tuple(unchecked(case, point)))


def closest(case: TransferCase, speed: float) -> SetPoint:
    """Return the pressure at a turret speed in rpm that comes closest to keeping every limit.

    It is the one whose worst limit is kept by most draws; of several, the one with most draws that
    keep all, then with the most limits kept, then the nearest to the lab's pressure.
    """
    process, lab = case.process, case.reference.pressure
    low, high, best = process.map.floor, process.map.ceiling, lab
    for _ in range(LOOKS):
        pressures = np.array([*np.geomspace(low, high, LOOKED_AT), process.top, lab])
        point = process.at(pressures[:, None], speed)
        shares = np.array([limit.holds(point).mean(axis=-1) for limit in case.limits])
        together = all_kept(case.limits, point).mean(axis=-1)
        nearness = -np.abs(np.log(pressures / lab))
        order = np.lexsort((nearness, shares.mean(axis=0), together, shares.min(axis=0)))
        best = float(pressures[order[-1]])
        step = (high / low) ** (1.0 / (LOOKED_AT - 1))
        low, high = max(best / step, process.map.floor), min(best * step, process.map.ceiling)
    return set_point(case, exactly(best, "MPa"), speed)


def _margin(limit: Limit, point: OperatingPoint, *, watched: bool = False) -> Margin:
    figure, room = limit.figure(point), limit.room(point)
    if figure is None or room is None:
        missing = f"the lab runs say nothing of {limit.label}"
        return Margin(
            limit, unavailable(limit.unit, missing), unavailable("1", missing), 0.0, point.draws,
            watched,
        )  # fmt: skip
    value = drawn(figure, limit.unit, absent=limit.absent)
    left = drawn(room, "1", absent=limit.absent)
    return Margin(limit, value, left, float(limit.holds(point).mean()), point.draws, watched)
