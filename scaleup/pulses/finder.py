"""Compressions found in a log that is read piece by piece, in one pass."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np

from scaleup.arrays import Array, Flags, Places
from scaleup.errors import Fault, InputError
from scaleup.io.logs import Log, Piece
from scaleup.pulses.idle import Hum, Idle, hum_of, idle_of

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
MARGIN = 0.15
"""Idle samples kept on either side, as a share of the length of a compression."""
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
    before: Places
    """Position from which idle samples before it may be used."""
    after: Places
    """Position up to which idle samples after it may be used."""
    gap: Flags
    """Whether samples are missing within."""
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
    zeros: list[tuple[float, float]] = field(default_factory=list)
    """Time in s and zero in N of every piece."""
    hum: Hum | None = None
    ejection_zero: float = 0.0
    """Median of the ejection channel in the first piece, N."""
    gaps: int = 0
    first_gap: float = 0.0
    """When in s the first sample after a gap was taken."""
    begins_loaded: bool = False
    ends_loaded: bool = False

    def stretches(self) -> Iterator[Stretches]:
        """Yield the compressions of the log, some at a time.

        Raises
        ------
        InputError
            If the log is at fault, or its force stays above zero for longer than is held.
        """
        carry: Piece | None = None
        for fresh, last in _with_last(self.log.pieces()):
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
    def drift(self) -> float:
        """Return the range in N of the zeros of the pieces."""
        values = [zero for _, zero in self.zeros]
        return max(values) - min(values) if values else 0.0

    def _look(self, piece: Piece) -> None:
        """Note step, gaps, zero, noise and the largest force of a fresh piece."""
        if self.samples == 0:
            self.began = float(piece.time[0])
            steps = np.diff(piece.time[:100_000])
            self.step = float(np.median(steps)) if steps.size else 0.0
            if piece.ejection is not None:
                known = piece.ejection[np.isfinite(piece.ejection)]
                self.ejection_zero = float(np.median(known)) if known.size else 0.0
            self.ended = self.began
        self.advance(piece.read)
        if piece.longest_step > GAP * self.step:
            wide = np.diff(piece.time, prepend=self.ended) > GAP * self.step
            self.first_gap = self.first_gap or float(piece.time[int(wide.argmax())])
            self.gaps += int(wide.sum())
        idle = idle_of(piece.force)
        zero = self.zeros[-1][1] if self.zeros else idle.zero
        if not self.zeros or idle.zero - zero < 0.2 * self.largest:
            zero = idle.zero
            self.noise = max(self.noise, idle.noise) if self.zeros else idle.noise
        self.zeros.append((float(piece.time[0]), zero))
        self.largest = max(self.largest, idle.top - zero)
        if self.samples == 0:
            self.hum = hum_of(piece.time, piece.force, zero + max(self.level, 0.05 * self.largest))
        self.samples += piece.time.size
        self.ended = float(piece.time[-1])

    def _found(self, piece: Piece, *, last: bool) -> tuple[Stretches | None, int]:
        """Return the whole compressions of a piece, and the position to keep it from."""
        edges, kept_from = self._edges(piece)
        size = piece.time.size
        first, stop = _merged(edges[::2], edges[1::2])
        if first.size and not last and size - stop[-1] < LEAST_MARGIN:
            # Its idle samples, or a bounce that belongs to it, may come with the next piece.
            margin = self._margin(int(stop[-1] - first[-1]))
            start = int(first[-1]) - margin
            first, stop = first[:-1], stop[:-1]
            kept_from = min(kept_from, max(start, int(stop[-1]) if stop.size else 0))
        clear = self._clear(piece, first, stop)
        first, stop = first[clear], stop[clear]
        if first.size == 0:
            return None, kept_from
        stretches = Stretches(
            piece,
            Idle(self.zeros[-1][1], self.noise, self.largest),
            first,
            stop,
            before=np.concatenate([[0], stop[:-1]]),
            after=np.concatenate([first[1:], [size]]),
            gap=self._broken(piece.time, first, stop),
            last_ejection=None
            if piece.ejection is None
            else float(piece.ejection[: first[0] + 1].max()),
        )
        return stretches, max(kept_from, int(stop[-1]))

    def _edges(self, piece: Piece) -> tuple[Places, int]:
        """Return where whole stretches above the level begin and end, and where to keep from."""
        above = piece.force > self.zeros[-1][1] + self.level
        edges = np.flatnonzero(above[1:] != above[:-1]) + 1
        size = piece.time.size
        if above[0]:
            # Begun before the log did, or before this piece, whose start was then kept.
            self.begins_loaded = self.begins_loaded or piece.time[0] == self.began
            edges = edges[1:]
        self.ends_loaded = bool(above[-1])
        kept_from = size - min(LEAST_MARGIN * 4, size)
        if edges.size % 2:
            kept_from = max(int(edges[-1]) - self._margin(size - int(edges[-1])), 0)
            edges = edges[:-1]
        elif above[-1] and edges.size == 0 and above[0]:
            kept_from = 0 if piece.time[0] != self.began else size
        return edges, kept_from

    def _clear(self, piece: Piece, first: Places, stop: Places) -> Flags:
        """Return which stretches rise clearly above the level."""
        if first.size == 0:
            return np.zeros(0, dtype=bool)
        peaks = np.maximum.reduceat(piece.force, np.column_stack([first, stop - 1]).ravel())[::2]
        peaks = np.maximum(peaks, piece.force[stop - 1])
        clear: Flags = peaks - self.zeros[-1][1] > CLEAR * self.level
        return clear

    def _margin(self, length: int) -> int:
        return max(int(MARGIN * length), LEAST_MARGIN)

    def _broken(self, time: Array, first: Places, stop: Places) -> Flags:
        """Return which compressions have a gap within, found by their longest step."""
        if not self.gaps:
            return np.zeros(first.size, dtype=bool)
        wide = np.flatnonzero(np.diff(time) > GAP * self.step)
        places = np.searchsorted(wide, first - 1), np.searchsorted(wide, stop)
        broken: Flags = places[1] > places[0]
        return broken


def _merged(first: Places, stop: Places) -> tuple[Places, Places]:
    """Return stretches with those joined that only noise or a bounce parts."""
    if first.size < 2:
        return first, stop
    length = np.maximum(stop[1:] - first[1:], stop[:-1] - first[:-1])
    apart = first[1:] - stop[:-1] > np.maximum(BOUNCE * length, 2)
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
