"""Every compression of a log measured, many at a time, in one pass."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np

from scaleup.arrays import Array, Flags, Places
from scaleup.pulses.block import Block, Shape
from scaleup.pulses.finder import LEAST_MARGIN, MARGIN, Finder, Stretches
from scaleup.pulses.pulse_figures import (
    WELL_SAMPLED,
    area_of,
    contact_of,
    falls_to,
    hold_of,
    rises_to,
    strokes_of,
)
from scaleup.short_repr import short_repr

BATCH = 2_000_000
"""Samples measured at a time."""
LEAST_ABOVE = 5
"""Samples above 90 % below which no time above 90 % and no dwell are told."""
TOO_NOISY = 0.02
"""Noise of a smoothed sample, as a share of the peak, from which nothing is told."""
MOST_SCATTER = 1.0
"""Scatter of ``ln(P^(1/m))`` by noise from which no effective dwell is told."""
MOST_EXPONENT = 600.0
"""exp of it, over a pulse of any length, is finite."""
CLIPPED_RUN = 5
"""Equal samples at the top of a noisy pulse that mean clipping."""
SHAPES_KEPT = 24
LONG = 0.5
"""s; longer compressions are looked at for pump strokes."""

Dwell = Callable[[Array, Array], Array]
"""Effective dwell in s from times (samples, pulses) in s and shares of the peak."""


@short_repr
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
        pulses = _measured(stretches, finder, wanted, kept, shapes)
        if parts and stretches.last_ejection is not None:
            last = parts[-1].ejection
            last[-1] = np.fmax(last[-1], stretches.last_ejection - finder.ejection_zero)
        parts.append(pulses)
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
            block = Block.of(stretches, some, ahead[some], behind[some])
            parts.append(_figures(block, stretches, finder, wanted))
            shapes += [block.shape(row) for row, each in enumerate(some) if each in kept]
    whole = Pulses.joined(parts)
    if stretches.piece.ejection is not None:
        whole.ejection[:] = _ejections(stretches, stretches.piece.ejection) - finder.ejection_zero
    shapes.sort(key=lambda each: float(each.time[0]))
    return whole


@dataclass(frozen=True)
class _Peaks:
    """The tops of a block's rows, each of shape (pulses,)."""

    value: Array
    """N."""
    error: Array
    """N."""
    held: Places
    """Sample where the force first is as high as its noise lets it be told from the peak."""
    up: Array
    """When in s the force rises to 90 %."""
    down: Array
    """When in s it falls to 90 %."""
    samples: Array
    """Raw samples above 90 %."""

    @classmethod
    def of(cls, block: Block, hum: float) -> _Peaks:
        """Return the tops; hum in N may lift a peak and lower the zero around it."""
        time, force = block.time, block.force
        value = np.maximum(block.tops.peak, 1e-9)
        near_top = np.minimum(value - 2.0 * block.noise, force.max(axis=1))
        samples = block.averaged * (force >= 0.9 * value[:, None]).sum(axis=1)
        coarse: Array = np.where(
            samples < WELL_SAMPLED, value * (1.0 - 0.9) / np.maximum(samples, 1) ** 2, 0.0
        )
        return cls(
            value=value,
            error=3.0 * block.tops.error + hum + coarse + block.tops.added,
            held=(force >= near_top[:, None]).argmax(axis=1),
            up=rises_to(time, force, 0.9 * value),
            down=falls_to(time, force, 0.9 * value),
            samples=samples,
        )


def _figures(block: Block, stretches: Stretches, finder: Finder, wanted: Wanted) -> Pulses:
    time, force = block.time, block.force
    hum = 0.0 if finder.hum is None else 2.0 * finder.hum.amplitude
    peaks = _Peaks.of(block, hum)
    peak, samples = peaks.value, peaks.samples
    low = np.maximum(0.01 * peak, 4.0 * block.noise + hum)
    begin, end = contact_of(time, force, low)
    hold, decay = hold_of(time, force, peak, peaks.held)
    clipped = _clipped(block, stretches, wanted.range)
    noisy = block.noise > TOO_NOISY * peak
    known = ~noisy & ~clipped
    timed = known & (samples >= LEAST_ABOVE)
    gap = _in_gap(stretches, time[:, 0])

    def only(values: Array, where: Flags) -> Array:
        return np.where(where & ~gap, values, np.nan)

    return Pulses(
        start=begin,
        moment=time[np.arange(len(force)), peaks.held],
        peak=only(peak, known),
        peak_error=only(peaks.error, known),
        rise=only(peaks.up - rises_to(time, force, 0.1 * peak), timed & (low < 0.1 * peak)),
        above_90=only(peaks.down - peaks.up, timed),
        above_90_error=only(_above_90_error(block, peaks, finder.step), timed),
        contact=only(end - begin, ~noisy & (low < 0.1 * peak)),
        area=only(area_of(time, force), known),
        dwell=only(_dwell(block, peak, wanted), timed),
        hold=only(hold, timed & (samples >= WELL_SAMPLED)),
        decay=only(decay, timed & (samples >= WELL_SAMPLED)),
        strokes=_strokes(block, peak, end - begin),
        ejection=np.full(len(force), np.nan),
        in_die=only(_in_die(block, wanted.compliance), ~noisy),
        zero=block.zero,
        samples_above_90=samples.astype(np.float64),
        clipped=clipped.astype(np.float64),
        gap=gap.astype(np.float64),
        added=block.tops.added / peak,
    )


def _above_90_error(block: Block, peaks: _Peaks, step: float) -> Array:
    """Return by how many s the time above 90 % may be off: noise over the slope of each flank."""
    peak = peaks.value
    flanks = [
        np.abs(
            find(block.time, block.force, 0.92 * peak) - find(block.time, block.force, 0.88 * peak)
        )
        / (0.04 * peak)
        for find in (rises_to, falls_to)
    ]
    error: Array = (flanks[0] + flanks[1]) * (2.0 * block.noise + 0.9 * peaks.error) + 0.1 * step
    return error


def _dwell(block: Block, peak: Array, wanted: Wanted) -> Array:
    """Return the effective dwells in s, not-a-number where noise alone would decide them.

    Noise adds to the mean of a high power, ``exp(variance/2)`` for a power 1/m of normal scatter;
    that is taken off again.
    """
    scatter = block.noise / peak  # of the logarithm of the force; 1/m times that of the power
    told = scatter < MOST_SCATTER * wanted.exponent
    dwell = np.full(peak.size, np.nan)
    if not told.any():
        return dwell
    bound = np.exp(MOST_EXPONENT * wanted.exponent)  # of a spike; its power stays finite
    share = np.clip(block.force[told] / peak[told, None], 0.0, bound)
    raised = np.exp(0.5 * (scatter[told] / wanted.exponent) ** 2)
    dwell[told] = wanted.dwell(block.time[told].T, share.T) / raised
    return dwell


def _strokes(block: Block, peak: Array, contact: Array) -> Array:
    """Return the pump strokes of every row, looked for in the long ones."""
    strokes = np.zeros(len(peak))
    for row in np.flatnonzero(contact > LONG):
        strokes[row] = strokes_of(block.time[row], block.force[row], float(peak[row]))
    return strokes


def _in_die(block: Block, compliance: float | None) -> Array:
    """Return the least distance of the tips in mm, not-a-number where it is not known."""
    if block.position is None or compliance is None:
        return np.full(len(block.force), np.nan)
    least: Array = (block.position + compliance * block.force).min(axis=1)
    return least


def _in_gap(stretches: Stretches, begin: Array) -> Flags:
    """Return which rows have samples missing, found again by where they begin."""
    broken = stretches.gap
    if not broken.any():
        return np.zeros(begin.size, dtype=bool)
    starts = stretches.piece.time[stretches.first]
    inside: Flags = broken[np.minimum(np.searchsorted(starts, begin), starts.size - 1)]
    return inside


def _clipped(block: Block, stretches: Stretches, range_: float | None) -> Flags:
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
