"""When a force crosses a level on its flanks, and by how much that moment may be off.

Rows are pulses: `time` in s and `force` in N have shape (pulses, samples), samples that lie outside
a pulse repeat its last time and read 0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array, Places, moment_between

WIDE = 16
"""Slopes are taken over this part of the samples above 90 %, and one at least."""
RATIOS = (1.2, 2.0)
"""From a foot that grows with the fourth power of time to a straight one."""
UNSURE = 0.5
"""Share of what is continued below the lowest level by which it may be off (a judgement of this
program)."""


@dataclass(frozen=True)
class Crossings:
    """Moments at which rows cross a level, arrays of shape (pulses,)."""

    moment: Array
    """s."""
    slope: Array
    """N/s, above 0."""
    bend: Array
    """By how much in N the force may depart from a straight line between two samples."""

    def error(self, level_error: Array) -> Array:
        """Return by how much in s the moment may be off, the level being off by so much in N."""
        result: Array = (level_error + self.bend) / self.slope
        return result


def rising(time: Array, force: Array, level: Array, wide: Places) -> Crossings:
    """Return where every row rises to a level in N; linear between samples.

    Noise makes the first sample above the level come early and the last below it late; the middle
    of the two crossings is told. Slopes are taken over `wide` samples to either side.
    """
    above = force >= level[:, None]
    size = force.shape[1]
    first = np.maximum(above.argmax(axis=1), 1)
    columns = np.arange(size)[None, :]
    below = ~above & (columns < force.argmax(axis=1)[:, None])
    last = size - below[:, ::-1].argmax(axis=1)
    last = np.where(below.any(axis=1), np.clip(last, 1, size - 1), first)
    moment = 0.5 * (_between(time, force, level, first) + _between(time, force, level, last))
    return Crossings(moment, *_slope_and_bend(time, force, (first + last) // 2, wide))


def falling(time: Array, force: Array, level: Array, wide: Places) -> Crossings:
    """Return where every row falls to a level in N, as `rising` read backward."""
    back = rising(-time[:, ::-1], force[:, ::-1], level, wide)
    return Crossings(-back.moment, back.slope, back.bend)


def rises_to(time: Array, force: Array, level: Array) -> Array:
    """Return when every row rises to a level in N, in s."""
    return rising(time, force, level, np.ones(len(force), dtype=np.intp)).moment


def falls_to(time: Array, force: Array, level: Array) -> Array:
    """Return when every row falls to a level in N, in s."""
    return falling(time, force, level, np.ones(len(force), dtype=np.intp)).moment


def foot_of(
    time: Array, force: Array, low: Array, wide: Places, level_error: Array
) -> tuple[Array, Array]:
    """Return when the force of every row leaves zero, in s, and by how much that may be off.

    A foot that grows with a power of time has, at a low level, twice and four times that, steps of
    time in a constant ratio; continued to no force they add up to ``step/(ratio - 1)``.
    """
    one, two, four = (rising(time, force, share * low, wide) for share in (1.0, 2.0, 4.0))
    first, second = two.moment - one.moment, four.moment - two.moment
    ratio = np.clip(second / np.maximum(first, 1e-12), *RATIOS)
    below = np.maximum(first, 0.0) / (ratio - 1.0)
    error = (2.0 / (ratio - 1.0)) * one.error(level_error) + UNSURE * below
    return one.moment - below, error


def _between(time: Array, force: Array, level: Array, after: Places) -> Array:
    rows = np.arange(len(force))
    low, high = force[rows, after - 1], force[rows, after]
    return moment_between(time[rows, after - 1], time[rows, after], low, high, level)


def _slope_and_bend(
    time: Array, force: Array, after: Places, wide: Places
) -> tuple[Array, Array]:
    """Return the slope at a sample, and the sag of a parabola between two samples there.

    The second difference over h steps is h² times that of one step, whose sag is an eighth of it.
    """
    rows, last = np.arange(len(force)), force.shape[1] - 1
    low, high = np.maximum(after - 1 - wide, 0), np.minimum(after + wide, last)
    step = np.maximum(time[rows, high] - time[rows, low], 1e-12)
    rise = force[rows, high] - force[rows, low]
    bend = force[rows, high] - 2.0 * force[rows, (low + high) // 2] + force[rows, low]
    slope = np.maximum(rise, 1e-6 * np.abs(force[rows, after]) + 1e-9) / step
    half = np.maximum(0.5 * (high - low), 0.5)
    return slope, np.abs(bend) / (8.0 * half**2)
