"""What a pulse before the main one leaves: integrals of the rate law add."""

from __future__ import annotations

import numpy as np

from scaleup.arrays import Array
from scaleup.powder.law import Powder

NEGLIGIBLE = 1e-5
"""Share of a state below which what a precompression adds to it may be left out of the dwell."""
HALVINGS = 48
"""Halvings of a ratio of dwells, down to the last digits of it."""
LEAST_EXPONENT = 1e-9
"""Rate exponent that stands for none, where something is divided by it."""


def dwell_before(powder: Powder, before: Array, peak: Array) -> Array:
    """Return the effective dwell in s, referred to this peak, that left an earlier state.

    `peak` is that of the main pulse in MPa, times the powder's weakening at the whole dwell: one
    law, with one weakening, holds for both pulses together.

    Examples
    --------
    >>> from scaleup.powder.hardening import Heckel
    >>> one, soft = np.ones(1), Heckel(np.array([120.0]), np.array([0.6]))
    >>> powder = Powder(soft, 0.05 * one, 400.0 * one, 0.0 * one, 0.0 * one)
    >>> state = powder.static_pressure(np.array([100.0]), np.array([0.02]))
    >>> round(float(dwell_before(powder, state, np.array([100.0]))[0]), 6)
    0.02
    """
    m = np.maximum(powder.rate_exponent, LEAST_EXPONENT)
    scale = powder.hardening.scale
    state = np.maximum(before / scale, 1e-300)
    dwell: Array = np.exp(
        np.maximum(((1.0 + m) * np.log(state) - np.log(peak / scale)) / m, -700.0)
    )
    return dwell


def whole_dwell(powder: Powder, own: Array, before: Array, peak: Array) -> Array:
    """Return the effective dwell in s of two pulses, referred to the peak in MPa of the second.

    `own` is that of the second alone in s, `before` the state in MPa that the first left. What the
    first adds depends on the powder's weakening at the whole, which is sought by halving: steps to
    and fro would not settle where the exponent changes quickly.

    Examples
    --------
    >>> from scaleup.powder.hardening import Heckel
    >>> one, soft = np.ones(1), Heckel(np.array([120.0]), np.array([0.6]))
    >>> powder = Powder(soft, 0.05 * one, 400.0 * one, 0.0 * one, 0.0 * one)
    >>> state = powder.static_pressure(np.array([100.0]), np.array([0.02]))
    >>> round(float(whole_dwell(powder, 0.03 * one, state, np.array([100.0]))[0]), 6)
    0.05
    """

    def with_first(whole: Array) -> Array:
        return own + dwell_before(powder, before, peak * powder.weakening(whole))

    low, at_own = own, with_first(own)
    if np.all(at_own <= (1.0 + NEGLIGIBLE) * own):
        return at_own
    # At the middle dwell the weakening is 1; a longer whole hardly changes anything any more.
    high = 2.0 * np.maximum(at_own, own + dwell_before(powder, before, peak))
    for _ in range(HALVINGS):
        middle = np.sqrt(low * high)
        longer = with_first(middle) > middle
        low, high = np.where(longer, middle, low), np.where(longer, high, middle)
    return with_first(np.sqrt(low * high))


def combined(powder: Powder, state: Array, before: Array) -> Array:
    """Return the state after two pulses that alone would leave these states: integrals add.

    Examples
    --------
    >>> from scaleup.powder.hardening import Heckel
    >>> one, soft = np.ones(1), Heckel(np.array([120.0]), np.array([0.6]))
    >>> powder = Powder(soft, 0.05 * one, 400.0 * one, 0.0 * one, 0.0 * one)
    >>> once = powder.static_pressure(np.array([100.0]), np.array([0.02]))
    >>> twice = powder.static_pressure(np.array([100.0]), np.array([0.04]))  # one as long as both
    >>> round(float(combined(powder, once, once)[0] / twice[0]), 9)
    1.0
    """
    m = np.maximum(powder.rate_exponent, LEAST_EXPONENT)
    power = (1.0 + m) / m
    high, low = np.maximum(state, before), np.minimum(state, before)
    grown: Array = high * np.exp(np.log1p((low / high) ** power) / power)
    return grown


def precompression_counts(powder: Powder, share: float) -> bool:
    """Return whether a precompression with this share of the force moves a state by over 1e-5.

    What follows from where the main roller meets the powder, such as the contact time, changes
    with any share.

    Examples
    --------
    >>> from scaleup.powder.hardening import Heckel
    >>> one, soft = np.ones(1), Heckel(np.array([120.0]), np.array([0.6]))
    >>> powder = Powder(soft, 0.05 * one, 400.0 * one, 0.0 * one, 0.0 * one)
    >>> precompression_counts(powder, 0.3), precompression_counts(powder, 0.9)
    (False, True)
    """
    if share <= 0.0:
        return False
    m = np.maximum(powder.rate_exponent, LEAST_EXPONENT)
    return bool(np.max(m / (1.0 + m) * share ** (1.0 / m)) > NEGLIGIBLE)
