"""Figures of many logged pulses at once: peaks, crossings of a level, hold and decay.

Rows are pulses: `time` in s and `force` in N have shape (pulses, samples), samples that lie outside
a pulse repeat its last time and read 0.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.ndimage import correlate1d
from scipy.signal import savgol_coeffs
from scipy.stats import norm

from scaleup.arrays import Array, Places

WELL_SAMPLED = 20
"""Samples above 90 % of the peak that a log should have of each pulse."""
ORDER = 2
"""Degree of the polynomial that smooths: it leaves a parabola, and so the top of a pulse, alone."""
HOLD_END = 0.6
"""Share of the peak below which a force is no longer held."""
FLAT_SHARE = 0.75
"""The part of the fall to that before its bend, from which a pulse counts as held."""


@lru_cache(maxsize=256)
def smoothing(half: int) -> tuple[tuple[float, ...], float]:
    """Return the weights of a polynomial smoother over 2 half + 1 samples, and its noise gain.

    Savitzky and Golay's least squares (scipy's coefficients); the gain is the standard deviation
    of a smoothed sample over that of a raw one.
    """
    if half < 1:
        return (1.0,), 1.0
    weights = savgol_coeffs(2 * half + 1, ORDER)
    return tuple(float(each) for each in weights), float(np.sqrt(np.sum(weights**2)))


def smoothed(values: Array, half: int) -> Array:
    """Return rows smoothed over 2 half + 1 samples, in phase."""
    if half < 1:
        return values
    result: Array = correlate1d(values, np.array(smoothing(half)[0]), axis=1, mode="nearest")
    return result


def moved_by_smoothing(force: Array, half: int) -> Array:
    """Return the share by which smoothing rows once more would move their highest sample."""
    if half < 1:
        return np.zeros(len(force))
    weights = np.array(smoothing(half)[0])
    top = force.argmax(axis=1)
    near = np.clip(top[:, None] + np.arange(-half, half + 1), 0, force.shape[1] - 1)
    rows = np.arange(len(force))
    again = force[rows[:, None], near] @ weights
    moved: Array = np.abs(again / np.maximum(force[rows, top], 1e-300) - 1.0)
    return moved


def peaks_of(force: Array, noise: Array) -> tuple[Array, Array, Places]:
    """Return the peak of every row in N, what was added to the samples, and where the hold begins.

    The largest of many noisy samples of a flat top is too large; what the largest of so many
    independent ones exceeds their mean by is taken off. A pulse of few samples is given the peak
    of the parabola through its three highest, which may add a quarter of the step beside it; a
    pulse of many is not, since a kink at the beginning of a hold is no parabola.

    Parameters
    ----------
    force
        Smoothed, shape (pulses, samples).
    noise
        Standard deviation of a smoothed sample in N, shape (pulses,).
    """
    rows = np.arange(len(force))
    top = np.clip(force.argmax(axis=1), 1, force.shape[1] - 2)
    left, middle, right = (force[rows, top + shift] for shift in (-1, 0, 1))
    bend = left - 2.0 * middle + right
    curved = bend < -1e-12 * np.abs(middle)
    gain = np.where(curved, -((right - left) ** 2) / (8.0 * np.where(curved, bend, -1.0)), 0.0)
    limit = 0.25 * np.maximum(middle - np.minimum(left, right), 0.0)
    few = (force >= 0.9 * middle[:, None]).sum(axis=1) < WELL_SAMPLED
    added = np.where(few, np.minimum(gain, limit), 0.0)
    peak = middle + added
    alike = (force > (middle - 3.0 * noise)[:, None]).sum(axis=1)
    excess = np.where(noise > 0.0, norm.ppf(1.0 - 1.0 / (alike + 1.0)), 0.0)
    peak = peak - np.maximum(excess, 0.0) * noise
    held = (force >= (peak - 2.0 * noise)[:, None]).argmax(axis=1)
    return peak, added, np.where(noise > 0.0, held, force.argmax(axis=1))


def rises_to(time: Array, force: Array, level: Array) -> Array:
    """Return when every row first rises to a level in N, in s; linear between samples."""
    after = np.maximum((force >= level[:, None]).argmax(axis=1), 1)
    return _crossing(time, force, level, after)


def falls_to(time: Array, force: Array, level: Array) -> Array:
    """Return when every row last falls to a level in N, in s; linear between samples."""
    size = force.shape[1]
    reverse = (force[:, ::-1] >= level[:, None]).argmax(axis=1)
    return _crossing(time, force, level, np.clip(size - reverse, 1, size - 1))


def _crossing(time: Array, force: Array, level: Array, after: Places) -> Array:
    rows = np.arange(len(force))
    low, high = force[rows, after - 1], force[rows, after]
    step = np.where(high == low, 1.0, high - low)
    share = np.clip((level - low) / step, 0.0, 1.0)
    moment: Array = time[rows, after - 1] + share * (time[rows, after] - time[rows, after - 1])
    return moment


def contact_of(time: Array, force: Array, level: Array) -> tuple[Array, Array]:
    """Return when the force leaves zero and when it is back, in s.

    Each flank is continued to zero through the moments at which it has a low level and twice that.
    """
    up = 2.0 * rises_to(time, force, level) - rises_to(time, force, 2.0 * level)
    down = 2.0 * falls_to(time, force, level) - falls_to(time, force, 2.0 * level)
    return up, down


def hold_of(time: Array, force: Array, peak: Array, held: Places) -> tuple[Array, Array]:
    """Return how long in s the force is held after its peak, and the share it falls by meanwhile.

    The hold ends at the bend before the last fall to 60 %, the sample furthest above the straight
    line from the peak to there. Not-a-number where the bend is not near the end: nothing was held.
    """
    rows, columns = np.arange(len(force)), np.arange(force.shape[1])[None, :]
    begin = time[rows, held]
    end = falls_to(time, force, HOLD_END * peak)
    span = np.maximum(end - begin, 1e-12)
    share = (time - begin[:, None]) / span[:, None]
    chord = peak[:, None] * (1.0 - (1.0 - HOLD_END) * share)
    above = np.where((columns >= held[:, None]) & (share <= 1.0), force - chord, -np.inf)
    bend = above.argmax(axis=1)
    hold = time[rows, bend] - begin
    decay = np.maximum(1.0 - force[rows, bend] / peak, 0.0)
    flat = hold > FLAT_SHARE * span
    return np.where(flat, hold, np.nan), np.where(flat, decay, np.nan)


def strokes_of(time: Array, force: Array, peak: float) -> int:
    """Return in how many strokes one pulse (samples,) was pumped up; 0 if in one go.

    A stroke is a stretch of the rise that is at least a third as steep as the rise on the whole
    and gains at least a hundredth of the peak; strokes are parted by stretches that are not.
    """
    begin, top = int((force > 0.02 * peak).argmax()), int(force.argmax())
    if top - begin < 12:
        return 0
    slope = np.gradient(force[begin : top + 1], time[begin : top + 1])
    steep = slope > peak / (time[top] - time[begin]) / 3.0
    edges = np.flatnonzero(np.diff(steep.astype(np.int8), prepend=0, append=0))
    gained = [
        force[begin + stop - 1] - force[begin + start]
        for start, stop in zip(edges[::2], edges[1::2], strict=True)
    ]
    count = sum(gain > 0.01 * peak for gain in gained)
    return count if count > 1 else 0
