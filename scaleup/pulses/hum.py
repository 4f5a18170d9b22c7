"""Mains hum on a force channel, told from what a row of compressions leaves at the same frequency.

Compressions at 10 a second have a harmonic at 50 Hz, and so has whatever runs out behind each of
them. That fades away from the compression, and a polynomial follows it; hum does neither. A sine
is therefore fitted to idle times together with a polynomial for each of them, and is called hum if
its amplitude stays the same however much of the ends is left out and however far the polynomial
bends, and if no neighbouring frequency fits as well.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array, Places

MAINS = (50.0, 60.0)
"""Hz."""
BESIDE = (-3.0, 3.0)
"""Hz from the mains to the frequencies that must not fit as well: 47, 53, 57 and 63."""
NEAR = 2.0
"""s of the log that are looked at."""
WANTED_RATE, LEAST_RATE = 4000.0, 400.0
"""Samples in a second: neighbours are averaged down to about the first, and below the second
nothing is told."""
LONGEST, SHORTEST = 5.0, 1.25
"""Periods of the mains in one idle time: longer ones are parted, shorter ones left out."""
LEAST_PERIODS = 5.0
"""Periods in all idle times together from which hum is looked for."""
WAYS = ((0.25, 2), (0.25, 3), (0.6, 2), (0.6, 3), (0.6, 4))
"""Idle time left out beside each compression, as a share of its length (of `LONGEST` where that is
less), and the degree of the polynomials."""
SAME = 0.15
"""Share by which amplitudes found in these ways differ at most."""
CLEAR = 6.0
"""How many times its own uncertainty an amplitude is, to be called hum."""
LEAST_SHARE = 2e-4
"""Share of the largest force from which hum is told."""
AS_WELL = 0.85
"""Share of what the mains explain that a neighbouring frequency may explain. Each is a judgement of
this program."""


@dataclass(frozen=True)
class Hum:
    """A sine of the mains on the force channel."""

    frequency: float
    """Hz."""
    amplitude: float
    """N."""


@dataclass(frozen=True)
class _Sine:
    """A sine fitted to idle times beside a polynomial for each."""

    amplitude: float
    uncertain: float
    explained: float
    """Sum of squares in N² that it takes from what the polynomials leave."""


def hum_of(time: Array, force: Array, level: float) -> Hum | None:
    """Return the mains hum on the samples below a level, None where none is clear.

    Parameters
    ----------
    time, force
        The beginning of a log in s and N, shape (samples,).
    level
        Force in N above which something is compressed.

    Examples
    --------
    >>> time = np.arange(0.0, 1.0, 1e-3)
    >>> noise = np.random.default_rng(1).normal(0.0, 5.0, time.size)
    >>> hum_of(time, 40.0 * np.sin(314.16 * time) + noise, 200.0).frequency
    50.0
    >>> hum_of(time, noise, 200.0) is None
    True
    """
    seconds, values = _thinned(time, force)
    if seconds.size < 3 or LEAST_RATE * (seconds[-1] - seconds[0]) > seconds.size - 1:
        return None
    idle = values[values < level]
    if idle.size == 0:
        return None
    least = LEAST_SHARE * float(values.max() - np.median(idle))
    hums = (_clear_hum(seconds, values, level, frequency) for frequency in MAINS)
    found = [each for each in hums if each is not None and each.amplitude >= least]
    return max(found, key=lambda each: each.amplitude, default=None)


def _thinned(time: Array, force: Array) -> tuple[Array, Array]:
    """Return the first samples, neighbours averaged where they are taken quickly."""
    count = int(np.searchsorted(time, time[0] + NEAR))
    time, force = time[:count], force[:count]
    if count < 3:
        return time, force
    many = max(int((count - 1) / (time[-1] - time[0]) / WANTED_RATE), 1)
    size = count // many * many
    return time[:size].reshape(-1, many).mean(axis=1), force[:size].reshape(-1, many).mean(axis=1)


def _clear_hum(time: Array, force: Array, level: float, frequency: float) -> Hum | None:
    """Return the hum of one frequency if it is clear in every way it is fitted."""
    sines = []
    for left_out, degree in WAYS:
        parts = _idle_times(time, force, level, left_out, 1.0 / frequency)
        if sum(time[stop - 1] - time[first] for first, stop in parts) < LEAST_PERIODS / frequency:
            return None
        here, *beside = (
            _sine(time, force, parts, degree, frequency + apart) for apart in (0.0, *BESIDE)
        )
        if here is None or here.amplitude <= CLEAR * here.uncertain:
            return None
        if any(each is None or each.explained > AS_WELL * here.explained for each in beside):
            return None
        sines.append(here.amplitude)
    if max(sines) > (1.0 + SAME) * min(sines):
        return None
    return Hum(frequency, float(np.median(sines)))


def _idle_times(
    time: Array, force: Array, level: float, left_out: float, period: float
) -> list[tuple[int, int]]:
    """Return where idle times begin and end, the ends next to compressions left out."""
    idle = np.concatenate([[False], force < level, [False]])
    first: Places = np.flatnonzero(idle[1:] & ~idle[:-1])
    stop: Places = np.flatnonzero(idle[:-1] & ~idle[1:])
    if first.size == 0:
        return []
    step = (time[-1] - time[0]) / (time.size - 1)
    busy = np.concatenate([[first[0]], first[1:] - stop[:-1], [force.size - stop[-1]]])
    margin = np.ceil(left_out * np.minimum(busy, LONGEST * period / step)).astype(np.intp)
    first, stop = first + margin[:-1], stop - margin[1:]
    parts = []
    for begin, end in zip(first, stop, strict=True):
        length = time[end - 1] - time[begin] if end > begin else 0.0
        if length >= SHORTEST * period:
            bounds = np.linspace(begin, end, int(np.ceil(length / (LONGEST * period))) + 1)
            parts += list(zip(bounds[:-1].astype(int), bounds[1:].astype(int), strict=True))
    return parts


def _sine(
    time: Array, force: Array, parts: Sequence[tuple[int, int]], degree: int, frequency: float
) -> _Sine | None:
    """Return the sine of one frequency and phase that fits all parts beside their polynomials."""
    matrix, vector, squares, free = np.zeros((2, 2)), np.zeros(2), 0.0, -2
    for first, stop in parts:
        seconds = time[first:stop]
        angle = 2.0 * np.pi * frequency * seconds
        columns = np.column_stack([np.cos(angle), np.sin(angle), force[first:stop]])
        span = np.linspace(-1.0, 1.0, seconds.size)
        basis, _ = np.linalg.qr(np.vander(span, degree + 1))
        rest = columns - basis @ (basis.T @ columns)
        matrix += rest[:, :2].T @ rest[:, :2]
        vector += rest[:, :2].T @ rest[:, 2]
        squares += float(rest[:, 2] @ rest[:, 2])
        free += seconds.size - degree - 1
    if free < 3 or np.linalg.cond(matrix) > 1e6:
        return None
    inverse = np.linalg.inv(matrix)
    fitted = inverse @ vector
    explained = float(vector @ fitted)
    scatter = np.sqrt(max(squares - explained, 0.0) / free)
    uncertain = float(scatter * np.sqrt(np.linalg.eigvalsh(inverse)[-1]))
    return _Sine(float(np.hypot(*fitted)), uncertain, explained)
