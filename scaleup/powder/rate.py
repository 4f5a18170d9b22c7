"""How the time under pressure counts: rate exponent, effective dwell and what they give."""

from __future__ import annotations

import numpy as np
from scipy.special import xlogy

from scaleup.arrays import Array
from scaleup.checks import not_negative, positive, require
from scaleup.formula import equation

SMALLEST_EXPONENT = 1e-100  # below it the powder is rate-independent; 1/m must not overflow
LEAST = 1e-300  # share of the peak, or of a drop in pressure: stands for none


@equation(sensitivity="1", slow="mm/s", fast="mm/s")
def rate_exponent(sensitivity: Array, slow: Array, fast: Array, relative_to: str = "fast") -> Array:
    """Return the rate exponent m that a published strain-rate sensitivity stands for.

    The sensitivity is the rise in yield pressure from a slow to a fast punch, over the yield
    pressure of one of them; with yield pressure as ``speed**m``

    - relative to fast: ``m = -ln(1 - SRS) / ln(fast/slow)``
    - relative to slow: ``m = ln(1 + SRS) / ln(fast/slow)``

    Parameters
    ----------
    sensitivity
        SRS as a fraction, 0 or more; below 1 if relative to fast.
    slow, fast
        The two punch speeds in one unit, above 0, fast above slow.
    relative_to
        "fast" or "slow": the yield pressure the source divides by.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If a sensitivity or a speed is impossible, or the convention is neither of the two.

    Notes
    -----
    Source: SRS after Roberts & Rowe, J Pharm Pharmacol 37 (1985) 377, 0.033 and 300 mm/s; that
    they divide by the fast value is from memory. The power law is this project's.

    Examples
    --------
    Microcrystalline cellulose, 38.9 %:

    >>> rate_exponent(sensitivity=0.389, slow=0.033, fast=300)
    0.05405
    """
    not_negative(sensitivity=sensitivity)
    positive(slow=slow)
    require("fast", fast, fast > slow, "a higher speed than slow")
    if relative_to == "slow":
        return np.log1p(sensitivity) / np.log(fast / slow)
    if relative_to != "fast":
        raise ValueError(f'relative_to must be "fast" or "slow", found "{relative_to}"')
    require("sensitivity", sensitivity, sensitivity < 1.0, "below 1 when relative to fast")
    return -np.log1p(-sensitivity) / np.log(fast / slow)


@equation(time="s", pressure=("MPa", "N"), rate_exponent="1")
def effective_dwell(time: Array, pressure: Array, rate_exponent: Array) -> Array:
    """Return the effective dwell in s of a pulse: the time at peak pressure that does as much.

    ``t_eff = integral of (P/P_peak)**(1/m) dt``, exact for a pressure that is linear between the
    samples: a segment of length d from a to b gives
    ``d (b**(n+1) - a**(n+1)) / ((n+1) (b - a))`` with ``n = 1/m`` and a, b as shares of the peak.
    At ``m = 0`` only time spent exactly at the peak counts.

    Parameters
    ----------
    time
        Increasing times in s, shape (times,) or (times, draws), at least two.
    pressure
        Pressure in MPa (or force: only its shape matters), 0 or more, of the same shapes.
    rate_exponent
        m, 0 or more, a float or of shape (draws,).

    The result is a float, or of shape (draws,) if any argument has draws.

    Raises
    ------
    ValueError
        If times do not increase, a pressure is negative, there is no pressure at all, or the
        shapes do not fit each other.

    Notes
    -----
    Source: this project's; in the limit of one flat pulse it is the dwell time of the trade.

    Examples
    --------
    Up in 0.1 s, held for 0.5 s, down in 0.1 s: ``0.5 + (0.1 + 0.1) m/(1+m)``.

    >>> effective_dwell([0.0, 0.1, 0.6, 0.7], [0.0, 150.0, 150.0, 0.0], rate_exponent=0.25)
    0.54
    """
    if time.shape[:1] != pressure.shape[:1] or time.ndim == 0 or len(time) < 2:
        raise ValueError(
            "time and pressure must have the same number of samples, at least two, "
            f"found {time.shape} and {pressure.shape}"
        )
    not_negative(pressure=pressure, rate_exponent=rate_exponent)
    drawn = max(time.ndim, pressure.ndim, rate_exponent.ndim + 1) > 1
    time, pressure = (value if value.ndim > 1 else value[:, None] for value in (time, pressure))
    step = np.diff(time, axis=0)
    require("time", time[1:], step > 0.0, "increasing from sample to sample")
    peak = pressure.max(axis=0)
    require("peak pressure", peak, peak > 0.0, "above 0")
    total = dwell_of_segments(step, pressure / peak, rate_exponent)
    return total if drawn else total[0]


def dwell_of_segments(step: Array, share: Array, m: Array) -> Array:
    """Return the effective dwell in s of a pulse already checked, shape (draws,).

    `step` are the durations of its segments in s, shape (times - 1, 1 or draws); `share` is the
    pressure at their ends over its peak, shape (times, 1 or draws).

    Examples
    --------
    >>> step, share = np.array([[0.1], [0.5]]), np.array([[0.0], [1.0], [1.0]])
    >>> float(dwell_of_segments(step, share, np.array([0.25]))[0])
    0.52
    """
    rows = max(1, BLOCK // max(share.shape[1], m.size))
    total: Array = np.zeros(1)
    for first in range(0, len(step), rows):
        part = slice(first, first + rows)
        powers = mean_power(share[first : first + rows + 1], m)
        total = total + np.sum(step[part] * powers, axis=0)
    return total


BLOCK = 30_000
"""Numbers worked on at a time: they stay in the cache, which halves the time of a long pulse."""


def mean_power(share: Array, m: Array) -> Array:
    """Return the mean of ``share**(1/m)`` over each linear segment, shape (times - 1, draws).

    With the larger end h and the relative drop x it is
    ``h**n (1 - (1 - x)**(n+1)) / ((n+1) x)``, which neither overflows nor cancels.

    Examples
    --------
    >>> float(mean_power(np.array([[0.0], [1.0]]), np.array([0.25]))[0, 0])
    0.2
    """
    high = np.maximum(np.maximum(share[:-1], share[1:]), LEAST)
    drop = np.maximum(np.abs(share[1:] - share[:-1]) / high, LEAST)
    power = 1.0 / np.maximum(m, SMALLEST_EXPONENT)
    with np.errstate(divide="ignore"):  # a drop to nothing
        left = (power + 1.0) * np.log1p(-drop)
    top = np.exp(power * np.log(high))
    mean: Array = top * np.expm1(left) / (-(power + 1.0) * drop)
    still = m >= SMALLEST_EXPONENT
    return mean if np.all(still) else np.where(still | (drop == LEAST), mean, 0.0)


@equation(pressure="MPa", effective_dwell="s", yield_pressure="MPa", rate_exponent="1")
def plastic_densification(
    pressure: Array, effective_dwell: Array, yield_pressure: Array, rate_exponent: Array
) -> Array:
    """Return q, the plastic part of ``ln(1/(1 - SF))`` that a pulse leaves in the powder.

    ``q = ((P/Y) (t_eff/t_ref)**m)**(1/(1+m))`` with ``t_ref = 1 s``. At ``m = 0`` it is Heckel's
    P/Y, whatever the dwell. An ejected tablet has ``ln(1/(1 - SF)) = A + q``.

    Parameters
    ----------
    pressure
        P, peak pressure in MPa, 0 or more.
    effective_dwell
        t_eff in s, 0 or more.
    yield_pressure
        Y in MPa at an effective dwell of 1 s, above 0.
    rate_exponent
        m, 0 or more.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    Source: this project's, on Heckel, Trans Metall Soc AIME 221 (1961) 671.

    Examples
    --------
    >>> plastic_densification(147.947, 0.0064721, yield_pressure=100, rate_exponent=0.05)
    1.1423
    """
    not_negative(pressure=pressure, effective_dwell=effective_dwell, rate_exponent=rate_exponent)
    positive(yield_pressure=yield_pressure)
    load = pressure / yield_pressure * np.exp(xlogy(rate_exponent, effective_dwell))
    result: Array = load ** (1.0 / (1.0 + rate_exponent))
    return result


@equation(dwell_from="s", dwell_to="s", rate_exponent="1")
def pressure_ratio(dwell_from: Array, dwell_to: Array, rate_exponent: Array) -> Array:
    """Return by which factor pressure must change with dwell to leave the same solid fraction.

    ``P_to/P_from = (dwell_from/dwell_to)**m``: 1 at ``m = 0``, above 1 for a shorter dwell.

    Parameters
    ----------
    dwell_from, dwell_to
        Effective dwells in s, above 0 (0 is allowed at ``m = 0``, where dwell does not count).
    rate_exponent
        m, 0 or more.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If a dwell or the exponent is outside its range.

    Notes
    -----
    Source: this project's; `plastic_densification` at equal q.

    Examples
    --------
    Half of the dwell, microcrystalline cellulose:

    >>> pressure_ratio(dwell_from=0.020, dwell_to=0.010, rate_exponent=0.05405)
    1.0382
    """
    not_negative(dwell_from=dwell_from, dwell_to=dwell_to, rate_exponent=rate_exponent)
    for name, dwell in (("dwell_from", dwell_from), ("dwell_to", dwell_to)):
        require(name, dwell, (dwell > 0.0) | (rate_exponent == 0.0), "above 0")
    result: Array = np.exp(xlogy(rate_exponent, dwell_from) - xlogy(rate_exponent, dwell_to))
    return result
