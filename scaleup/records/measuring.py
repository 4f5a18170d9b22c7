"""Every compression of a log measured, many at a time, in one pass."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np

from scaleup.arrays import Array, Flags, Places
from scaleup.records.figures import (
    WELL_SAMPLED,
    Tops,
    area_of,
    contact_of,
    falls_to,
    hold_of,
    rises_to,
    smoothed,
    strokes_of,
    tops_of,
)
from scaleup.records.finder import LEAST_MARGIN, MARGIN, Finder, Stretches

NOISE_WANTED, TOP_NOISE = 1e-3, 3e-4
"""Noise of a smoothed sample, and of the peak, as a share of it, for which more is averaged."""
TOP_PART, FLANK_PART = 8, 16
"""Averages are at most a quarter as long as the time above 90 %, 1/8 to either side, and an
eighth of the steeper flank, so that neither peak nor flank is moved."""
ENOUGH_ABOVE = 2000
"""Samples above 90 % from which neighbours are averaged first."""
BATCH = 2_000_000
"""Samples measured at a time."""
LEAST_ABOVE = 5
"""Samples above 90 % below which no time above 90 % and no dwell are told."""
TOO_NOISY = 0.02
"""Noise of a smoothed sample, as a share of the peak, from which nothing is told."""
CLIPPED_RUN = 5
"""Equal samples at the top of a noisy pulse that mean clipping."""
SHAPES_KEPT = 24
SHAPE_POINTS = 2000
LONG = 0.5
"""s; longer compressions are looked at for pump strokes."""

Dwell = Callable[[Array, Array], Array]
"""Effective dwell in s from times (samples, pulses) in s and shares of the peak."""


@dataclass(frozen=True)
class Pulses:
    """Figures of compressions, each of shape (compressions,); not-a-number is not available."""

    start: Array
    """s, on the log's own clock."""
    moment: Array
    """When the peak is reached, s."""
    peak: Array
    """N, above the zero around the pulse."""
    peak_error: Array
    """N, three standard deviations: two of noise, and what averaging may have lowered."""
    rise: Array
    """From 10 to 90 % of the peak, s."""
    above_90: Array
    """Time above 90 % of the peak, s."""
    above_90_error: Array
    contact: Array
    """s."""
    area: Array
    """Integral of force, N s."""
    dwell: Array
    """Effective dwell at the rate exponent asked, s."""
    hold: Array
    """s from the peak to the end of the hold."""
    decay: Array
    """Share of the peak by which the force falls meanwhile."""
    strokes: Array
    """Strokes it was pumped up in; 0 for one go."""
    ejection: Array
    """Highest ejection force until the next compression, N."""
    in_die: Array
    """Least distance of the tips, deflection allowed for, mm."""
    zero: Array
    """Zero around the pulse, N."""
    samples_above_90: Array
    clipped: Array
    """1 where the top is cut off."""
    gap: Array
    """1 where samples are missing within."""
    added: Array
    """Share of the peak that was added because its top is round."""

    @property
    def count(self) -> int:
        """Return the number of compressions."""
        return int(self.peak.size)

    @classmethod
    def joined(cls, parts: list[Pulses]) -> Pulses:
        """Return the compressions of several stretches, in order of time."""
        whole = {
            each.name: np.concatenate([getattr(part, each.name) for part in parts])
            if parts
            else np.zeros(0)
            for each in fields(cls)
        }
        order = np.argsort(whole["start"], kind="stable")
        return cls(**{name: values[order] for name, values in whole.items()})


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
class Wanted:
    """How a log is to be measured."""

    dwell: Dwell
    exponent: float = 0.0
    """The rate exponent that the dwell is of."""
    compliance: float | None = None
    """mm/N, by which the tips stand apart more than the gauge says; None if not known."""
    range: float | None = None
    """N at which the gauge ends."""
    first_shape: int = 0
    """Compression, counted from 0, from which on samples are kept."""


def measured(finder: Finder, wanted: Wanted) -> tuple[Pulses, list[Shape]]:
    """Return every compression of a log, and the shapes of the first ones."""
    parts: list[Pulses] = []
    shapes: list[Shape] = []
    for stretches in finder.stretches():
        so_far = sum(part.count for part in parts)
        kept = range(wanted.first_shape - so_far, wanted.first_shape - so_far + SHAPES_KEPT)
        found = _measured(stretches, finder, wanted, kept, shapes)
        if parts and stretches.last_ejection is not None:
            last = parts[-1].ejection
            last[-1] = np.fmax(last[-1], stretches.last_ejection - finder.ejection_zero)
        parts.append(found)
    return Pulses.joined(parts), shapes


def _measured(
    stretches: Stretches, finder: Finder, wanted: Wanted, kept: range, shapes: list[Shape]
) -> Pulses:
    first, stop = stretches.first, stretches.stop
    margin = np.maximum((MARGIN * (stop - first)).astype(np.intp), LEAST_MARGIN)
    ahead = np.minimum(margin, (first - stretches.before) // 2)
    behind = np.minimum(margin, (stretches.after - stop) // 2)
    width = stop - first + ahead + behind
    group = np.floor(2.0 * np.log2(width)).astype(np.intp)
    parts = []
    for size in np.unique(group):
        members = np.flatnonzero(group == size)
        step = max(BATCH // int(width[members].max()), 1)
        for begin in range(0, members.size, step):
            some = members[begin : begin + step]
            block = _Block.of(stretches, some, ahead[some], behind[some])
            parts.append(_figures(block, stretches, finder, wanted))
            shapes += [block.shape(row) for row, each in enumerate(some) if each in kept]
    whole = Pulses.joined(parts)
    if stretches.piece.ejection is not None:
        whole.ejection[:] = _ejections(stretches, stretches.piece.ejection) - finder.ejection_zero
    shapes.sort(key=lambda each: float(each.time[0]))
    return whole


@dataclass(frozen=True)
class _Block:
    """Compressions of similar length as rows of one array each."""

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
    noise: float
    """Of a smoothed sample, N."""
    averaged: int

    @classmethod
    def of(cls, stretches: Stretches, some: Places, ahead: Places, behind: Places) -> _Block:
        piece = stretches.piece
        begin, end = stretches.first[some] - ahead, stretches.stop[some] + behind
        width = int((end - begin).max())
        places = begin[:, None] + np.arange(width)[None, :]
        inside = places < end[:, None]
        places = np.minimum(places, (end - 1)[:, None])
        raw = piece.force[places]
        zero = _zeros(raw, ahead, behind, end - begin, stretches.idle.zero)
        force = np.where(inside, raw - zero[:, None], 0.0)
        top = raw.max(axis=1)
        at_top = ((raw == top[:, None]) & inside).sum(axis=1)
        time, position = piece.time[places], None
        if piece.position is not None:
            position = piece.position[places]
        above = int(np.median((force > 0.9 * force.max(axis=1)[:, None]).sum(axis=1)))
        averaged = max(above // ENOUGH_ABOVE, 1)
        if averaged > 1:
            time, force = _averaged(time, averaged), _averaged(force, averaged)
            position = None if position is None else _averaged(position, averaged)
        noise = stretches.idle.noise / float(np.sqrt(averaged))
        peak, room = float(np.median(force.max(axis=1))), above // averaged // TOP_PART
        tops = tops_of(force, noise, min(_half(noise, peak, TOP_NOISE), room))
        half = _half(noise, peak, NOISE_WANTED)
        half = min(half, _shortest_flank(force) // FLANK_PART, room)
        level = noise / float(np.sqrt(2 * half + 1))
        smooth = smoothed(force, half)
        position = None if position is None else smoothed(position, half)
        return cls(time, smooth, tops, top, at_top, position, zero, level, averaged)

    def shape(self, row: int) -> Shape:
        """Return one compression, thinned where it has many samples."""
        last = int((np.diff(self.time[row]) > 0.0).sum()) + 1
        step = max(last // SHAPE_POINTS, 1)
        position = None if self.position is None else self.position[row, :last:step].copy()
        time, force = self.time[row, :last:step].copy(), self.force[row, :last:step].copy()
        return Shape(time, force, position)


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


def _zeros(raw: Array, ahead: Places, behind: Places, width: Places, usual: float) -> Array:
    """Return the zero around every row: the mean of the outer halves of its idle samples."""
    columns = np.arange(raw.shape[1])[None, :]
    early = columns < (ahead // 2)[:, None]
    late = (columns >= (width - behind // 2)[:, None]) & (columns < width[:, None])
    quiet = early | late
    count = quiet.sum(axis=1)
    mean = np.where(quiet, raw, 0.0).sum(axis=1) / np.maximum(count, 1)
    result: Array = np.where(count >= 4, mean, usual)
    return result


def _figures(block: _Block, stretches: Stretches, finder: Finder, wanted: Wanted) -> Pulses:
    time, force = block.time, block.force
    rows = np.arange(len(force))
    # Hum may lift the peak and lower the zero around it.
    hum = 0.0 if finder.hum is None else 2.0 * finder.hum.amplitude
    peak = np.maximum(block.tops.peak, 1e-9)
    near_top = np.minimum(peak - 2.0 * block.noise, force.max(axis=1))
    held = (force >= near_top[:, None]).argmax(axis=1)
    up, down = rises_to(time, force, 0.9 * peak), falls_to(time, force, 0.9 * peak)
    above_90 = down - up
    samples = block.averaged * (force >= 0.9 * peak[:, None]).sum(axis=1)
    step = finder.step
    coarse: Array = np.where(
        samples < WELL_SAMPLED, peak * (1.0 - 0.9) / np.maximum(samples, 1) ** 2, 0.0
    )
    peak_error = 3.0 * block.tops.error + hum + coarse + block.tops.added
    flanks = [
        np.abs(find(time, force, 0.92 * peak) - find(time, force, 0.88 * peak)) / (0.04 * peak)
        for find in (rises_to, falls_to)
    ]
    error = (flanks[0] + flanks[1]) * (2.0 * block.noise + 0.9 * peak_error) + 0.1 * step
    low = np.maximum(0.01 * peak, 4.0 * block.noise + hum)
    begin, end = contact_of(time, force, low)
    hold, decay = hold_of(time, force, peak, held)
    share = np.clip(force / peak[:, None], 0.0, None)
    # Noise adds to the mean of a high power: exp(variance/2) for a power 1/m of normal scatter.
    power = 0.0 if wanted.exponent <= 0.0 else block.noise / wanted.exponent
    dwell = wanted.dwell(time.T, share.T) / np.exp(0.5 * (power / peak) ** 2)
    strokes = [
        float(strokes_of(time[row], force[row], float(peak[row])))
        if end[row] - begin[row] > LONG
        else 0.0
        for row in rows
    ]
    in_die = np.full(len(force), np.nan)
    if block.position is not None and wanted.compliance is not None:
        in_die = (block.position + wanted.compliance * force).min(axis=1)
    clipped = _clipped(block, stretches, wanted.range)
    noisy = block.noise > TOO_NOISY * peak
    known = ~noisy & ~clipped
    timed = known & (samples >= LEAST_ABOVE)
    gap = _in_gap(stretches, time[:, 0])

    def only(values: Array, where: Flags) -> Array:
        return np.where(where & ~gap, values, np.nan)

    return Pulses(
        start=begin,
        moment=time[rows, held],
        peak=only(peak, known),
        peak_error=only(peak_error, known),
        rise=only(up - rises_to(time, force, 0.1 * peak), timed & (low < 0.1 * peak)),
        above_90=only(above_90, timed),
        above_90_error=only(error, timed),
        contact=only(end - begin, ~noisy & (low < 0.1 * peak)),
        area=only(area_of(time, force), known),
        dwell=only(dwell, timed),
        hold=only(hold, timed & (samples >= WELL_SAMPLED)),
        decay=only(decay, timed & (samples >= WELL_SAMPLED)),
        strokes=np.array(strokes),
        ejection=np.full(len(force), np.nan),
        in_die=only(in_die, ~noisy),
        zero=block.zero,
        samples_above_90=samples.astype(np.float64),
        clipped=clipped.astype(np.float64),
        gap=gap.astype(np.float64),
        added=block.tops.added / peak,
    )


def _in_gap(stretches: Stretches, begin: Array) -> Flags:
    """Return which rows have samples missing, found again by where they begin."""
    broken = stretches.gap
    if not broken.any():
        return np.zeros(begin.size, dtype=bool)
    starts = stretches.piece.time[stretches.first]
    found: Flags = broken[np.minimum(np.searchsorted(starts, begin), starts.size - 1)]
    return found


def _clipped(block: _Block, stretches: Stretches, range_: float | None) -> Flags:
    """Return which tops are cut off at the gauge's range.

    Where the range is given, those that reach it; else those of a noisy log whose top is a run of
    equal samples, which noise would not leave equal.
    """
    if range_ is not None:
        reached: Flags = block.raw_top >= 0.999 * range_
        return reached
    idle = stretches.idle
    same: Flags = (block.at_top >= CLIPPED_RUN) & (idle.noise > 0.0)
    if not same.any():
        return same
    quantum = _quantum(stretches)
    return same & (idle.noise > 0.5 * quantum)


def _quantum(stretches: Stretches) -> float:
    """Return the step of the converter in N, seen as the least difference of two samples."""
    steps = np.abs(np.diff(stretches.piece.force[:50_000]))
    steps = steps[steps > 0.0]
    return float(steps.min()) if steps.size else 0.0


def _ejections(stretches: Stretches, ejection: Array) -> Array:
    """Return the highest ejection force in N from each compression to the next."""
    bounds = np.column_stack([stretches.stop, stretches.after]).ravel()
    highest: Array = np.maximum.reduceat(ejection, np.minimum(bounds, ejection.size - 1))[::2]
    return highest
