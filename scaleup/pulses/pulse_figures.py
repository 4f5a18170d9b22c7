"""Figures of many logged pulses at once: peaks, crossings of a level, hold and decay.

Rows are pulses: `time` in s and `force` in N have shape (pulses, samples), samples that lie outside
a pulse repeat its last time and read 0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from scaleup.arrays import Array, Places
from scaleup.pulses.flanks import falls_to

WELL_SAMPLED = 20
"""Samples above 90 % of the peak that a log should have of each pulse."""
ALIKE = 1.5
"""Noises by which a longer mean may lie from a shorter one and still tell the same."""
HOLD_END = 0.6
"""Share of the peak below which a force is no longer held."""
FLAT_SHARE = 0.75
"""The part of the fall to that before its bend, from which a pulse counts as held."""


def smoothed(values: Array, half: int) -> Array:
    """Return rows averaged over 2 half + 1 samples, in phase.

    A mean keeps a straight flank where it is, and never shows more than the highest sample; a
    polynomial smoother would overshoot beside a steep one.
    """
    if half < 1:
        return values
    from scipy.ndimage import uniform_filter1d  # noqa: PLC0415  few commands smooth

    result: Array = uniform_filter1d(values, 2 * half + 1, axis=1, mode="nearest")
    return result


@dataclass(frozen=True)
class Tops:
    """The peaks of rows, arrays of shape (pulses,)."""

    peak: Array
    """N."""
    error: Array
    """Standard deviation of the peak by noise, N."""
    added: Array
    """What was added to the samples because a top is round, N."""


def tops_of(force: Array, noise: float, half: int) -> Tops:
    """Return the peak of every row.

    It is the highest mean over as many samples as the top allows: means lie below a round or a
    falling top, the more the longer they are, so the length is doubled only while the highest mean
    stays within the noise of every shorter one (Lepski's rule). The highest of many noisy means is
    too high; what the highest of so many independent ones exceeds their mean by is taken off.

    Parameters
    ----------
    force
        Raw, the zero taken off, N, shape (pulses, samples).
    noise
        Standard deviation of a raw sample in N.
    half
        Samples to either side that the longest mean is taken over.
    """
    added = _parabola(force)
    levels = [force.max(axis=1) - _excess(force, noise, 0) + added]
    errors = [noise]
    peak, error = levels[0], np.full(len(force), noise)
    good = np.ones(len(force), dtype=bool)
    size = 1
    while size <= half:
        means = smoothed(force, size)
        level = means.max(axis=1) - _excess(means, noise, size)
        for shorter, spread in zip(levels, errors, strict=True):
            good &= np.abs(level - shorter) <= ALIKE * spread
        levels.append(level)
        errors.append(noise / float(np.sqrt(2.0 * size + 1.0)))
        peak, error = np.where(good, level, peak), np.where(good, errors[-1], error)
        added = np.where(good, 0.0, added)
        size *= 2
    return Tops(peak, error, added)


def _excess(means: Array, noise: float, half: int) -> Array:
    """Return by how much in N the highest of the means near the top exceeds them by noise alone."""
    if noise <= 0.0:
        return np.zeros(len(means))
    length = 2 * half + 1
    spread = noise / float(np.sqrt(length))
    alike = (means > (means.max(axis=1) - 3.0 * spread)[:, None]).sum(axis=1) / length
    # Blom's approximation to the mean of the highest of so many normal values.
    count = np.maximum(alike, 1.0)
    excess: Array = spread * ndtri((count - 0.375) / (count + 0.25))
    return np.maximum(excess, 0.0)


def _parabola(force: Array) -> Array:
    """Return how far in N the parabola through the three highest samples rises above them.

    At most a quarter of the step beside the top, and only for a pulse of few samples: the kink at
    the beginning of a hold is no parabola.
    """
    rows = np.arange(len(force))
    top = np.clip(force.argmax(axis=1), 1, force.shape[1] - 2)
    left, middle, right = (force[rows, top + shift] for shift in (-1, 0, 1))
    bend = left - 2.0 * middle + right
    curved = bend < -1e-12 * np.abs(middle)
    gain = np.where(curved, -((right - left) ** 2) / (8.0 * np.where(curved, bend, -1.0)), 0.0)
    limit = 0.25 * np.maximum(middle - np.minimum(left, right), 0.0)
    few = (force >= 0.9 * middle[:, None]).sum(axis=1) < WELL_SAMPLED
    return np.where(few, np.minimum(gain, limit), 0.0)


def area_of(time: Array, force: Array) -> Array:
    """Return the integral of every row in N s, straight between samples."""
    area: Array = 0.5 * np.sum((force[:, 1:] + force[:, :-1]) * np.diff(time, axis=1), axis=1)
    return area


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
    and gains at least a hundredth of the peak; strokes are parted by stretches that are not. Slopes
    are taken over a fiftieth of the rise.
    """
    begin, top = int((force > 0.02 * peak).argmax()), int((force > 0.99 * peak).argmax())
    if top - begin < 12:
        return 0
    apart = max((top - begin) // 100, 1)
    inner = np.arange(begin + apart, top + 1)
    ahead = np.minimum(inner + apart, top)
    slope = (force[ahead] - force[inner - apart]) / (time[ahead] - time[inner - apart])
    begin += apart
    steep = slope > peak / (time[top] - time[begin]) / 3.0
    edges = np.flatnonzero(np.diff(steep.astype(np.int8), prepend=0, append=0))
    gained = [
        force[begin + stop - 1] - force[begin + start]
        for start, stop in zip(edges[::2], edges[1::2], strict=True)
    ]
    count = sum(gain > 0.01 * peak for gain in gained)
    return count if count > 1 else 0
