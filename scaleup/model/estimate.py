"""A number with its unit and band, or the reason why there is none."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.sentence import Sentence, Words, share_of_draws

BAND = 0.90
"""The share of draws between the low and the high end of every band."""


@dataclass(frozen=True)
class Estimate:
    """A value in a core unit with the ends of its band.

    A setting that is dialled, or a figure that follows exactly from what was given, has a band of
    no width. Where a value or its band cannot be had, `reason` says why.

    Examples
    --------
    >>> Estimate(12028.0, "N", 11956.0, 12088.0).times(1e-3, "kN").value
    12.028
    """

    value: float | None
    unit: str
    low: float | None = None
    high: float | None = None
    reason: Words = ""

    @property
    def exact(self) -> bool:
        """Return whether the value was set rather than estimated."""
        return self.value is not None and self.low == self.value == self.high

    def times(self, factor: float, unit: str) -> Estimate:
        """Return the quantity times a positive factor, in another unit."""

        def scaled(value: float | None) -> float | None:
            return None if value is None else value * factor

        return Estimate(scaled(self.value), unit, scaled(self.low), scaled(self.high), self.reason)


def exactly(value: float, unit: str) -> Estimate:
    """Return a value that was set."""
    return Estimate(float(value), unit, float(value), float(value))


def drawn(draws: Array, unit: str, value: float | None = None, *, absent: str = "") -> Estimate:
    """Return the median of draws, or another value, with the 90 % band of the draws.

    An infinite draw reaches its value nowhere; not-a-number is a figure that draw does not have,
    and where any has none, neither middle nor band mean anything: `absent` says why it may have
    none.
    """
    without = float(np.mean(np.isnan(draws)))
    if without > 0.0:
        none = Sentence("{without} have none", without=share_of_draws(without, draws.size))
        return unavailable(unit, absent or none)
    if not np.all(np.isfinite(draws)):
        return _partly_infinite(draws, unit, value)
    low, middle, high = np.quantile(draws, [(1.0 - BAND) / 2.0, 0.5, (1.0 + BAND) / 2.0])
    return Estimate(float(middle if value is None else value), unit, float(low), float(high))


def _partly_infinite(draws: Array, unit: str, value: float | None) -> Estimate:
    """Return the band of draws of which some have no finite value."""
    low, middle, high = np.quantile(
        np.nan_to_num(draws, posinf=1e300),
        [(1.0 - BAND) / 2.0, 0.5, (1.0 + BAND) / 2.0],
        method="nearest",
    )
    share = float(np.mean(~np.isfinite(draws)))
    reason = Sentence("{without} reach it at no value", without=share_of_draws(share, draws.size))
    ends = [float(end) if end < 1e299 else None for end in (low, middle, high)]
    return Estimate(ends[1] if value is None else value, unit, ends[0], ends[2], reason)


def unavailable(unit: str, reason: Words) -> Estimate:
    """Return the absence of a value, with its reason."""
    return Estimate(None, unit, reason=reason)


def mean_of(values: Array, unit: str) -> Estimate:
    """Return the mean of replicates with the 90 % band of that mean (Student's t).

    One value alone has no band.
    """
    from scipy.special import stdtrit  # noqa: PLC0415  few calls need it

    mean = float(values.mean())
    if values.size < 2:
        return Estimate(mean, unit, reason="one run: no band")
    half = float(stdtrit(values.size - 1, (1.0 + BAND) / 2.0) * values.std(ddof=1))
    half /= float(np.sqrt(values.size))
    return Estimate(mean, unit, mean - half, mean + half)
