"""When a press is idle between its compressions, and what its zero is while it is not."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from scaleup.arrays import Array, Flags, Places
from scaleup.pulses.running_zero import JUMP, Scale
from scaleup.pulses.valleys import PARTED_IN_A_ROW

HIGHEST_ZERO = 0.2
"""Share of the largest force above the lowest zero from which a quiet force is no zero but the
floor between two compressions (a judgement of this program)."""
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
    """Running zero where each begins or ends, the lower, N."""

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
        high = self.lowest + HIGHEST_ZERO * signal.largest
        joined = joined.copy()
        joined[1:] |= (before[1:] > high) | (after[:-1] > high)
        bump = _bumps(signal, first, stop, joined, min(self.lowest, 0.0))
        if bump.any():
            return self.row(signal, *_without(bump, first, stop, joined))
        meets = np.append(joined[1:], False)[: first.size]
        row = Row(first, stop, joined, meets, before, after, signal.zero[ends].min(axis=1))
        return replace(row, first=_moved_back(signal, row), stop=_moved_on(signal, row))

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
        within = row.joined & row.meets
        if within.any():
            self._follow_valleys(known, error, row.under, within, noise)
        return known, error

    def _follow_valleys(
        self, known: Array, error: Array, under: Array, within: Flags, noise: float
    ) -> None:
        """Set the zero within a row that runs together: its valleys drift as the zero does.

        How high they are above it is seen near the ends of the row, where the press is idle.
        """
        from scipy.ndimage import median_filter  # noqa: PLC0415  few commands read logs

        smooth = median_filter(under, VALLEYS, mode="nearest")
        near = within & (_distance(~within) <= NEAR)
        if near.any():
            self.valley = float(np.median(under[near] - known[near]))
        if self.valley is None:
            return
        drift = float(np.median(np.abs(np.diff(smooth[within])))) if within.sum() > 1 else 0.0
        scatter = 2.0 * float(np.std(under[within] - smooth[within])) + noise + NEAR * drift
        followed = smooth[within] - self.valley
        error[within] = scatter
        if np.abs(followed - known[within]).max() > 2.0 * scatter:
            known[within] = followed


def _bumps(signal: Signal, first: Places, stop: Places, joined: Flags, zero: float) -> Flags:
    """Return which are no compressions but bumps where two of them meet.

    They run into both neighbours, and rise by too small a share of their height above the higher.
    """
    bump: Flags = joined & np.append(joined[1:], False)[: first.size]
    if not bump.any():
        return bump
    last = signal.zero.size - 1
    floor = signal.zero[np.minimum(np.column_stack([first, stop]) // signal.scale.block, last)]
    top = np.maximum.reduceat(signal.force, np.column_stack([first, stop - 1]).ravel())[::2]
    result: Flags = bump & (top - floor.max(axis=1) < (1.0 - PARTED_IN_A_ROW) * (top - zero))
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
