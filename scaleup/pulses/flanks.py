"""When a force crosses a level on its flanks, and by how much that moment may be off.

Rows are pulses: `time` in s and `force` in N have shape (pulses, samples), samples that lie outside
a pulse repeat its last time and read 0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array, Flags, Places, moment_between

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


@dataclass(frozen=True)
class Flank:
    """The way of rows up to their highest sample, forward or backward in time."""

    time: Array
    """s, shape (pulses, samples)."""
    force: Array
    """N."""
    before_top: Flags
    """Whether a sample comes before the highest of its row."""
    wide: Places
    """Samples to either side over which slopes are taken, shape (pulses,)."""

    @classmethod
    def up(cls, time: Array, force: Array, wide: Places | None = None) -> Flank:
        """Return the rise of every row."""
        top = force.argmax(axis=1)
        size = min(int(max(top.max() + 2, 2)), force.shape[1])
        wide = np.ones(len(force), dtype=np.intp) if wide is None else wide
        return cls(time[:, :size], force[:, :size], np.arange(size) < top[:, None], wide)

    @classmethod
    def down(cls, time: Array, force: Array, wide: Places | None = None) -> Flank:
        """Return the fall of every row, read backward: its times are negative."""
        return cls.up(-time[:, ::-1], force[:, ::-1], wide)

    def at(self, level: Array) -> Crossings:
        """Return where every row comes to a level in N; linear between samples.

        Noise makes the first sample above the level come early and the last below it late; the
        middle of the two crossings is told.
        """
        size = self.force.shape[1]
        above = self.force >= level[:, None]
        first = np.maximum(above.argmax(axis=1), 1)
        below = ~above & self.before_top
        last = size - below[:, ::-1].argmax(axis=1)
        last = np.where(below.any(axis=1), np.clip(last, 1, size - 1), first)
        early, late = (_between(self.time, self.force, level, each) for each in (first, last))
        after = (first + last) // 2
        return Crossings(
            0.5 * (early + late), *_slope_and_bend(self.time, self.force, after, self.wide)
        )


def rises_to(time: Array, force: Array, level: Array) -> Array:
    """Return when every row rises to a level in N, in s."""
    return Flank.up(time, force).at(level).moment


def falls_to(time: Array, force: Array, level: Array) -> Array:
    """Return when every row falls to a level in N, in s."""
    return -Flank.down(time, force).at(level).moment


def foot_of(flank: Flank, low: Array, level_error: Array) -> tuple[Array, Array]:
    """Return when the force of every row leaves zero, in s, and by how much that may be off.

    A foot that grows with a power of time has, at a low level, twice and four times that, steps of
    time in a constant ratio; continued to no force they add up to ``step/(ratio - 1)``.
    """
    one, two, four = (flank.at(share * low) for share in (1.0, 2.0, 4.0))
    first, second = two.moment - one.moment, four.moment - two.moment
    ratio = np.clip(second / np.maximum(first, 1e-12), *RATIOS)
    below = np.maximum(first, 0.0) / (ratio - 1.0)
    error = (2.0 / (ratio - 1.0)) * one.error(level_error) + UNSURE * below
    return one.moment - below, error


def _between(time: Array, force: Array, level: Array, after: Places) -> Array:
    rows = np.arange(len(force))
    low, high = force[rows, after - 1], force[rows, after]
    return moment_between(time[rows, after - 1], time[rows, after], low, high, level)


def _slope_and_bend(time: Array, force: Array, after: Places, wide: Places) -> tuple[Array, Array]:
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
