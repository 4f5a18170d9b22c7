"""Figures read off a pulse: its peak, its effective dwell, the times at which it crosses a level.

Everywhere `time` is in s and increasing, shape (times,), and `pressure` has shape (times, draws);
the solver's own pulses come as its natural logarithm. A level is crossed on the straight line
between two samples of what is given: of a pressure, or of a logarithm with the level's own.
"""

from __future__ import annotations

import numpy as np

from scaleup.arrays import Array, Flags, Places, moment_between


def interpolated_peak(time: Array, log_pressure: Array) -> Array:
    """Return the peak of the parabola through the highest point and its neighbours, (draws,).

    Examples
    --------
    >>> log_pressure = np.log(np.array([[9.0], [10.0], [9.8]]))
    >>> round(float(interpolated_peak(np.arange(3.0), log_pressure)[0]), 3)
    10.067
    """
    column = np.arange(log_pressure.shape[1])
    top = np.clip(_highest(log_pressure), 1, time.size - 2)
    left, middle, right = (np.exp(log_pressure[top + shift, column]) for shift in (-1, 0, 1))
    before, after = time[top] - time[top - 1], time[top + 1] - time[top]
    rise, fall = (middle - left) / before, (right - middle) / after
    bend = (fall - rise) / (before + after)
    slope = (rise * after + fall * before) / (before + after)
    limit = 0.25 * np.maximum(middle - np.minimum(left, right), 0.0)
    curved = bend * (before + after) ** 2 < -1e-12 * middle
    gain = np.where(curved, -0.25 * slope * slope / np.where(curved, bend, -1.0), 0.0)
    peak: Array = middle + np.minimum(gain, limit)
    return peak


FLAT = 1e-3
"""Change of a logarithm below which the mean of its exponential is that of the two ends."""


def effective_dwell_of(
    time: Array, log_pressure: Array, peak: Array, rate_exponent: Array
) -> Array:
    """Return the effective dwell in s referred to a given peak in MPa, shape (draws,).

    ``integral of (P/peak)^(1/m) dt`` with the logarithm of the pressure linear between samples, as
    the solver's own steps have it: a segment from a to b of ``q = (P/peak)^(1/m)`` counts
    ``(b - a)/ln(b/a)``. Pressures are above 0. `scaleup.powder.rate.effective_dwell` is for
    pulses that are measured.

    Examples
    --------
    >>> time, held = np.array([0.0, 0.5]), np.log(np.full((2, 1), 100.0))
    >>> float(effective_dwell_of(time, held, np.array([100.0]), np.array([0.05]))[0])
    0.5
    """
    power = 1.0 / np.maximum(rate_exponent, 1e-9)
    log_peak = np.log(peak)
    total = np.zeros(log_pressure.shape[1])
    load, load_next, counts, counts_next = np.empty((4, total.size))
    np.multiply(log_pressure[0] - log_peak, power, out=load)
    np.exp(load, out=counts)
    for step, row in zip(np.diff(time), log_pressure[1:], strict=True):  # rows stay in the cache
        np.subtract(row, log_peak, out=load_next)
        load_next *= power
        np.exp(load_next, out=counts_next)
        load -= load_next  # the fall, and its exponential's, in the place of what they fall from
        counts -= counts_next
        if load.min() > FLAT or load.max() < -FLAT:
            counts /= load
        else:
            flat = np.abs(load) <= FLAT
            counts /= np.where(flat, 1.0, load)
            np.copyto(counts, counts_next + 0.5 * counts, where=flat)
        counts *= step
        total += counts
        load, load_next = load_next, load
        counts, counts_next = counts_next, counts
    return total


def _highest(pressure: Array) -> Places:
    """Return the first row of the highest pressure of each draw.

    It is looked for only between the first row that is not above the last for all draws and the
    last row that is for any: numpy is slow at a maximum down the rows.
    """
    rises = pressure[1:] > pressure[:-1]
    begin = np.flatnonzero(~rises.all(axis=1)).min(initial=len(rises))
    end = np.flatnonzero(rises.any(axis=1)).max(initial=begin) + 2
    top: Places = begin + pressure[begin:end].argmax(axis=0)
    return top


def _first(reached: Flags) -> Places:
    """Return the first row that is true for each draw, 0 for one that is true in none.

    It is looked for only between the first row true for any draw and the first true for all.
    """
    whole = reached.all(axis=1)
    if not whole.any():
        plain: Places = reached.argmax(axis=0)
        return plain
    begin, end = int(reached.any(axis=1).argmax()), int(whole.argmax()) + 1
    row: Places = begin + reached[begin:end].argmax(axis=0)
    return row


def crossings(time: Array, pressure: Array, level: Array) -> tuple[Array, Array]:
    """Return the first and the last time in s with the pressure at a level or above, (draws,).

    Examples
    --------
    >>> rise = np.array([[0.0], [100.0], [0.0]])
    >>> first, last = crossings(np.arange(3.0), rise, np.array([90.0]))
    >>> float(first[0]), float(last[0])
    (0.9, 1.1)
    """
    reached = pressure >= level
    up = np.maximum(_first(reached), 1)
    down = np.minimum(time.size - _first(reached[::-1]), time.size - 1)
    first = np.where(reached[0], time[0], _crossing(time, pressure, level, up))
    last = np.where(reached[-1], time[-1], _crossing(time, pressure, level, down))
    return first, last


def _crossing(time: Array, pressure: Array, level: Array, after: np.ndarray) -> Array:
    column = np.arange(pressure.shape[1])
    low, high = pressure[after - 1, column], pressure[after, column]
    return moment_between(time[after - 1], time[after], low, high, level)


LEAST_SEPARATION = 1e-3
"""mm."""


def closing_strain_rate(wide: Array, narrow: Array, duration: Array) -> Array:
    """Return the mean axial strain rate in 1/s of closing from one separation to another.

    Separations of trial pulses that no tips can have count as a thousandth of a mm.

    Examples
    --------
    >>> halved = closing_strain_rate(np.array([8.0]), np.array([4.0]), np.array(0.02))
    >>> round(float(halved[0]), 2)
    34.66
    """
    ratio = np.maximum(wide, LEAST_SEPARATION) / np.maximum(narrow, LEAST_SEPARATION)
    rate: Array = np.log(ratio) / duration
    return rate
