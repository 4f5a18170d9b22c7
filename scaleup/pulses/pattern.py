"""What a row of compressions tells: precompression and main, missing tablets, double hits."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from scaleup.arrays import Array, Flags
from scaleup.pulses.pulses_found import Pulses

ALTERNATING = 0.8
"""Share of compressions that follow small on large, from which precompression is told apart."""
PARTED = 1.25
"""Ratio of two neighbouring peaks, in order of size, that parts small from large."""
TURNING, LEAST_TURNS, UNEVEN_TIMES = 0.8, 12, 1.04
"""Share of pairs whose same one is the lower, from which two rollers that press nearly alike are
told apart, how many peaks that takes, and the ratio of the longer to the shorter time between them
(a judgement of this program)."""
MOSTLY = 0.5
"""Share of compressions of which nothing is told from which their row is not looked at."""
REGULAR = 0.15
"""Relative spread of the intervals (median absolute) up to which a press counts as regular."""
LEAST_REGULAR = 6
"""Intervals needed to say that a press is regular."""
MISSING = 0.25
"""Share of the median peak below which a punch met no tablet, or next to none."""
DOUBLE = 0.5
"""Share of the usual interval below which a compression struck the same tablet again."""


@dataclass(frozen=True)
class Pattern:
    """What the compressions of a log are, arrays of shape (compressions,)."""

    precompression: Flags
    """Whether it is the small one before a main compression."""
    double: Flags
    """Whether it follows the one before so soon that the tablet was struck twice."""
    weak: Flags
    """Whether its peak is so low that no tablet was there."""
    interval: float | None
    """Usual time in s between main compressions; None where they are not regular."""
    missing: int
    """Compressions that ought to have come between others and did not."""
    missing_after: tuple[float, ...]
    """Times in s after which the first of them are missing."""


def pattern_of(pulses: Pulses, gaps: Array | None = None) -> Pattern:
    """Return what the compressions of a log are.

    `gaps` are times in s before which samples are missing, shape (gaps,): what was pressed
    meanwhile is not known, nor what a compression with a gap was.
    Where most run together so far that nothing is told of them, their row tells nothing either.
    """
    peak, moment = pulses.size, pulses.moment
    if pulses.count and pulses.reached.mean() > MOSTLY:
        none = np.zeros(pulses.count, dtype=bool)
        return Pattern(none, none, none, None, 0, ())
    pre = _precompressions(peak, moment)
    typical = float(np.nanmedian(peak[~pre])) if (~pre & ~np.isnan(peak)).any() else np.nan
    weak = ~pre & (pulses.gap == 0.0) & (np.nan_to_num(peak, nan=np.inf) < MISSING * typical)
    main = ~pre & ~weak
    places = np.flatnonzero(main)
    apart = np.diff(moment[places])
    interval = _regular(apart)
    double = np.zeros(peak.size, dtype=bool)
    if interval is None:
        return Pattern(pre, double, weak, None, 0, ())
    double[places[1:][apart < DOUBLE * interval]] = True
    double &= pulses.gap == 0.0
    whole = np.rint(apart / interval)
    lacking = np.where(np.abs(apart / interval - whole) < 0.25, whole - 1.0, 0.0)
    if gaps is not None and gaps.size:
        unseen = np.diff(np.searchsorted(gaps, moment[places])) > 0
        lacking[unseen] = 0.0
    # A punch that met next to nothing is counted where it was seen, not once more as missing.
    seen = np.array([int(weak[a + 1 : b].sum()) for a, b in pairwise(places)])
    lacking = np.maximum(lacking - (seen if seen.size else 0.0), 0.0)
    where = tuple(float(each) for each in moment[places[:-1]][lacking > 0.0][:5])
    steady = whole > 0.0
    interval = float(apart[steady].sum() / whole[steady].sum())
    return Pattern(pre, double, weak, interval, int(lacking.sum()), where)


def _regular(apart: Array) -> float | None:
    if apart.size < LEAST_REGULAR:
        return None
    usual = float(np.median(apart))
    spread = float(np.median(np.abs(apart - usual)))
    return usual if spread < REGULAR * usual else None


def _precompressions(peak: Array, moment: Array) -> Flags:
    """Return which compressions are small ones, each followed at a steady time by a large one."""
    none = np.zeros(peak.size, dtype=bool)
    known = np.flatnonzero(~np.isnan(peak))
    if known.size < 4:
        return none
    small = none.copy()
    small[known] = _by_size(peak[known])
    found = _followed(small, moment)
    if found.any():
        return found
    small[known] = _by_turns(peak[known], moment[known])
    return _followed(small, moment)


def _by_size(peak: Array) -> Flags:
    """Return which peaks are below the largest step between neighbours in order of size."""
    sizes = np.sort(peak)
    ratios = sizes[1:] / np.maximum(sizes[:-1], 1e-12)
    # The largest step between neighbours that leaves a fair share on either side.
    inner = slice(max(peak.size // 5, 1) - 1, max(peak.size - peak.size // 5, 2) - 1)
    place = int(ratios[inner].argmax()) + (inner.start or 0)
    if ratios[place] < PARTED:
        return np.zeros(peak.size, dtype=bool)
    small: Flags = peak <= sizes[place]
    return small


def _by_turns(peak: Array, moment: Array) -> Flags:
    """Return which peaks are the lower ones of pairs, where short and long times go by turns.

    Two rollers that press nearly alike are told apart by the times between them; where those are
    equal too, nothing tells them from one roller and stations that differ by turns.
    """
    none = np.zeros(peak.size, dtype=bool)
    apart = np.diff(moment)
    if peak.size < LEAST_TURNS:
        return none
    usual = np.sort(apart)[: apart.size - apart.size // 10]
    ratios = usual[1:] / np.maximum(usual[:-1], 1e-12)
    inner = slice(usual.size // 4, usual.size - usual.size // 4)
    place = int(ratios[inner].argmax()) + usual.size // 4
    if ratios[place] < UNEVEN_TIMES:
        return none
    short = apart <= usual[place]
    first = np.flatnonzero(short)
    if first.size == 0 or (short[1:] & short[:-1]).any():
        return none
    lower = (peak[first] < peak[first + 1]).mean()
    if max(lower, 1.0 - lower) < TURNING:
        return none
    small = none.copy()
    small[first if lower > 0.5 else first + 1] = True
    return small


def _followed(small: Flags, moment: Array) -> Flags:
    """Return which of the small ones are followed at a steady time by a large one, if most are."""
    none = np.zeros(small.size, dtype=bool)
    followed = none.copy()
    followed[:-1] = small[:-1] & ~small[1:]
    if small.sum() == 0 or followed.sum() < ALTERNATING * small.sum():
        return none
    apart = np.diff(moment)
    usual = float(np.median(apart[followed[:-1]]))
    alike = followed.copy()
    alike[:-1] &= np.abs(apart - usual) < 0.3 * usual
    # The main compression of the last may lie beyond the end of the log.
    alike[-1] = small[-1]
    enough = alike.sum() >= ALTERNATING * small.sum() and (~small).sum() <= 2 * small.sum()
    return alike if enough else none
