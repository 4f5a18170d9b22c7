"""Figures read off a pulse: its peak, its effective dwell, the times at which it crosses a level.

Everywhere `time` is in s and increasing, shape (times,), and `pressure` has shape (times, draws).
"""

from __future__ import annotations

import numpy as np

from scaleup.arrays import Array
from scaleup.powder.rate import effective_dwell


def interpolated_peak(time: Array, pressure: Array) -> Array:
    """Return the peak of the parabola through the highest point and its neighbours, (draws,)."""
    column = np.arange(pressure.shape[1])
    top = np.clip(pressure.argmax(axis=0), 1, time.size - 2)
    left, middle, right = (pressure[top + shift, column] for shift in (-1, 0, 1))
    before, after = time[top] - time[top - 1], time[top + 1] - time[top]
    rise, fall = (middle - left) / before, (right - middle) / after
    bend = (fall - rise) / (before + after)
    slope = (rise * after + fall * before) / (before + after)
    limit = 0.25 * np.maximum(middle - np.minimum(left, right), 0.0)
    curved = bend * (before + after) ** 2 < -1e-12 * middle
    gain = np.where(curved, -0.25 * slope * slope / np.where(curved, bend, -1.0), 0.0)
    peak: Array = middle + np.minimum(gain, limit)
    return peak


def effective_dwell_of(time: Array, pressure: Array, peak: Array, rate_exponent: Array) -> Array:
    """Return the effective dwell in s referred to a given peak, shape (draws,)."""
    sampled = np.asarray(effective_dwell(time, pressure, rate_exponent))
    ratio = np.log(pressure.max(axis=0) / peak) / np.maximum(rate_exponent, 1e-9)
    dwell: Array = sampled * np.exp(np.maximum(ratio, -700.0))
    return dwell


def first_crossing(time: Array, pressure: Array, level: Array) -> Array:
    """Return the first time in s at which the pressure rises to a level, shape (draws,)."""
    after = np.maximum((pressure >= level).argmax(axis=0), 1)
    return _crossing(time, pressure, level, after)


def last_crossing(time: Array, pressure: Array, level: Array) -> Array:
    """Return the last time in s at which the pressure falls to a level, shape (draws,)."""
    reverse = (pressure[::-1] >= level).argmax(axis=0)
    after = np.minimum(time.size - reverse, time.size - 1)
    return _crossing(time, pressure, level, after)


def _crossing(time: Array, pressure: Array, level: Array, after: np.ndarray) -> Array:
    column = np.arange(pressure.shape[1])
    low, high = pressure[after - 1, column], pressure[after, column]
    step = np.where(high == low, 1.0, high - low)
    share = np.clip((level - low) / step, 0.0, 1.0)
    moment: Array = time[after - 1] + share * (time[after] - time[after - 1])
    return moment


def time_above(time: Array, pressure: Array, level: Array) -> Array:
    """Return how long in s the pressure is at or above a level, shape (draws,)."""
    return last_crossing(time, pressure, level) - first_crossing(time, pressure, level)


LEAST_SEPARATION = 1e-3
"""mm."""


def closing_strain_rate(wide: Array, narrow: Array, duration: Array) -> Array:
    """Return the mean axial strain rate in 1/s of closing from one separation to another.

    Separations of trial pulses that no tips can have count as a thousandth of a mm.
    """
    ratio = np.maximum(wide, LEAST_SEPARATION) / np.maximum(narrow, LEAST_SEPARATION)
    rate: Array = np.log(ratio) / duration
    return rate
