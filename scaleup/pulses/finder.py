"""Compressions found in a log that is read piece by piece, in one pass."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np

from scaleup.arrays import Array, Flags, Places
from scaleup.errors import Fault, InputError
from scaleup.io.logs import Log, Piece
from scaleup.pulses.hum import Hum, hum_of
from scaleup.pulses.idle import Idle, idle_of
from scaleup.pulses.idle_times import IdleTimes, Row, Signal
from scaleup.pulses.read_ahead import read_ahead
from scaleup.pulses.running_zero import Scale, block_means, running_zero
from scaleup.pulses.spikes import without_spikes
from scaleup.pulses.valleys import LIKELY, QUICK, Gaps, Humps, Parted, parted, valleys_between

NOISES = 8.0
"""A compression begins where the force is this many noises above zero,"""
HUMS = 2.5
"""or this many amplitudes of mains hum,"""
SHARE = 0.01
"""or this share of the largest force so far, whichever is most."""
CLEAR = 1.5
"""A compression rises at least to this many times the level at which it begins."""
BOUNCE = 0.02
"""Two stretches above the level apart by less than this share of their length are one."""
GAP = 3.0
"""A step of time this many times the usual one is a gap."""
MARGIN, FOOT = 0.13, 1.5
"""Idle samples kept on either side, as a share of the length of a compression, and how many times
the share of the peak that lies below the level is added."""
LEAST_MARGIN = 24
LONGEST = 30_000_000
"""Samples of one compression that are held at most."""


@dataclass(frozen=True)
class Stretches:
    """Compressions of one piece: positions in its arrays, each of shape (compressions,)."""

    piece: Piece
    idle: Idle
    first: Places
    """Position of the first sample above the level."""
    stop: Places
    """Position after the last."""
    margin: Places
    """Idle samples wanted on either side."""
    before: Places
    """Position from which idle samples before it may be used."""
    after: Places
    """Position up to which idle samples after it may be used."""
    gap: Flags
    """Whether samples are missing within."""
    joined: Flags
    """Whether it runs into the one before or the one after."""
    clean: Flags
    """Whether no neighbour that it runs into reaches under its peak."""
    zero: Array
    """Zero in N where no idle samples are beside it, not-a-number where none is known."""
    zero_error: Array
    """By how much in N that may be off."""
    quantum: float
    """Step of the converter in N."""
    last_ejection: float | None
    """Highest ejection force before the first compression, which belongs to the one before."""


@dataclass
class Finder:
    """Finds compressions, and keeps what is known of the log so far."""

    log: Log
    advance: Callable[[float], None] = lambda _: None
    """Called with the share of the file read so far."""
    samples: int = 0
    began: float = 0.0
    ended: float = 0.0
    step: float = 0.0
    """Usual time between samples in s."""
    noise: float = 0.0
    largest: float = 0.0
    zero: float = 0.0
    """Lowest zero in N of the piece that was looked at last."""
    scale: Scale = field(default_factory=lambda: Scale(16, 256))
    idle_times: IdleTimes = field(default_factory=IdleTimes)
    hum: Hum | None = None
    ejection_zero: float = 0.0
    """Median of the ejection channel in the first piece, N."""
    ejection_noise: float = 0.0
    gaps: list[Array] = field(default_factory=list)
    """When in s the first samples after gaps were taken, piece by piece."""
    spikes: list[float] = field(default_factory=list)
    """When in s single samples stood out that no compression makes."""
    ceiling: float | None = None
    """Highest force in N at which compressions of an earlier piece were cut off."""
    unparted: list[tuple[float, float]] = field(default_factory=list)
    """When in s rows begin whose compressions cannot be told apart, and how long in s they are."""
    begins_loaded: bool = False
    ends_loaded: bool = False
    begins_in_valley: bool = False
    """Whether what was kept of the last piece begins where two compressions meet."""

    def stretches(self) -> Iterator[Stretches]:
        """Yield the compressions of the log, some at a time.

        Raises
        ------
        InputError
            If the log is at fault, or its force stays above zero for longer than is held.
        """
        carry: Piece | None = None
        for read, last in _with_last(read_ahead(self.log.pieces())):
            fresh, spikes = without_spikes(read)
            self.spikes += spikes.tolist()
            self._look(fresh)
            piece = fresh if carry is None else _joined(carry, fresh)
            whole, keep = self._found(piece, last=last)
            if whole is not None:
                yield whole
            carry = _tail(piece, keep)
            if carry.time.size > LONGEST:
                told = f"a force that stays above zero for {carry.time.size:,} samples"
                allowed = "compressions with an idle press between them"
                raise InputError(Fault(self.log.shown, "column force", told, allowed))
        if self.samples < 3:
            found_rows = f"{self.samples} rows"
            raise InputError(Fault(self.log.shown, "", found_rows, "at least 3 rows of numbers"))

    @property
    def level(self) -> float:
        """Return by how much in N above zero a compression begins."""
        hum = 0.0 if self.hum is None else HUMS * self.hum.amplitude
        return max(NOISES * self.noise, SHARE * self.largest, hum)

    @property
    def gap_times(self) -> Array:
        """Return when in s the first samples after gaps were taken."""
        return np.concatenate(self.gaps) if self.gaps else np.zeros(0)

    def _look(self, piece: Piece) -> None:
        """Note step, gaps, noise and the largest force of a fresh piece."""
        if self.samples == 0:
            self.began = float(piece.time[0])
            steps = np.diff(piece.time[:100_000])
            self.step = float(np.median(steps)) if steps.size else 0.0
            if piece.ejection is not None:
                known = piece.ejection[np.isfinite(piece.ejection)]
                self.ejection_zero = float(np.median(known)) if known.size else 0.0
                self.ejection_noise = idle_of(known).noise if known.size else 0.0
            self.ended = self.began
        self.advance(piece.read)
        if piece.longest_step > GAP * self.step:
            wide = np.diff(piece.time, prepend=self.ended) > GAP * self.step
            self.gaps.append(piece.time[wide])
        idle = idle_of(piece.force)
        if self.samples == 0 or idle.zero - self.zero < 0.2 * self.largest:
            self.zero = idle.zero
            self.noise = idle.noise if self.samples == 0 else max(self.noise, idle.noise)
        self.largest = max(self.largest, idle.top - self.zero)
        if self.samples == 0:
            level = self.zero + max(self.level, 0.05 * self.largest)
            self.hum = hum_of(piece.time, piece.force, level)
        self.samples += piece.time.size
        self.ended = float(piece.time[-1])

    def _found(self, piece: Piece, *, last: bool) -> tuple[Stretches | None, int]:
        """Return the whole compressions of a piece, and the position to keep it from."""
        self.scale = Scale.of(piece.force, self.zero, self.largest, self.step) or self.scale
        block = self.scale.block
        means = block_means(piece.force, block)
        lowest = self.idle_times.lowest
        zero = running_zero(means, self.scale, self.largest, self.level, lowest)
        above = means - zero
        first, stop, is_open = self._edges(above)
        loaded = above[0] > self.level and bool(piece.force[0] - zero[0] > self.level)
        begun_before = loaded and not self.begins_in_valley
        self.begins_loaded |= begun_before and piece.time[0] == self.began
        clear = _tops(above, first, stop) > CLEAR * self.level
        clear[:1] |= begun_before
        clear[-1:] |= is_open
        first, stop = first[clear], stop[clear]
        noise, longest = self.noise / float(np.sqrt(block)), self.scale.longest // block + 1
        humps = Humps.of(above, CLEAR * self.level, noise, longest)
        found = parted(above, first, stop, humps, QUICK / max(self.step * block, 1e-12))
        self._note_unparted(piece, found)
        kept = ~found.unparted
        first, stop = self._refined(piece, zero, found.first[kept], found.stop[kept])
        joined = found.joined[kept]
        self._meeting(piece, zero, first, stop, joined)
        signal = Signal(piece.time, piece.force, means, zero, self.scale, self.level, self.largest)
        row = self.idle_times.row(signal, first, stop, joined)
        if begun_before:
            row = row.without_first()
            is_open = is_open and row.first.size > 0
        return self._whole(signal, piece, row, is_open=is_open, last=last)

    def _meeting(
        self, piece: Piece, zero: Array, first: Places, stop: Places, joined: Flags
    ) -> None:
        """Let stretches meet in the middle of a gap that is no idle time but a valley."""
        if first.size == 0:
            return
        gaps = Gaps(
            first[1:] - stop[:-1],
            np.minimum(stop[1:] - first[1:], stop[:-1] - first[:-1]),
            zero[stop[:-1] // self.scale.block],
        )
        ends = self._idle_ends(piece, zero, first, stop)
        valley = valleys_between(piece.force, self.level, first, stop, gaps)
        valley |= gaps.floors(self.largest, ends)
        middle = (first[1:] + stop[:-1]) // 2
        first[1:] = np.where(valley, middle, first[1:])
        stop[:-1] = np.where(valley, middle, stop[:-1])
        joined[1:] |= valley
        joined[0] |= ends[0] is None

    def _idle_ends(
        self, piece: Piece, zero: Array, first: Places, stop: Places
    ) -> tuple[float | None, float | None]:
        """Return the zero before the first and after the last stretch, None where none is seen."""
        length = int(np.median(stop - first))
        begins, ends = int(first[0]), piece.time.size - int(stop[-1])
        least = min(LIKELY * length, LEAST_MARGIN)
        at_start = piece.time[0] == self.began or self.begins_in_valley
        before = None if at_start and begins < least else float(zero[0])
        return before, None if ends < least else float(zero[-1])

    def _note_unparted(self, piece: Piece, found: Parted) -> None:
        """Note when rows of compressions begin that cannot be parted, and how long they are."""
        block, last = self.scale.block, piece.time.size - 1
        for begin, end in zip(found.first[found.unparted], found.stop[found.unparted], strict=True):
            times = piece.time[[min(begin * block, last), min(end * block, last)]]
            self.unparted.append((float(times[0]), float(times[1] - times[0])))

    def _edges(self, above: Array) -> tuple[Places, Places, bool]:
        """Return where stretches above the level begin and end, and whether the last is open."""
        over = above > self.level
        edges = np.flatnonzero(over[1:] != over[:-1]) + 1
        if over[0]:
            edges = np.concatenate([[0], edges])
        self.ends_loaded = is_open = bool(over[-1])
        if edges.size % 2:
            edges = np.append(edges, above.size)
        first, stop = _merged(edges[::2], edges[1::2], 2 // self.scale.block)
        return first, stop, is_open

    def _refined(
        self, piece: Piece, zero: Array, first: Places, stop: Places
    ) -> tuple[Places, Places]:
        """Return the samples at which stretches of blocks begin and end."""
        block, size = self.scale.block, piece.time.size
        if first.size == 0 or block == 1:
            return first.copy(), np.minimum(stop, size)
        # In the block before the first that is above on the mean, or in it; and likewise behind.
        near = np.arange(-block, block)
        places = np.clip(first[:, None] * block + near, 0, size - 1)
        begun = piece.force[places] > (zero[first] + self.level)[:, None]
        begins = places[np.arange(first.size), begun.argmax(axis=1)]
        behind = np.clip(stop[:, None] * block - 1 - near, 0, size - 1)
        ended = piece.force[behind] > (zero[np.minimum(stop, zero.size) - 1] + self.level)[:, None]
        ends = behind[np.arange(first.size), ended.argmax(axis=1)] + 1
        together = np.flatnonzero(first[1:] == stop[:-1])
        begins[together + 1] = ends[together] = first[together + 1] * block
        begins[1:] = np.maximum(begins[1:], ends[:-1])
        return begins, np.maximum(ends, begins + 1)

    def _whole(
        self, signal: Signal, piece: Piece, row: Row, *, is_open: bool, last: bool
    ) -> tuple[Stretches | None, int]:
        """Return the compressions that are whole, and from where the piece is to be kept."""
        size = piece.time.size
        kept_from = size - min(LEAST_MARGIN * 4, size)
        after_valley, self.begins_in_valley = self.begins_in_valley, False
        if row.first.size and (is_open or (not last and size - row.stop[-1] < LEAST_MARGIN)):
            # Its idle samples, or a bounce that belongs to it, may come with the next piece.
            begin, end = int(row.first[-1]), int(row.stop[-1])
            self.begins_in_valley = bool(row.joined[-1])
            row = row.without_last()
            margin = 0 if self.begins_in_valley else int(self.margin(np.array([end - begin]))[0])
            kept_from = max(begin - margin, int(row.stop[-1]) if row.stop.size else 0)
        if row.first.size == 0:
            self.begins_in_valley |= after_valley and kept_from == 0
            return None, kept_from
        row.joined[0] |= after_valley
        zero, error = self.idle_times.zero(signal, row, self.noise)
        first, stop = row.first, row.stop
        stretches = Stretches(
            piece,
            Idle(self.zero, self.noise, self.largest),
            first,
            stop,
            self.margin(stop - first),
            before=np.where(row.joined, first, np.append(0, stop[:-1])),
            after=np.where(row.meets, stop, np.append(first[1:], size)),
            gap=self._broken(piece.time, first, stop),
            joined=row.joined | row.meets,
            clean=self.idle_times.clean(signal, row),
            zero=zero,
            zero_error=error,
            quantum=_quantum(piece.force),
            last_ejection=None
            if piece.ejection is None
            else float(piece.ejection[: first[0] + 1].max()),
        )
        return stretches, max(kept_from, int(stop[-1]))

    def margin(self, length: Places) -> Places:
        """Return how many idle samples are kept on either side of compressions of a length.

        More where the level is high: the foot of a compression then lies further outside.
        """
        share = MARGIN + FOOT * self.level / max(self.largest, self.level, 1e-9)
        return np.maximum((share * length).astype(np.intp), LEAST_MARGIN)

    def _broken(self, time: Array, first: Places, stop: Places) -> Flags:
        """Return which compressions have a gap within, found by their longest step."""
        if not self.gaps:
            return np.zeros(first.size, dtype=bool)
        wide = np.flatnonzero(np.diff(time) > GAP * self.step)
        places = np.searchsorted(wide, first - 1), np.searchsorted(wide, stop)
        broken: Flags = places[1] > places[0]
        return broken


def _tops(values: Array, first: Places, stop: Places) -> Array:
    """Return the highest value of every stretch."""
    if first.size == 0:
        return np.zeros(0)
    bounds = np.column_stack([first, np.minimum(stop, values.size - 1)]).ravel()
    highest: Array = np.maximum.reduceat(values, bounds)[::2]
    return np.maximum(highest, values[first])


def _quantum(force: Array) -> float:
    """Return the step of the converter in N, seen as the least difference of two samples."""
    steps = np.abs(np.diff(force[:50_000]))
    steps = steps[steps > 0.0]
    return float(steps.min()) if steps.size else 0.0


def _merged(first: Places, stop: Places, least: int) -> tuple[Places, Places]:
    """Return stretches with those joined that only noise or a bounce parts."""
    if first.size < 2:
        return first, stop
    length = np.maximum(stop[1:] - first[1:], stop[:-1] - first[:-1])
    apart = first[1:] - stop[:-1] > np.maximum(BOUNCE * length, least)
    return first[np.concatenate([[True], apart])], stop[np.concatenate([apart, [True]])]


def _with_last(pieces: Iterator[Piece]) -> Iterator[tuple[Piece, bool]]:
    """Yield every piece, and whether it is the last."""
    waiting = next(pieces, None)
    for piece in pieces:
        if waiting is not None:
            yield waiting, False
        waiting = piece
    if waiting is not None:
        yield waiting, True


def _joined(one: Piece, other: Piece) -> Piece:
    def both(a: Array | None, b: Array | None) -> Array | None:
        return None if a is None or b is None else np.concatenate([a, b])

    return Piece(
        np.concatenate([one.time, other.time]),
        np.concatenate([one.force, other.force]),
        both(one.position, other.position),
        both(one.ejection, other.ejection),
        max(one.longest_step, other.longest_step),
        other.read,
    )


def _tail(piece: Piece, start: int) -> Piece:
    """Return a copy of the end of a piece, so that the rest can be let go."""

    def end(values: Array | None) -> Array | None:
        return None if values is None else values[start:].copy()

    force = piece.force[start:].copy()
    return Piece(
        piece.time[start:].copy(),
        force,
        end(piece.position),
        end(piece.ejection),
        piece.longest_step,
        piece.read,
    )
