"""The effective dwell of runs whose force is prescribed: a function of the rate exponent alone.

A pulse of a few straight pieces is closed form. A logged pulse has hundreds, and the fit asks for
tens of thousands of exponents: its logarithm is smooth in ln m, so a Chebyshev series carries it,
to 1e-9 of the dwell and real logs to 1e-11 (the tests hold it against the pulse itself).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import log

import numpy as np
from numpy.polynomial.chebyshev import chebpts1

from scaleup.arrays import Array
from scaleup.calibration.prior import UPPER
from scaleup.powder.rate import dwell_of_segments, mean_power
from scaleup.presses.pulse_shapes import ForcePulse

MOST_PIECES = 4
"""Straight pieces of a pulse up to which its dwell is taken as it is."""
NODES = 128
LEAST_CARRIED, MOST_CARRIED = 1e-4, UPPER
"""Rate exponents between which a series is carried; outside, the pulse itself is taken."""


@dataclass(frozen=True)
class Pulses:
    """Prescribed forces of one shape: straight between samples, only the times differ.

    The hydraulic runs of a study are all of them one shape (up, hold, down), so that the power of
    the shares is taken once for every exponent, not once for every run.
    """

    runs: tuple[int, ...]
    step: Array
    """Durations in s, shape (runs, times - 1)."""
    share: Array
    """Force over its peak, shape (times, 1)."""

    def dwell(self, m: Array) -> Array:
        """Return effective dwells in s, shape (runs, sets)."""
        dwell: Array = self.step @ mean_power(self.share, m)
        return dwell


@dataclass(frozen=True)
class LongPulses:
    """Prescribed forces of many pieces, each of a shape of its own."""

    runs: tuple[int, ...]
    steps: tuple[Array, ...]
    """Durations in s of each run, shape (times - 1, 1)."""
    shares: tuple[Array, ...]
    """Force over its peak of each run, shape (times, 1)."""
    series: Array
    """Chebyshev coefficients of ln(effective dwell/s) in ln m, shape (runs, nodes)."""

    @classmethod
    def of(
        cls, runs: tuple[int, ...], steps: tuple[Array, ...], shares: tuple[Array, ...]
    ) -> LongPulses:
        """Return the pulses with their series through `NODES` exponents."""
        nodes = chebpts1(NODES)
        m = np.exp(_middle() + _half() * nodes)
        at_nodes = np.log(_exact(steps, shares, m))
        weights = polynomials(nodes) * (2.0 / NODES)
        weights[0] *= 0.5
        return cls(runs, steps, shares, at_nodes @ weights.T)

    def dwell(self, m: Array) -> Array:
        """Return effective dwells in s, shape (runs, sets)."""
        kept = np.clip(m, LEAST_CARRIED, MOST_CARRIED)
        place = (np.log(kept) - _middle()) / _half()
        dwell: Array = np.exp(self.series @ polynomials(place))
        outside = kept != m
        if outside.any():
            few, back = np.unique(m[outside], return_inverse=True)
            dwell[:, outside] = _exact(self.steps, self.shares, few)[:, back]
        return dwell


def polynomials(place: Array) -> Array:
    """Return Chebyshev's polynomials at places from -1 to 1, shape (NODES, places).

    By ``T_(n+j) = 2 T_n T_j - T_(n-j)``, twice as many at every step.

    >>> polynomials(np.array([0.5]))[:4, 0]
    array([ 1. ,  0.5, -0.5, -1. ])
    """
    table = np.empty((NODES, place.size))
    table[0], table[1] = 1.0, place
    n = 1
    while n < NODES - 1:
        part = table[1 : min(n, NODES - 1 - n) + 1]
        table[n + 1 : n + 1 + len(part)] = 2.0 * table[n] * part - table[n - len(part) : n][::-1]
        n += len(part)
    return table


def _middle() -> float:
    return 0.5 * (log(LEAST_CARRIED) + log(MOST_CARRIED))


def _half() -> float:
    return 0.5 * (log(MOST_CARRIED) - log(LEAST_CARRIED))


def _exact(steps: tuple[Array, ...], shares: tuple[Array, ...], m: Array) -> Array:
    return np.array(
        [dwell_of_segments(step, share, m) for step, share in zip(steps, shares, strict=True)]
    )


def force_pulses(motions: Iterable[tuple[int, ForcePulse]]) -> tuple[Pulses | LongPulses, ...]:
    """Return the dwells of runs, each with its place among all runs, by the shape of their force.

    Examples
    --------
    >>> up_and_down = ForcePulse(np.array([0.0, 0.1, 0.2]), np.array([0.0, 5e3, 0.0]))
    >>> (pulses,) = force_pulses([(0, up_and_down)])
    >>> pulses.dwell(np.array([0.25]))
    array([[0.04]])
    """
    shapes: dict[bytes, list[tuple[int, ForcePulse]]] = {}
    long: list[tuple[int, Array, Array]] = []
    for index, motion in motions:
        share = motion.share()
        if share.size <= MOST_PIECES + 1:
            shapes.setdefault(share.tobytes(), []).append((index, motion))
        else:
            long.append((index, np.diff(motion.time)[:, None], share[:, None]))
    alike = tuple(map(_pulses, shapes.values()))
    if not long:
        return alike
    runs, steps, shares = zip(*long, strict=True)
    return (*alike, LongPulses.of(runs, steps, shares))


def _pulses(alike: list[tuple[int, ForcePulse]]) -> Pulses:
    """Return runs whose force has one shape."""
    steps = np.stack([np.diff(motion.time) for _, motion in alike])
    return Pulses(tuple(index for index, _ in alike), steps, alike[0][1].share()[:, None])
