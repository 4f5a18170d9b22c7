"""When a press is idle between its compressions, and what its zero is while it is not."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from scaleup.arrays import Array, Flags, Places
from scaleup.pulses.running_zero import JUMP, Scale
from scaleup.pulses.valleys import PARTED_IN_A_ROW

HIGHEST_VALLEY = 0.65
"""Share of the largest force that valleys may have above the zero for it to follow them; higher
ones hang on more than two punches (a judgement of this program)."""
LEAST_WITHIN, WHOLE = 4, 0.95
"""Compressions within a row that tell the time from punch to punch, and the share of that time that
a flank may take: its foot below the level is not counted (a judgement of this program)."""
HIGHEST_FLOOR = 0.05
"""Share of the largest force above the log's own zero from which short quiet times alone are no
sure zero (a judgement of this program)."""
FLOORS_DIFFER = 1.1
"""How many times as high as the usual floor any floor may be."""
VALLEYS, NEAR = 9, 2
"""Valleys whose median is taken, and how far from idle time their height is seen."""
AT_ONCE = 6.0
"""How many times as far as it usually moves between two looks a zero is set anew; drift is not (a
judgement of this program)."""
UNSEEN_DRIFT = 0.01
"""Share of the largest force by which a zero may be off that was seen on one side only (a judgement
of this program)."""
CLEARLY = 0.25
"""Part of the level by which a zero further out is lower, from which the idle time is there."""


@dataclass(frozen=True)
class Signal:
    """A piece of a log as compressions are looked for in it."""

    time: Array
    force: Array
    means: Array
    """N, shape (blocks,)."""
    zero: Array
    """Running zero in N, shape (blocks,)."""
    scale: Scale
    level: float
    """By how much in N above zero a compression begins."""
    largest: float
    """Largest force in N so far."""

    @property
    def reach(self) -> int:
        """Return half a long compression in blocks."""
        return max(self.scale.longest // (2 * self.scale.block), 2)


@dataclass(frozen=True)
class Row:
    """Compressions in order of time, arrays of shape (compressions,)."""

    first: Places
    stop: Places
    joined: Flags
    """Whether each runs into the one before."""
    meets: Flags
    """Whether each runs into the one after."""
    before: Array
    """Zero before each, N."""
    after: Array
    under: Array
    """Force where each begins or ends, the lower, N."""

    def without_first(self) -> Row:
        """Return the same but for its first compression."""
        return self._some(slice(1, None))

    def without_last(self) -> Row:
        """Return the same but for its last compression."""
        return self._some(slice(None, -1))

    def _some(self, which: slice) -> Row:
        return Row(**{name: values[which] for name, values in vars(self).items()})


@dataclass
class IdleTimes:
    """What is known of the zero of a log so far."""

    lowest: float = np.inf
    """N."""
    seen: tuple[float, float] | None = None
    """Time in s and zero in N of the last idle time; None if there was none yet."""
    valley: float | None = None
    """Height in N of the valleys of a row that runs together above the zero, where it was seen."""
    flanks: tuple[float | None, float | None] = (None, None)
    """Time in s from idle to the peak of the first of a row that runs together, and from the peak
    of its last to idle; None where it was not seen yet."""
    rested: bool = False
    """Whether the press was idle for as long as a compression lasts."""
    jumps: list[tuple[float, float]] = field(default_factory=list)
    """Time in s and size in N of the jumps of the zero."""

    def row(self, signal: Signal, first: Places, stop: Places, joined: Flags) -> Row:
        """Return compressions with their ends moved out to idle time, and the zero around each.

        In a row that runs together the running zero lies in the valleys; where the row begins and
        ends, the press is idle half a compression further out.
        """
        from scipy.ndimage import minimum_filter1d  # noqa: PLC0415  few commands read logs

        block, reach, last = signal.scale.block, signal.reach, signal.zero.size - 1
        ends = np.minimum(np.column_stack([first, stop]) // block, last)
        lowest = minimum_filter1d(signal.zero, 2 * reach + 1, mode="nearest")
        before = lowest[np.clip(first // block - reach, 0, last)]
        after = lowest[np.clip((stop - 1) // block + reach, 0, last)]
        self.lowest = float(
            np.min(
                [self.lowest, *before[:1], before.min(initial=np.inf), after.min(initial=np.inf)]
            )
        )
        self._note_rest(signal, first, stop)
        bump = _bumps(signal, first, stop, joined, min(self.lowest, 0.0))
        if bump.any():
            return self.row(signal, *_without(bump, first, stop, joined))
        meets = np.append(joined[1:], False)[: first.size]
        row = Row(first, stop, joined, meets, before, after, signal.means[ends].min(axis=1))
        return replace(row, first=_moved_back(signal, row), stop=_moved_on(signal, row))

    def clean(self, signal: Signal, row: Row) -> Flags:
        """Return which compressions of rows that run together have a peak of their own alone.

        Each flank is seen whole at one end of a row. If both take less time than from one punch to
        the next, no neighbour reaches under a peak.
        """
        clean = np.zeros(row.first.size, dtype=bool)
        begins = np.flatnonzero(~row.joined & row.meets)
        ends = np.flatnonzero(row.joined & ~row.meets)
        rise, fall = self.flanks
        for at in begins[:1]:
            rise = _time_to_top(signal, int(row.first[at]), int(row.stop[at]), -1)
        for at in ends[-1:]:
            fall = _time_to_top(signal, int(row.first[at]), int(row.stop[at]), 1)
        self.flanks = rise, fall
        within = row.joined & row.meets
        if rise is None or fall is None or within.sum() < LEAST_WITHIN:
            return clean
        pitch = float(np.median(np.diff(signal.time[row.first[within]])))
        clean[row.joined | row.meets] = max(rise, fall) < WHOLE * pitch
        return clean

    def _note_rest(self, signal: Signal, first: Places, stop: Places) -> None:
        """Note whether there is an idle time as long as a compression."""
        if first.size == 0:
            return
        idle = np.concatenate([first[:1], first[1:] - stop[:-1], signal.time.size - stop[-1:]])
        self.rested |= bool(idle.max() >= np.median(stop - first))

    def zero(self, signal: Signal, row: Row, noise: float) -> tuple[Array, Array]:
        """Return the zero under every compression in N from the idle times around, and its error.

        Not-a-number where the press was never idle and the log's own zero lies above its force.
        """
        ends = np.concatenate([row.first[~row.joined], row.stop[~row.meets] - 1])
        order = np.argsort(ends, kind="stable")
        times = signal.time[ends[order]]
        values = np.concatenate([row.before[~row.joined], row.after[~row.meets]])[order]
        if self.seen is not None:
            times, values = np.append(self.seen[0], times), np.append(self.seen[1], values)
        if times.size == 0:
            # The press was never idle yet: the zero of the log itself is all there is.
            own = np.where(row.under >= -signal.level, 0.0, np.nan)
            return own, np.maximum(row.under, 0.0)
        self.seen = float(times[-1]), float(values[-1])
        moved = np.abs(np.diff(values))
        least = max(JUMP * signal.largest, AT_ONCE * float(np.median(moved)) if moved.size else 0.0)
        jump = np.flatnonzero(moved > least)
        self.jumps += [(float(times[at + 1]), float(values[at + 1] - values[at])) for at in jump]
        moments = signal.time[(row.first + row.stop) // 2]
        known = np.interp(moments, times, values)
        unseen = (moments < times[0]) | (moments > times[-1])
        error = np.where(unseen, UNSEEN_DRIFT * signal.largest, 0.0)
        if not self.rested and self.lowest > HIGHEST_FLOOR * signal.largest:
            # Short quiet times far above the log's own zero may be floors where two meet.
            error = np.maximum(error, FLOORS_DIFFER * known)
        within = row.joined & row.meets
        if within.any():
            self._follow_valleys(signal, known, error, row.under, within, noise)
        return known, error

    def _follow_valleys(
        self,
        signal: Signal,
        known: Array,
        error: Array,
        under: Array,
        within: Flags,
        noise: float,
    ) -> None:
        """Set the zero within a row that runs together: its valleys drift as the zero does.

        How high they are above it is seen near the ends of the row, where the press is idle.
        """
        from scipy.ndimage import median_filter  # noqa: PLC0415  few commands read logs

        smooth = median_filter(under, VALLEYS, mode="nearest")
        near = within & (_distance(~within) <= NEAR)
        seen = max(int(near.sum()), 1)
        if near.any():
            self.valley = float(np.median(under[near] - known[near]))
        if self.valley is None or self.valley > HIGHEST_VALLEY * signal.largest:
            return
        drift = float(np.median(np.abs(np.diff(smooth[within])))) if within.sum() > 1 else 0.0
        apart = 2.0 * float(np.std(under[within] - smooth[within]))
        scatter = apart * (1.0 + 1.0 / float(np.sqrt(seen))) + noise + NEAR * drift
        followed = smooth[within] - self.valley
        error[within] = np.maximum(error[within], scatter)
        if np.abs(followed - known[within]).max() > 2.0 * scatter:
            known[within] = followed


def _time_to_top(signal: Signal, first: int, stop: int, side: int) -> float:
    """Return the time in s from idle to the top of a compression, or from it, with its feet."""
    top = first + int(signal.force[first:stop].argmax())
    outer = first if side < 0 else min(stop, signal.time.size - 1)
    return abs(float(signal.time[top] - signal.time[outer]))


def _bumps(signal: Signal, first: Places, stop: Places, joined: Flags, zero: float) -> Flags:
    """Return which are no compressions but bumps where two of them meet.

    They run into both neighbours, which are higher and stand out; they themselves rise by too small
    a share of their height above the floors beside them.
    """
    bump: Flags = joined & np.append(joined[1:], False)[: first.size]
    if not bump.any():
        return bump
    last = signal.zero.size - 1
    floor = signal.means[np.minimum(np.column_stack([first, stop]) // signal.scale.block, last)]
    top = np.maximum.reduceat(signal.force, np.column_stack([first, stop - 1]).ravel())[::2]
    if stop[-1] >= signal.force.size - signal.scale.block:
        top[-1] = np.inf  # it may go on rising
    low = top - floor.max(axis=1) < (1.0 - PARTED_IN_A_ROW) * (top - zero)
    beside = np.minimum(np.append(np.inf, top[:-1]), np.append(top[1:], np.inf))
    clear = ~np.append(True, low[:-1]) & ~np.append(low[1:], True)
    result: Flags = bump & low & clear & (top < beside)
    return result


def _without(
    bump: Flags, first: Places, stop: Places, joined: Flags
) -> tuple[Places, Places, Flags]:
    """Return the others, which meet in the middle of each bump."""
    first, stop = first.copy(), stop.copy()
    for at in np.flatnonzero(bump):
        first[at + 1] = stop[at - 1] = stop[at] = (first[at] + stop[at]) // 2
    return first[~bump], stop[~bump], joined[~bump]


def _distance(marked: Flags) -> Array:
    """Return how many places each is from the nearest that is marked; infinite if none is."""
    from scipy.ndimage import distance_transform_cdt  # noqa: PLC0415  few commands read logs

    if not marked.any():
        return np.full(marked.size, np.inf)
    result: Array = distance_transform_cdt(~marked).astype(np.float64)
    return result


def _moved_on(signal: Signal, row: Row) -> Places:
    """Return where the compressions end, those before idle time moved on to it."""
    zero = signal.zero[(row.stop - 1) // signal.scale.block]
    moved = np.flatnonzero(~row.meets & (zero - row.after > CLEARLY * signal.level))
    limit = np.append(row.first[1:], signal.time.size)[: row.stop.size]
    stop = row.stop.copy()
    ahead = row.stop[moved, None] - 1 + np.arange(1, 2 * signal.reach * signal.scale.block + 1)
    force = signal.force[np.minimum(ahead, signal.time.size - 1)]
    idle = force <= (row.after[moved] + signal.level)[:, None]
    further = np.minimum(stop[moved] + idle.argmax(axis=1), limit[moved])
    stop[moved] = np.where(idle.any(axis=1), further, stop[moved])
    return stop


def _moved_back(signal: Signal, row: Row) -> Places:
    """Return where the compressions begin, those after idle time moved back to it."""
    zero = signal.zero[row.first // signal.scale.block]
    moved = np.flatnonzero(~row.joined & (zero - row.before > CLEARLY * signal.level))
    limit = np.append(0, row.stop[:-1])[: row.first.size]
    first = row.first.copy()
    back = first[moved, None] - np.arange(1, 2 * signal.reach * signal.scale.block + 1)
    idle = signal.force[np.maximum(back, 0)] <= (row.before[moved] + signal.level)[:, None]
    further = np.maximum(first[moved] - idle.argmax(axis=1), limit[moved])
    first[moved] = np.where(idle.any(axis=1), further, first[moved])
    return first
