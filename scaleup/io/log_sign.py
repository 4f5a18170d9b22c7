"""Which way a force channel points: compression is positive here, whatever the logger does."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from scaleup.arrays import Array
from scaleup.errors import Fault, InputError

ONE_SIDED = 3.0
"""A load is this many times larger than what the force does on the other side of its zero."""
CLEAR_NOISES = 12.0
"""A load is this many noises,"""
CLEAR_LOAD = 500.0
"""and this many N while more of the log is to come: drift and hum are less."""
LOOKED_AT = 20_000
"""Samples of a piece that are looked at where its sign is in question."""
AT_REST, RESTS = 0.05, 0.05
"""A force rests where this share of the samples lies within this share of the range,"""
RESTS_AT_TOP = 0.3
"""this share where no sample reaches zero. Each of these is a judgement of this program."""
BELOW = 0.004
"""Share of the load that the force may lie below its zero, where it also pulls."""
TURNED = "the force is negative under load; its sign was turned over"


@dataclass
class Sign:
    """What is known of the sign of a log's force so far."""

    shown: str
    factor: float = 0.0
    """1 or -1, 0 while no load was seen."""
    largest: float = 0.0
    """Largest load in N so far."""
    start: float | None = None
    """Force in N that the log begins with."""
    floor: float = -np.inf
    """N; what pulls below it counts for nothing."""
    told: list[str] = field(default_factory=list)

    def turned(self, force: Array, *, last: bool) -> Array:
        """Return a piece of a log's force in N with compression positive.

        Raises
        ------
        InputError
            If compression could be either side, or the side changes.
        """
        if self.start is None:
            self.start = float(np.median(force[:64]))
        low, high = float(force.min()), float(force.max())
        if self.factor == 0.0:
            self._decide(force, low, high, last=last)
        factor = self.factor or 1.0
        low, high = (low, high) if factor > 0.0 else (-high, -low)
        if -low > ONE_SIDED * max(high, 0.0) and -low > 0.5 * self.largest > CLEAR_LOAD:
            found = f"loads of {self.largest:.4g} N, and later of {low:.4g} N"
            raise InputError(self._fault(found))
        if self.factor:
            self.largest = max(self.largest, high)
        if self.floor > -np.inf:
            return np.maximum(force, self.floor)
        return force if factor > 0.0 else -force

    def _decide(self, force: Array, low: float, high: float, *, last: bool) -> None:
        """Look which side of its zero the force leaves, if it does so clearly."""
        least = CLEAR_NOISES * _noise(force)
        clear = max(least, 0.0 if last else CLEAR_LOAD)
        if high - low <= clear:
            return
        zero = self._zero(force, low, high)
        up, down = high - zero, zero - low
        if max(up, down) <= clear:
            return
        if down >= ONE_SIDED * up:
            self.factor = -1.0
            self.told.append(TURNED)
        elif down > up:
            found = f"forces of {up:.4g} N above and {down:.4g} N below the zero of {zero:.4g} N"
            raise InputError(self._fault(found))
        else:
            self.factor = 1.0
            if ONE_SIDED * down > up:
                self.floor = zero - max(0.5 * least, BELOW * up)
                self.told.append(
                    f"the force falls to {down:.3g} N below its zero as well; only what is above "
                    "is taken for compression"
                )

    def _zero(self, force: Array, low: float, high: float) -> float:
        """Return the force of the idle press: where the log begins, if it rests there.

        Raises
        ------
        InputError
            If the log begins at a force far below zero and the other end of its range is zero:
            either could be idle.
        """
        some = force[:: max(force.size // LOOKED_AT, 1)]
        start, reach = float(self.start or 0.0), high - low
        share = float(np.mean(np.abs(some - start) < AT_REST * reach))
        if low > 0.0 and low > 0.1 * high:
            return start if high - start < AT_REST * reach and share > RESTS_AT_TOP else low
        if -low <= high / ONE_SIDED:
            return min(max(0.0, low), high) if low > 0.0 else low
        if share < RESTS:
            return min(max(0.0, low), high)
        if start - low < 0.1 * reach and abs(high) < 0.1 * reach and start < -0.3 * reach:
            found = f"a force that begins at {start:.4g} N and rests at {high:.4g} N as well"
            raise InputError(self._fault(found))
        return start

    def _fault(self, found: str) -> Fault:
        mend = "Turn the sign in the file, or leave out what is not compression."
        return Fault(self.shown, "column force", found, "compression on one side of zero", mend)


def _noise(force: Array) -> float:
    """Return about the standard deviation of a sample in N."""
    if force.size < 3:
        return 0.0
    bends = np.abs(np.diff(force[:LOOKED_AT], n=2))
    return 1.4826 * float(np.median(bends)) / float(np.sqrt(6.0))
