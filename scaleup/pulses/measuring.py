"""Every compression of a log measured, many at a time, in one pass."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array, Flags, Places
from scaleup.errors import Fault, InputError
from scaleup.pulses.block import Block, Shape
from scaleup.pulses.clipping import MANY, cut_off
from scaleup.pulses.finder import Finder, Stretches
from scaleup.pulses.flanks import WIDE, Crossings, Flank, foot_of
from scaleup.pulses.pulse_figures import WELL_SAMPLED, area_of, hold_of, strokes_of
from scaleup.pulses.pulses_found import Pulses
from scaleup.pulses.read_ahead import read_ahead

BATCH = 200_000
"""Samples measured at a time: they stay in the cache."""
LEAST_ABOVE = 5
"""Samples above 90 % below which no time above 90 % and no dwell are told."""
TOO_NOISY = 0.02
"""Noise of a smoothed sample, as a share of the peak, from which nothing is told."""
MOST_SCATTER = 1.0
"""Scatter of ``ln(P^(1/m))`` by noise from which no effective dwell is told."""
MOST_EXPONENT = 600.0
"""exp of it, over a pulse of any length, is finite."""
CLIPPED_RUN, CLIPPED_SHARE = 5, 0.2
"""Equal samples at the top of a noisy pulse that mean clipping, and their least share of those
above 90 %: noise on a coarse converter leaves a few equal."""
SHAPES_KEPT = 24
NEGLIGIBLE = 12.0
"""What counts less than exp(-12) of the peak is left out of the effective dwell."""
CLOSE = 150
"""Samples of a top from which straight lines between them leave nothing open."""
LEAST_MEETING = 0.03
"""Share of the peak at which two meet, from which no rise is told."""
MOST_MEETING, REACHING = 0.65, 0.25
"""Share of the peak from which nothing is told of two that meet; below, the other one may reach
under the peak with this share of the peak, times the fourth power of the share at which they meet
(a judgement of this program: 0.2 % where they meet at 30 %, as two bell curves do); of a peak that
is not in the middle, less."""
NOISY = 2.0
"""Noise over the step of the converter from which no samples are equal by chance."""
JITTER, KINK = 0.1, 0.5
"""Part of the time between samples by which a crossing may be off; the larger where samples are so
few that a kink may lie between two of them (a judgement of this program)."""
RESTLESS, LEAST_RESTLESS = 0.025, 6
"""Share of the peak by which the zero moves under a compression, in the median of at least so many,
from which a log is refused: a tenth of the peak in four compressions (a judgement of this
program)."""
LONG = 0.5
"""s; longer compressions are looked at for pump strokes."""

Dwell = Callable[[Array, Array], Array]
"""Effective dwell in s from times (samples, pulses) in s and shares of the peak."""


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
    shapes: int = SHAPES_KEPT
    """Compressions whose samples are kept."""


def measured(finder: Finder, wanted: Wanted) -> tuple[Pulses, list[Shape]]:
    """Return every compression of a log, and the shapes of the first ones."""
    parts: list[Pulses] = []
    shapes: list[Shape] = []
    # Found in a thread: what is used of the finder here is known from its first piece on.
    for stretches in read_ahead(finder.stretches()):
        so_far = sum(part.count for part in parts)
        begin = wanted.first_shape - so_far
        kept = range(begin, begin + wanted.shapes)
        pulses = _measured(stretches, finder, wanted, kept, shapes)
        if parts and stretches.last_ejection is not None:
            last = parts[-1].ejection
            last[-1] = np.fmax(last[-1], stretches.last_ejection - finder.ejection_zero)
        parts.append(pulses)
    whole = Pulses.together(parts)
    _refuse_restless(finder, whole)
    return whole, shapes


def _refuse_restless(finder: Finder, pulses: Pulses) -> None:
    """Refuse a log whose zero moves so far within compressions that no figure can be trusted."""
    moved = pulses.zero_change / np.maximum(pulses.size, 1e-9)
    moved = moved[~np.isnan(moved)]
    usual = float(np.median(moved)) if moved.size >= LEAST_RESTLESS else 0.0
    if usual > RESTLESS:
        found = f"a zero that moves by {usual * 100.0:.2g} % of the peak under each compression"
        allowed = f"up to {RESTLESS * 100:g} %, so that peaks can be told from it"
        mend = "Look at gauge, amplifier, earth and cable, and log again."
        raise InputError(Fault(finder.log.shown, "column force", found, allowed, mend))


def _measured(
    stretches: Stretches, finder: Finder, wanted: Wanted, kept: range, shapes: list[Shape]
) -> Pulses:
    first, stop = stretches.first, stretches.stop
    margin = stretches.margin
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
            parts.append(_figures(block, stretches, some, finder, wanted))
            shapes += [block.shape(row) for row, each in enumerate(some) if each in kept]
    whole = Pulses.together(parts)
    if stretches.piece.ejection is not None:
        whole.ejection[:] = _ejections(stretches, stretches.piece.ejection) - finder.ejection_zero
    shapes.sort(key=lambda each: float(each.time[0]))
    return whole


@dataclass(frozen=True)
class _Peaks:
    """The tops of a block's rows and what leads to and from them, each of shape (pulses,)."""

    value: Array
    """N."""
    error: Array
    """N, the zero and all."""
    uneven: Array
    """N, by which samples may be off each for itself: noise, or steps of the converter."""
    held: Places
    """Sample where the force first is as high as its noise lets it be told from the peak."""
    rise: Flank
    fall: Flank
    up: Crossings
    """Where the force rises to 90 %."""
    down: Crossings
    """Where it falls to 90 %, its time negative."""
    samples: Array
    """Raw samples above 90 %."""

    @classmethod
    def of(cls, block: Block, hum: float, quantum: float, under: Array) -> _Peaks:
        """Return the tops; hum in N may lift a peak and lower the zero around it.

        `under` is the share of the peak by which a neighbour may reach under it.
        """
        time, force = block.time, block.force
        value = np.maximum(block.tops.peak, 1e-9)
        near_top = np.minimum(value - 2.0 * block.noise, force.max(axis=1))
        above = (force >= 0.9 * value[:, None]).sum(axis=1)
        samples = block.averaged * above
        wide = np.maximum(above // WIDE, 1)
        rise, fall = Flank.up(time, force, wide), Flank.down(time, force, wide)
        rows, top = np.arange(value.size), np.clip(force.argmax(axis=1), 1, force.shape[1] - 2)
        beside = np.maximum(force[rows, top - 1], force[rows, top + 1])
        step = np.maximum(force[rows, top] - beside, 0.0)
        coarse = value * (1.0 - 0.9) / np.maximum(samples, 1) ** 2 + 0.5 * step
        uneven = np.full(value.size, 2.0 * block.noise + 0.5 * quantum)
        error = 3.0 * block.tops.error + hum + coarse + block.tops.added
        return cls(
            value=value,
            error=error + block.zero_error + quantum + under * value,
            uneven=uneven,
            held=(force >= near_top[:, None]).argmax(axis=1),
            rise=rise,
            fall=fall,
            up=rise.at(0.9 * value),
            down=fall.at(0.9 * value),
            samples=samples,
        )


def _figures(
    block: Block, stretches: Stretches, some: Places, finder: Finder, wanted: Wanted
) -> Pulses:
    time, force = block.time, block.force
    hum = 0.0 if finder.hum is None else 2.0 * finder.hum.amplitude
    quantum = stretches.quantum
    joined, gap = stretches.joined[some], stretches.gap[some]
    meeting = np.zeros(joined.size)
    if joined.any():
        outer = _lower_sides(block) / np.maximum(block.tops.peak, 1e-9)
        meeting = np.where(joined, outer, 0.0)
    # The further aside the peak is, the nearer to it begins the flank that the meeting hides.
    clean = stretches.clean[some]
    reached = ~clean & (meeting > MOST_MEETING * _aside(block) ** 2)
    under = np.where(clean, 0.0, REACHING * meeting**4)
    peaks = _Peaks.of(block, hum, quantum, under)
    peak, samples = peaks.value, peaks.samples
    base = peaks.uneven + block.zero_error + hum
    low = np.maximum(0.01 * peak, 4.0 * block.noise + quantum + hum)
    begin, begin_error = foot_of(peaks.rise, low, base)
    back, end_error = foot_of(peaks.fall, low, base)
    end, tenth = -back, peaks.rise.at(0.1 * peak)
    hold, decay = hold_of(time, force, peak, peaks.held)
    clipped = _clipped(block, stretches, some, samples, wanted.range)
    clipped |= (block.raw_top == finder.ceiling) & (block.at_top >= CLIPPED_RUN)
    if clipped.any():
        finder.ceiling = float(block.raw_top[clipped].max())
    noisy = (block.noise > TOO_NOISY * peak) | np.isnan(block.zero) | reached
    known = ~noisy & ~clipped
    timed = known & (samples >= LEAST_ABOVE)
    dwell, dwell_error = _dwell(block, peaks, wanted)
    in_die, in_die_error = _in_die(block, peaks, wanted.compliance)
    edges = peaks.up.error(0.9 * peaks.error + base), peaks.down.error(0.9 * peaks.error + base)
    few = samples < WELL_SAMPLED
    jitter = np.where(few, KINK, JITTER) * finder.step
    above, span = -peaks.down.moment - peaks.up.moment, np.maximum(end - begin, 0.0)

    def only(values: Array, where: Flags) -> Array:
        return np.where(where & ~gap, values, np.nan)

    rises = timed & (low < 0.1 * peak) & (meeting < LEAST_MEETING)
    ends = ~noisy & (low < 0.1 * peak) & ~joined
    held = timed & (samples >= WELL_SAMPLED) & ~joined
    at_end = (peaks.error + base) / peak
    return Pulses(
        start=np.where(joined, time[:, 0], begin),
        moment=time[np.arange(len(force)), peaks.held],
        peak=only(peak, known),
        size=peak,
        peak_error=only(peaks.error, known),
        rise=only(peaks.up.moment - tenth.moment, rises),
        rise_error=only(tenth.error(0.1 * peaks.error + base) + edges[0] + jitter, rises),
        above_90=only(above, timed),
        above_90_error=only(edges[0] + edges[1] + jitter, timed),
        contact=only(end - begin, ends),
        contact_error=only(begin_error + end_error + jitter, ends),
        area=only(area_of(time, force), known & ~joined),
        area_error=only(
            (block.zero_error + hum + 0.5 * quantum) * span
            + _area_error(block, peaks, finder.step),
            known & ~joined,
        ),
        dwell=only(dwell, timed),
        dwell_error=only(dwell_error + dwell * jitter / np.maximum(above, finder.step), timed),
        hold=only(hold, held),
        hold_error=only(edges[1] + 2.0 * finder.step * block.averaged, held),
        decay=only(decay, held),
        decay_error=only(at_end, held),
        strokes=_strokes(block, peak, end - begin),
        ejection=np.full(len(force), np.nan),
        ejection_error=np.full(len(force), 3.0 * finder.ejection_noise),
        in_die=only(in_die, ~noisy),
        in_die_error=only(in_die_error, ~noisy),
        zero=block.zero,
        zero_error=block.zero_error,
        zero_change=block.zero_change,
        samples_above_90=samples.astype(np.float64),
        clipped=clipped.astype(np.float64),
        gap=gap.astype(np.float64),
        joined=joined.astype(np.float64),
        meeting=meeting,
        reached=reached.astype(np.float64),
        added=block.tops.added / peak,
    )


def _aside(block: Block) -> Array:
    """Return how near to the middle of its row the peak is, from 0 at an end to 1."""
    top = block.force.argmax(axis=1) / np.maximum(block.last, 1)
    result: Array = np.clip(2.0 * np.minimum(top, 1.0 - top), 0.0, 1.0)
    return result


def _lower_sides(block: Block) -> Array:
    """Return the lowest force in N before or after the top of every row, the higher of the two."""
    columns = np.arange(block.force.shape[1])
    top = block.force.argmax(axis=1)[:, None]
    before = np.where(columns <= top, block.force, np.inf).min(axis=1)
    after = np.where((columns >= top) & (columns <= block.last[:, None]), block.force, np.inf)
    result: Array = np.maximum(before, after.min(axis=1))
    return result


def _area_error(block: Block, peaks: _Peaks, step: float) -> Array:
    """Return by how much in N s the integral may be off by noise, and by straight lines."""
    step, count = step * block.averaged, block.last + 1.0
    lines = np.maximum(peaks.up.bend, peaks.down.bend) + 1e-5 * peaks.value
    error: Array = (2.0 * block.noise * np.sqrt(count) + lines * count) * step
    return error


def _dwell(block: Block, peaks: _Peaks, wanted: Wanted) -> tuple[Array, Array]:
    """Return the effective dwells in s and their errors, not-a-number where noise would decide.

    Noise adds to the mean of a high power, ``exp(variance/2)`` for a power 1/m of normal scatter;
    that is taken off again. A dwell is to the peak what the power 1/m is: an error of the peak
    alone counts 1/m times, one of the zero, which peak and samples share, once. What straight lines
    between samples leave open is a third of what every second sample alone would change.
    """
    exponent = wanted.exponent
    # Of the logarithm of the force; 1/m times that of the power.
    scatter = block.noise / peaks.value
    told = scatter < MOST_SCATTER * exponent
    dwell, error = np.full(peaks.value.size, np.nan), np.full(peaks.value.size, np.nan)
    if not told.any():
        return dwell, error
    bound = np.exp(MOST_EXPONENT * exponent)  # of a spike; its power stays finite
    share = np.clip(block.force[told] / peaks.value[told, None], 0.0, bound)
    counted = np.flatnonzero((share > np.exp(-NEGLIGIBLE * exponent)).any(axis=0))
    some = slice(max(counted[0] - 1, 0), counted[-1] + 2)
    time, share = block.time[told, some].T, share[:, some].T
    raised = np.exp(0.5 * (scatter[told] / exponent) ** 2)
    dwell[told] = wanted.dwell(time, share) / raised
    halved = dwell[told]
    if len(time) < CLOSE and len(time) > 2:
        halved = wanted.dwell(time[::2], share[::2]) / raised
    alone = (peaks.error[told] - block.zero_error[told]) / peaks.value[told]
    both = block.zero_error[told] / peaks.value[told]
    relative = np.expm1(np.minimum(alone / exponent, MOST_SCATTER)) + both
    error[told] = dwell[told] * relative + np.abs(halved - dwell[told]) / 3.0
    dwell[error > dwell] = np.nan
    return dwell, error


def _strokes(block: Block, peak: Array, contact: Array) -> Array:
    """Return the pump strokes of every row, looked for in the long ones."""
    strokes = np.zeros(len(peak))
    for row in np.flatnonzero(contact > LONG):
        strokes[row] = strokes_of(block.time[row], block.force[row], float(peak[row]))
    return strokes


def _in_die(block: Block, peaks: _Peaks, compliance: float | None) -> tuple[Array, Array]:
    """Return the least distance of the tips in mm and its error, not-a-number where not known."""
    if block.position is None or compliance is None:
        return np.full(len(block.force), np.nan), np.full(len(block.force), np.nan)
    least: Array = (block.position + compliance * block.force).min(axis=1)
    bends = np.abs(np.diff(block.position, n=2, axis=1))
    scatter = np.quantile(bends, 0.9, axis=1) if bends.shape[1] else np.zeros(len(least))
    return least, compliance * peaks.error + scatter


def _clipped(
    block: Block, stretches: Stretches, some: Places, above_90: Array, range_: float | None
) -> Flags:
    """Return which tops are cut off at the gauge's range.

    Where the range is given, those that reach it; else those of a noisy log whose top is a run of
    equal samples, which noise would not leave equal, and of another one as `cut_off` finds them.
    """
    if range_ is not None:
        reached: Flags = block.raw_top >= 0.999 * range_
        return reached
    idle, piece = stretches.idle, stretches.piece
    same: Flags = block.at_top >= np.maximum(CLIPPED_RUN, CLIPPED_SHARE * above_90)
    if not same.any() or idle.noise > NOISY * stretches.quantum > 0.0:
        return same
    if idle.noise > 0.5 * stretches.quantum > 0.0:
        # Noise no larger than the steps leaves equal samples anywhere; a range ends at one force.
        highest = block.raw_top == float(piece.force.max())
        many = int(highest.sum()) >= MANY
        clear: Flags = many | (block.at_top >= 2.0 * CLIPPED_SHARE * above_90)
        ended: Flags = same & highest & clear
        return ended
    bounds = stretches.first, stretches.stop
    cut = cut_off(piece.time, piece.force, *bounds, some, idle.zero, stretches.quantum)
    return same & cut


def _ejections(stretches: Stretches, ejection: Array) -> Array:
    """Return the highest ejection force in N from each compression to the next."""
    bounds = np.column_stack([stretches.stop, stretches.after]).ravel()
    highest: Array = np.maximum.reduceat(ejection, np.minimum(bounds, ejection.size - 1))[::2]
    return highest
