"""The zero of a force channel as it runs along: it drifts, decays and jumps while pulses come."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array, Flags, Places

WIDER = 2.0
"""The zero is looked for over this many times the longest compression."""
JUMP = 0.02
"""Share of the largest force by which a zero moves at once if it was set anew (a judgement of this
program)."""
HIGHEST_ZERO = 0.2
"""Share of the largest force above the lowest zero from which a quiet force is no zero but the
floor between two compressions (a judgement of this program)."""
WIDEST = 0.9
"""Part of a piece that the widest window has."""
CLEARLY = 1.5
"""A plateau is at least this many times as high as a jump."""
STEEP = 0.25
"""Part of a plateau that its ends take at most; drift takes more (a judgement of this program)."""
FINEST, COARSEST, PER_PULSE = 1, 32, 32
"""Samples of a block, and how many blocks the time above 30 % of a short compression has."""
TURRET = 0.002
"""s; a block is no longer, so that punches that follow one another closely are still seen."""
GROSS = (0.3, 0.6, 0.85)
"""Shares of the largest force, one of which parts the compressions: pulses of a large turret that
run into one another fall below the higher ones only."""
MOST = 0.7
"""Share of the most stretches at any level that the lowest level must part."""
SHORT = 0.05
"""Share of the longest stretch below which a stretch is noise at the edge of another."""


@dataclass(frozen=True)
class Scale:
    """How long compressions are, in samples."""

    block: int
    """Samples that are averaged to look for compressions."""
    longest: int

    @classmethod
    def of(cls, force: Array, zero: float, largest: float, step: float) -> Scale | None:
        """Return the scale of a stretch of a log; None where nothing is compressed.

        Blocks are short enough, `step` s from sample to sample, for pulses of any turret.
        """
        if largest <= 0.0:
            return None
        every = [_lengths(force > zero + share * largest) for share in GROSS]
        most = max(each.size for each in every)
        if most == 0:
            return None
        lengths = next(each for each in every if each.size >= MOST * most)
        short = float(np.quantile(lengths, 0.1))
        coarsest = min(COARSEST, max(int(TURRET / max(step, 1e-9)), FINEST))
        return cls(int(np.clip(short // PER_PULSE, FINEST, coarsest)), int(lengths.max()))


def _lengths(above: Flags) -> Places:
    """Return the lengths in samples of the stretches that are above, noise left out."""
    edges = np.flatnonzero(above[1:] != above[:-1]) + 1
    ends = np.concatenate([[0] if above[0] else [], edges, [above.size] if above[-1] else []])
    lengths = ends[1::2] - ends[::2]
    long: Places = lengths[lengths >= SHORT * lengths.max(initial=0)]
    return long


def block_means(values: Array, size: int) -> Array:
    """Return the means of so many neighbours each; what is left over at the end makes one more."""
    count = values.size // size
    means: Array = values[: count * size].reshape(count, size) @ np.full(size, 1.0 / size)
    if count * size == values.size:
        return means
    return np.append(means, values[count * size :].mean())


def running_zero(means: Array, scale: Scale, largest: float, level: float, lowest: float) -> Array:
    """Return the zero in N under every block.

    It is the highest of the lowest values of all windows that hold the block (an opening): on a
    slope that is the slope itself, and a compression shorter than the window leaves no trace. A
    weak compression longer than the window would pass for a zero: wider windows find it, as a
    plateau with steep ends and no compression on it. What lies far above the lowest zero of the
    log is the floor between compressions that run into one another; the zero is carried across it.
    """
    width = max(int(WIDER * scale.longest / scale.block), 8)
    zero = _opened(means, width)
    if np.ptp(zero) < JUMP * largest and zero[0] - lowest < HIGHEST_ZERO * largest:
        return zero
    quiet = means - zero < level
    while (width := 2 * width) < WIDEST * means.size:
        wider = _opened(means, width)
        for some in _plateaus(zero - wider, JUMP * largest):
            if quiet[some].all():
                zero[some] = wider[some]
    return _carried_across(zero, min(lowest, float(zero.min())) + HIGHEST_ZERO * largest)


def _carried_across(zero: Array, highest: float) -> Array:
    """Return the zero with what is above the highest possible one bridged by a straight line."""
    known = np.flatnonzero(zero <= highest)
    if known.size in (0, zero.size):
        return zero
    bridged: Array = np.interp(np.arange(zero.size), known, zero[known])
    return bridged


def _plateaus(height: Array, least: float) -> list[slice]:
    """Return where a height in N stands above a least one and ends steeply on both sides."""
    raised = height > least
    edges = np.flatnonzero(raised[1:] != raised[:-1]) + 1
    if raised[0]:
        edges = edges[1:]
    found = []
    for begin, end in zip(edges[::2], edges[1::2], strict=False):
        part = height[begin:end]
        high = np.flatnonzero(part > 0.9 * part.max())
        clear = part.max() > CLEARLY * least
        if clear and high[0] + part.size - 1 - high[-1] < STEEP * part.size:
            low = np.flatnonzero(height <= 0.1 * least)
            before, after = low[low < begin], low[low >= end]
            found.append(slice(int(before[-1:].sum()), int(after[0] if after.size else end)))
    return found


def _opened(values: Array, width: int) -> Array:
    """Return the opening by windows that lie whole within the values."""
    from scipy.ndimage import maximum_filter1d, minimum_filter1d  # noqa: PLC0415  few commands

    size = min(width, values.size)
    lowest = minimum_filter1d(values, size, origin=-(size // 2), mode="nearest")
    whole = lowest[: values.size - size + 1]
    padded = np.full(values.size, -np.inf)
    padded[: whole.size] = whole
    # The windows that hold a block begin with it or up to a width before it.
    opened: Array = maximum_filter1d(
        padded, size, origin=(size - 1) // 2, mode="constant", cval=-np.inf
    )
    return opened
