"""Compressions of similar length as rows of one array each, their zero taken off, smoothed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from scaleup.arrays import Array, Flags, Places
from scaleup.pulses.finder import Stretches
from scaleup.pulses.pulse_figures import Tops, smoothed, tops_of
from scaleup.short_repr import short_repr

NOISE_WANTED, TOP_NOISE = 1e-3, 3e-4
"""Noise of a smoothed sample, and of the peak, as a share of it, for which more is averaged."""
TOP_PART, FLANK_PART = 8, 16
"""Averages are at most a quarter as long as the time above 90 %, 1/8 to either side, and an
eighth of the steeper flank, so that neither peak nor flank is moved."""
ENOUGH_ABOVE = 150
"""Samples above 90 % that are enough for times and areas: neighbours are averaged where there are
twice as many. The peak is taken before."""
TOP = 0.85
"""Share of the highest sample above which the peak is looked for."""
LEAST_IDLE = 4
"""Idle samples from which the zero on one side is told."""
UNEVEN = 0.25
"""Share of its change under a compression by which the zero may depart from a straight line (a
judgement of this program)."""
SHAPE_POINTS = 2000


@short_repr
@dataclass(frozen=True)
class Shape:
    """The samples of one compression, the zero taken off, smoothed as it was measured."""

    time: Array
    """s, on the log's own clock."""
    force: Array
    """N."""
    position: Array | None
    """Distance of the tips as the gauge reads it, mm."""


@dataclass(frozen=True)
class Block:
    """Rows of one length: a compression each, its last sample repeated where it is shorter."""

    time: Array
    force: Array
    """Zero taken off, smoothed."""
    tops: Tops
    raw_top: Array
    """Highest raw sample, shape (pulses,)."""
    at_top: Array
    """How many raw samples equal it."""
    position: Array | None
    zero: Array
    """Zero under the middle of every row, N, shape (pulses,); not-a-number where none is known."""
    zero_error: Array
    """By how much in N it may be off."""
    zero_change: Array
    """From before every row to after it, N."""
    noise: float
    """Of a smoothed sample, N."""
    averaged: int
    last: Places
    """Place of the last sample of every row."""

    @classmethod
    def of(cls, stretches: Stretches, some: Places, ahead: Places, behind: Places) -> Block:
        """Return some compressions, with so many idle samples ahead of and behind each."""
        piece = stretches.piece
        begin, end = stretches.first[some] - ahead, stretches.stop[some] + behind
        size = end - begin
        raw, inside = _rows(piece.force, begin, size)
        zero = ZeroLine.of(raw, ahead, behind, size, stretches, some)
        force = np.where(inside, raw - zero.under(raw.shape[1]), 0.0)
        top = np.where(inside, raw, -np.inf).max(axis=1)
        at_top = ((raw == top[:, None]) & inside).sum(axis=1)
        time = _rows(piece.time, begin, size)[0]
        last = time[np.arange(len(raw)), size - 1]
        time = np.where(inside, time, last[:, None])
        position = None
        if piece.position is not None:
            position = _rows(piece.position, begin, size)[0]
            position = np.where(inside, position, position[:, :1])
        highest = force.max(axis=1)
        above = int(np.median((force > 0.9 * highest[:, None]).sum(axis=1)))
        noise, peak = stretches.idle.noise, float(np.median(highest))
        near = np.flatnonzero((force >= TOP * highest[:, None]).any(axis=0))
        around = slice(max(near[0] - 2, 0), near[-1] + 3)
        tops = tops_of(
            force[:, around], noise, min(_half(noise, peak, TOP_NOISE), above // TOP_PART)
        )
        averaged = max(above // ENOUGH_ABOVE, 1)
        if averaged > 1:
            time, force = _averaged(time, averaged), _averaged(force, averaged)
            position = None if position is None else _averaged(position, averaged)
        noise /= float(np.sqrt(averaged))
        half = _half(noise, peak, NOISE_WANTED)
        half = min(half, _shortest_flank(force) // FLANK_PART, above // averaged // TOP_PART)
        level = noise / float(np.sqrt(2 * half + 1))
        smooth = smoothed(force, half)
        position = None if position is None else smoothed(position, half)
        return cls(
            time, smooth, tops, top, at_top, position, zero.middle, zero.error,
            zero.change, level, averaged,
            np.maximum(size // averaged - 1, 0),
        )  # fmt: skip

    def shape(self, row: int) -> Shape:
        """Return one compression, thinned where it has many samples."""
        last = int(self.last[row]) + 1
        step = max(last // SHAPE_POINTS, 1)
        position = None if self.position is None else self.position[row, :last:step].copy()
        time, force = self.time[row, :last:step].copy(), self.force[row, :last:step].copy()
        return Shape(time, force, position)


def _rows(values: Array, begin: Places, size: Places) -> tuple[Array, Flags]:
    """Return stretches of values as rows of equal length, and which samples are of the stretch."""
    width = int(size.max())
    inside = np.arange(width) < size[:, None]
    if begin.max() + width <= values.size:
        return sliding_window_view(values, width)[begin], inside
    places = np.minimum(begin[:, None] + np.arange(width), values.size - 1)
    return values[places], inside


def _averaged(values: Array, count: int) -> Array:
    """Return the means of so many neighbours, what is left over at the end dropped."""
    size = values.shape[1] // count * count
    result: Array = values[:, :size].reshape(len(values), -1, count).mean(axis=2)
    return result


def _half(noise: float, peak: float, wanted: float) -> int:
    """Return how many samples to either side are averaged to leave a wanted share of noise."""
    if peak <= 0.0 or noise <= wanted * peak:
        return 0
    return int(0.5 * (noise / (wanted * peak)) ** 2) + 1


def _shortest_flank(force: Array) -> int:
    """Return how many samples the steepest flanks of some rows take from 10 to 90 % of the peak."""
    top = force.max(axis=1)[:, None]
    count = force.shape[1]
    shortest = []
    for values in (force, force[:, ::-1]):
        low, high = ((values >= share * top).argmax(axis=1) for share in (0.1, 0.9))
        shortest.append(np.quantile(np.maximum(high - low, 0), 0.1))
    return int(min(*shortest, count))


@dataclass(frozen=True)
class ZeroLine:
    """The zero under rows: straight between the idle samples before and those after, in N."""

    early: Array
    late: Array
    error: Array
    begin: Array
    """Column at which the early zero was seen, shape (pulses,)."""
    end: Array

    @classmethod
    def of(
        cls,
        raw: Array,
        ahead: Places,
        behind: Places,
        width: Places,
        found: Stretches,
        some: Places,
    ) -> ZeroLine:
        """Return the zero from the outer halves of the idle samples; else that of the finder."""
        near_start = _mean(raw, np.zeros_like(ahead), ahead // 2)
        near_end = _mean(raw, width - behind // 2, width)
        one = np.where(np.isnan(near_start), near_end, near_start)
        alone = np.isnan(one)
        early = np.where(alone, found.zero[some], one)
        late = np.where(np.isnan(near_end), early, near_end)
        count = np.maximum(np.minimum(ahead, behind) // 2, LEAST_IDLE)
        error = 2.0 * found.idle.noise / np.sqrt(count) + UNEVEN * np.abs(late - early)
        error = np.where(alone, found.zero_error[some], np.maximum(error, found.zero_error[some]))
        begin: Array = 0.25 * ahead.astype(np.float64)
        end: Array = width.astype(np.float64) - 0.25 * behind
        return cls(early, late, error, begin, end)

    @property
    def middle(self) -> Array:
        """Return the zero under the middle of every row."""
        result: Array = 0.5 * (self.early + self.late)
        return result

    @property
    def change(self) -> Array:
        """Return by how much the zero differs from one end of every row to the other, N."""
        result: Array = np.abs(self.late - self.early)
        return result

    def under(self, width: int) -> Array:
        """Return the zero under every sample, shape (pulses, width)."""
        slope = (self.late - self.early) / np.maximum(self.end - self.begin, 1.0)
        first = np.nan_to_num(self.early - slope * self.begin)
        result: Array = first[:, None] + np.nan_to_num(slope)[:, None] * np.arange(width)
        return result


def _mean(raw: Array, begin: Places, end: Places) -> Array:
    """Return the mean of a stretch of every row, not-a-number where it is of few samples."""
    size = np.maximum(end - begin, 0)
    columns = np.arange(int(size.max(initial=0)))
    if columns.size < LEAST_IDLE:
        return np.full(len(raw), np.nan)
    places = np.minimum(begin[:, None] + columns, raw.shape[1] - 1)
    inside = columns < size[:, None]
    values = np.where(inside, raw[np.arange(len(raw))[:, None], places], 0.0)
    total: Array = values.sum(axis=1) / np.maximum(size, 1)
    return np.where(size >= LEAST_IDLE, total, np.nan)
