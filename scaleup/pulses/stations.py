"""Which station of the turret each compression is of, and what the stations differ by."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array, Flags, Places
from scaleup.pulses.pattern import Pattern
from scaleup.pulses.pulses_found import Pulses
from scaleup.short_repr import short_repr

STANDS_OUT = 3.5
"""Robust standard deviations between stations from which one stands out,"""
SURE = 3.0
"""and standard errors of its own mean that it must be away as well (judgements of this program)."""
LEAST_ROUNDS = 2.0
"""Turns of the turret below which a mean of a station is next to nothing."""


@short_repr
@dataclass(frozen=True)
class Stations:
    """Main compressions by station, arrays of shape (stations,); not-a-number where there is none.

    Stations are counted from 1 as the log meets them: which punch is the first, it does not say.
    """

    count: Places
    """Compressions of each."""
    told: Places
    """Those whose peak is told."""
    mean: Array
    """Mean peak, N."""
    error: Array
    """Two standard errors of it, and by how much the zero may be off, N."""
    spread: Array
    """Standard deviation of its peaks, N."""
    between: float
    """Standard deviation of the means over their mean, scatter within stations taken off;
    not-a-number where no station was seen twice."""
    within: float
    """Standard deviation within stations, over the mean."""
    stands_out: tuple[int, ...]
    silent: tuple[int, ...]
    """Stations without a compression though the turret went round more than once."""
    rounds: float
    """Turns of the turret."""
    speed: float
    """Turret speed in rpm."""


def stations_of(pulses: Pulses, pattern: Pattern, number: int) -> Stations | None:
    """Return the stations of a turret; None where compressions do not come at regular times.

    Places are counted from compression to compression, so that a speed that changes slowly does
    not move them.
    """
    if pattern.interval is None:
        return None
    main = np.flatnonzero(~pattern.precompression & ~pattern.double & ~pattern.weak)
    steps = np.rint(np.diff(pulses.moment[main]) / pattern.interval).astype(np.intp)
    place = np.append(0, np.cumsum(steps))
    peak, station = pulses.peak[main], place % number
    known = ~np.isnan(peak)
    count = np.bincount(station, minlength=number)
    told = np.bincount(station[known], minlength=number)
    mean = _mean(peak[known], station[known], told)
    rest = peak[known] - mean[station[known]]
    free = int(known.sum() - (told > 0).sum())
    within = float(np.sqrt(np.sum(rest**2) / free)) if free > 0 else np.nan
    with np.errstate(invalid="ignore", divide="ignore"):
        spread = np.sqrt(_mean(rest**2, station[known], told) * told / np.maximum(told - 1, 1))
        own = 2.0 * within / np.sqrt(told)
    spread[told < 2] = np.nan
    zero = _mean(pulses.zero_error[main][known], station[known], told)
    whole = float(np.mean(mean[told > 0])) if known.any() else np.nan
    rounds = (place[-1] + 1) / number
    by_chance = within**2 * float(np.mean(1.0 / told[told > 0])) if known.any() else np.nan
    alike = (told > 0).sum() < 2 or np.isnan(by_chance)
    between = np.nan if alike else np.sqrt(max(float(np.nanvar(mean, ddof=1)) - by_chance, 0.0))
    return Stations(
        count, told, mean, own + zero, spread, between / whole, within / whole,
        _numbers(_outstanding(mean, own)),
        _numbers((count == 0) & (rounds > 1.0)),
        rounds, 60.0 / (pattern.interval * number),
    )  # fmt: skip


def _mean(values: Array, station: Places, count: Places) -> Array:
    total = np.bincount(station, weights=values, minlength=count.size)
    result: Array = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return result


def _outstanding(mean: Array, error: Array) -> Flags:
    """Return which means lie further from their median than stations or scatter explain."""
    if np.isnan(mean).all():
        return np.zeros(mean.size, dtype=bool)
    away = np.abs(mean - np.nanmedian(mean))
    usual = 1.4826 * float(np.nanmedian(away))
    with np.errstate(invalid="ignore"):
        result: Flags = (away > STANDS_OUT * usual) & (away > SURE * 0.5 * error)
    return result


def _numbers(which: Flags) -> tuple[int, ...]:
    return tuple(int(each) + 1 for each in np.flatnonzero(which))
