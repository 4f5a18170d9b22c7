"""Compressions that run into one another: where to part them, and whether the press was idle."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from scaleup.arrays import Array, Flags, Places

PARTED = 0.5
"""Two humps are two compressions where the force between falls below this share of the smaller;"""
PARTED_IN_A_ROW = 0.85
"""or below this one where they come in a row of equals, as under the roller of a large turret."""
LEAST_ROW, EQUAL = 6, 0.3
"""Humps that make a row, and the share by which each may differ from their median."""
SHORT_IDLE = 0.25
"""Share of a compression up to which the idle time after it may be no idle time but a valley."""
FLAT = 0.6
"""Share of the time below four levels that is spent below one, from which a floor is flat. A
parabola has 0.5, a wedge 0.25 (a judgement of this program)."""


ALIKE, LIKE, LIKELY = 0.3, 3.0, 0.1
"""Share of the short gaps that are valleys from which the others are too, up to so many times the
usual length of a valley or this share of a compression."""


def humps_of(force: Array, least: float, longest: int) -> tuple[Places, Array]:
    """Return places and heights in N of the maxima that stand out of their surroundings.

    `force` is above its running zero, shape (blocks,); a maximum stands out by 15 % of its height
    and reaches `least`. They are looked at over so many blocks to either side.
    """
    from scipy.signal import find_peaks  # noqa: PLC0415  start-up stays quick

    places, found = find_peaks(force, height=least, prominence=0.0, wlen=4 * longest + 1)
    heights = found["peak_heights"]
    clear = found["prominences"] >= (1.0 - PARTED_IN_A_ROW) * heights
    return places[clear], heights[clear]


def parted(
    force: Array, first: Places, stop: Places, humps: Places, heights: Array
) -> tuple[Places, Places, Flags]:
    """Return stretches parted at their valleys, and which run into the one before."""
    owner = np.searchsorted(first, humps, side="right") - 1
    inside = (owner >= 0) & (humps < stop[np.maximum(owner, 0)])
    humps, heights, owner = humps[inside], heights[inside], owner[inside]
    together = np.flatnonzero(owner[1:] == owner[:-1])
    joined = np.zeros(first.size, dtype=bool)
    if together.size == 0:
        return first, stop, joined
    bounds = np.column_stack([humps[together], humps[together + 1]])
    lowest = np.minimum.reduceat(force, bounds.ravel())[::2]
    share = lowest / np.minimum(heights[together], heights[together + 1])
    in_row = _in_a_row(heights, owner)[together]
    cut = share <= np.where(in_row, PARTED_IN_A_ROW, PARTED)
    valleys = np.array([a + int(force[a:b].argmin()) for a, b in bounds[cut]], dtype=np.intp)
    begins, ends = np.concatenate([first, valleys]), np.concatenate([stop, valleys])
    order = np.argsort(begins, kind="stable")
    joined = np.concatenate([joined, np.ones(valleys.size, dtype=bool)])[order]
    return begins[order], np.sort(ends), joined


def _in_a_row(heights: Array, owner: Places) -> Flags:
    """Return which humps are of a stretch whose humps are many and equal."""
    result = np.zeros(heights.size, dtype=bool)
    starts = np.concatenate([[0], np.flatnonzero(np.diff(owner)) + 1, [owner.size]])
    for begin, end in pairwise(starts):
        some = heights[begin:end]
        if some.size >= LEAST_ROW:
            near = np.abs(some / np.median(some) - 1.0) < EQUAL
            result[begin:end] = near.mean() >= 0.8
    return result


def valleys_between(force: Array, zero: Array, level: float, first: Places, stop: Places) -> Flags:
    """Return which gaps between neighbouring stretches are valleys, not idle time.

    Shape (stretches - 1,). `zero` is the running zero in N at the end of each stretch but the last.
    A floor is flat where most of the time below four levels above it is spent below one.
    """
    gap = first[1:] - stop[:-1]
    usual = np.minimum(stop[1:] - first[1:], stop[:-1] - first[:-1])
    valley = gap <= 0
    short = np.flatnonzero((gap > 0) & (gap < SHORT_IDLE * usual))
    for at in short:
        reach = int(usual[at]) // 2
        begin, end = max(stop[at] - reach, 0), min(first[at + 1] + reach, force.size)
        above = force[begin:end] - zero[at]
        before = np.flatnonzero(above[: stop[at] - begin] > 4.0 * level)
        after = np.flatnonzero(above[first[at + 1] - begin :] > 4.0 * level)
        left = stop[at] - begin - (before[-1] + 1 if before.size else 0)
        right = after[0] if after.size else end - first[at + 1]
        valley[at] = gap[at] < FLAT * (gap[at] + left + right)
    near = gap < SHORT_IDLE * usual
    if near.any() and valley[near].mean() > ALIKE:
        # Noise decides the one or the other; gaps like those that are valleys are valleys.
        valley |= gap < np.maximum(LIKE * np.median(gap[near & valley]), LIKELY * usual)
    return valley
