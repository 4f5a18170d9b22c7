"""Compressions that run into one another: where to part them, and whether the press was idle."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from scaleup.arrays import Array, Flags, Places

PARTED = 0.5
"""Two humps are two compressions where the force between falls below this share of the smaller;"""
PARTED_IN_A_ROW = 0.85
"""or below this one where they come in a row of equals, as under the roller of a large turret;"""
RIPPLE = 0.02
"""or by this share at least where they come in a row as quickly as no hold is pumped up again: more
than one punch is then under the roller all the time (a judgement of this program)."""
NOISES = 10.0
"""Noises of a block by which a hump stands out."""
QUICK = 0.15
"""s between humps of such a row at most."""
LEAST_ROW, EQUAL = 6, 0.3
"""Humps that make a row, and the share by which each may differ from their median."""
REGULAR = 0.15
"""Relative spread of the intervals (median absolute) up to which a row counts as regular."""
SHORT_IDLE = 0.25
"""Share of a compression up to which the idle time after it may be no idle time but a valley."""
FLOOR = 0.025
"""Share of the largest force by which the floor of a short gap may lie above the idle times around
it and still be idle (a judgement of this program)."""
FLAT = 0.6
"""Share of the time below four levels that is spent below one, from which a floor is flat. A
parabola has 0.5, a wedge 0.25 (a judgement of this program)."""


ALIKE, LIKE, LIKELY = 0.3, 3.0, 0.1
"""Share of the short gaps that are valleys from which the others are too, up to so many times the
usual length of a valley or this share of a compression."""


@dataclass(frozen=True)
class Humps:
    """Maxima of a force above its zero, arrays of shape (humps,)."""

    place: Places
    height: Array
    """N."""
    prominence: Array
    """By how much in N each stands out of its surroundings."""

    @classmethod
    def of(cls, force: Array, least: float, noise: float, longest: int) -> Humps:
        """Return the maxima that reach `least` and stand out of noise and their surroundings.

        They stand out by 2 % of their height and by ten times the noise of a block, both in N, and
        are looked at over `longest` blocks, twice, to either side.
        """
        from scipy.signal import find_peaks  # noqa: PLC0415  start-up stays quick

        places, found = find_peaks(force, height=least, prominence=0.0, wlen=4 * longest + 1)
        height, prominence = found["peak_heights"], found["prominences"]
        clear = prominence >= np.maximum(RIPPLE * height, NOISES * noise)
        return cls(places[clear], height[clear], prominence[clear])

    def some(self, which: slice | Flags) -> Humps:
        """Return some of them."""
        return Humps(self.place[which], self.height[which], self.prominence[which])

    @property
    def equal(self) -> bool:
        """Return whether they are many and nearly all about equally high."""
        if self.height.size < LEAST_ROW:
            return False
        near = np.abs(self.height / np.median(self.height) - 1.0) < EQUAL
        return bool(near.mean() >= 0.8)

    @property
    def interval(self) -> float:
        """Return the usual distance in blocks from one to the next."""
        return float(np.median(np.diff(self.place))) if self.place.size > 1 else np.inf

    @property
    def regular(self) -> bool:
        """Return whether they come at regular distances."""
        spread = float(np.median(np.abs(np.diff(self.place) - self.interval)))
        return spread < REGULAR * self.interval

    @property
    def alone(self) -> Flags:
        """Return which are the highest within 0.6 usual distances to either side."""
        near = np.abs(self.place[:, None] - self.place) < 0.6 * self.interval
        result: Flags = self.height >= np.where(near, self.height, -np.inf).max(axis=1)
        return result

    @property
    def clear(self) -> Flags:
        """Return which stand out by as much as compressions of a row do."""
        result: Flags = self.prominence >= (1.0 - PARTED_IN_A_ROW) * self.height
        return result


@dataclass(frozen=True)
class Parted:
    """Stretches parted at their valleys, arrays of shape (stretches,)."""

    first: Places
    stop: Places
    joined: Flags
    """Whether each runs into the one before."""
    unparted: Flags
    """Whether it is a row of more than one compression that cannot be parted."""


def parted(force: Array, first: Places, stop: Places, humps: Humps, quick: float) -> Parted:
    """Return stretches parted at the valleys between their humps.

    `force` in N is above its zero, shape (blocks,); humps that follow within `quick` blocks are of
    a turret.
    """
    begins, ends, joined, unparted = [], [], [], []
    bounds = np.searchsorted(humps.place, np.column_stack([first, stop]))
    for begin, end, (low, high) in zip(first, stop, bounds, strict=True):
        within, whole = _compressions(force, humps.some(slice(low, high)), quick)
        valleys = [a + int(force[a:b].argmin()) for a, b in pairwise(within)]
        begins += [int(begin), *valleys]
        ends += [*valleys, int(end)]
        joined += [False, *(True for _ in valleys)]
        unparted += [not whole] * (len(valleys) + 1)
    return Parted(
        np.array(begins, dtype=np.intp),
        np.array(ends, dtype=np.intp),
        np.array(joined, dtype=bool),
        np.array(unparted, dtype=bool),
    )


def _compressions(force: Array, humps: Humps, quick: float) -> tuple[Places, bool]:
    """Return which humps of one stretch are compressions, and whether that can be told."""
    if humps.place.size < 2:
        return humps.place, True
    clear = humps.some(humps.clear)
    if clear.equal and clear.regular:
        return clear.place, True
    if humps.equal and humps.interval <= quick:
        alone = humps.some(humps.alone)
        return (alone.place, True) if alone.regular else (alone.place[:1], False)
    share = PARTED_IN_A_ROW if clear.equal else PARTED
    kept = clear.place[:1]
    for place, height in zip(clear.place[1:], clear.height[1:], strict=True):
        lowest = force[kept[-1] : place].min()
        if lowest <= share * min(height, force[kept[-1]]):
            kept = np.append(kept, place)
        elif height > force[kept[-1]]:
            kept[-1] = place
    return kept, True


@dataclass(frozen=True)
class Gaps:
    """What lies between neighbouring stretches, arrays of shape (stretches - 1,)."""

    length: Places
    """Samples."""
    usual: Places
    """Length of the shorter of the two stretches, samples."""
    floor: Array
    """Running zero in N at the end of the earlier stretch."""

    @property
    def short(self) -> Flags:
        """Return which may be no idle time but a valley."""
        result: Flags = self.length < SHORT_IDLE * self.usual
        return result

    def floors(self, largest: float, ends: tuple[float | None, float | None]) -> Flags:
        """Return which short gaps are floors: they lie above the idle times around.

        `ends` is the zero in N before the first and after the last stretch, None where the log has
        no idle time there. Without any idle time a gap of next to no length is a floor.
        """
        place = np.arange(self.length.size, dtype=np.float64)
        long = ~self.short
        places, zeros = place[long], self.floor[long]
        for at, zero in ((-1.0, ends[0]), (float(place.size), ends[1])):
            if zero is not None:
                places, zeros = np.append(places, at), np.append(zeros, zero)
        if places.size == 0:
            touching: Flags = self.length < LIKELY * self.usual
            return touching
        order = np.argsort(places)
        around = np.interp(place, places[order], zeros[order])
        result: Flags = self.short & (self.floor - around > FLOOR * largest)
        return result


def valleys_between(force: Array, level: float, first: Places, stop: Places, gaps: Gaps) -> Flags:
    """Return which gaps between neighbouring stretches are valleys, not idle time.

    Shape (stretches - 1,), `level` in N. A floor is flat where most of the time below four levels
    above it is spent below one.
    """
    gap, usual, zero = gaps.length, gaps.usual, gaps.floor
    valley = gap <= 0
    for at in np.flatnonzero((gap > 0) & gaps.short):
        reach = int(usual[at]) // 2
        begin, end = max(stop[at] - reach, 0), min(first[at + 1] + reach, force.size)
        above = force[begin:end] - zero[at]
        before = np.flatnonzero(above[: stop[at] - begin] > 4.0 * level)
        after = np.flatnonzero(above[first[at + 1] - begin :] > 4.0 * level)
        left = stop[at] - begin - (before[-1] + 1 if before.size else 0)
        right = after[0] if after.size else end - first[at + 1]
        valley[at] = gap[at] < FLAT * (gap[at] + left + right)
    near = gaps.short
    if near.any() and valley[near].mean() > ALIKE:
        # Noise decides the one or the other; gaps like those that are valleys are valleys.
        valley |= gap < np.maximum(LIKE * np.median(gap[near & valley]), LIKELY * usual)
    return valley
