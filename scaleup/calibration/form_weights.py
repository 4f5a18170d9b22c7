"""How much each hardening form is worth beside the others, given the runs."""

from __future__ import annotations

import numpy as np

from scaleup.arrays import Array

LEAST = 0.005
"""A form worth less is named with its weight but not drawn from."""


def corrected_akaike(log_likelihood: float, parameters: int, runs: int) -> float:
    """Return Akaike's criterion corrected for few runs (Hurvich & Tsai, Biometrika 76 (1989) 297).

    ``AICc = -2 ln L + 2k + 2k(k + 1)/(n - k - 1)``. The last term needs more than k + 1 runs; with
    fewer it is left out, which is without effect on the weights of forms with equally many
    parameters.

    >>> corrected_akaike(-10.0, 4, 24)
    30.10526
    """
    spare = runs - parameters - 1
    correction = 2.0 * parameters * (parameters + 1) / spare if spare > 0 else 0.0
    return -2.0 * log_likelihood + 2.0 * parameters + correction


def akaike_weights(criteria: Array) -> Array:
    """Return ``exp(-delta/2)`` normalised to a sum of 1; delta from the least criterion.

    >>> [round(float(each), 3) for each in akaike_weights(np.array([10.0, 10.0, 14.0]))]
    [0.468, 0.468, 0.063]
    """
    relative = np.exp(-0.5 * (criteria - criteria.min()))
    weights: Array = relative / relative.sum()
    return weights


def shares_of(weights: Array, draws: int) -> list[int]:
    """Return how many draws each form gets, in proportion to its weight; their sum is `draws`.

    >>> shares_of(np.array([0.7, 0.299, 0.001]), 1000)
    [701, 299, 0]
    """
    kept = np.where(weights < LEAST, 0.0, weights)
    ends = np.rint(np.cumsum(kept / kept.sum()) * draws).astype(int)
    return [int(each) for each in np.diff(ends, prepend=0)]
