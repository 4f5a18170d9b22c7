"""The one array type of the core: double precision, any shape, every column in one piece."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Places = NDArray[np.intp]
"""Positions in an array."""
Flags = NDArray[np.bool_]
"""Yes or no for each of something."""


def moment_between(earlier: Array, later: Array, low: Array, high: Array, level: Array) -> Array:
    """Return when a straight line from one value to another crosses a level, within its ends.

    >>> begin, end = np.zeros(1), np.ones(1)
    >>> float(moment_between(begin, end, begin, 4.0 * end, np.ones(1))[0])
    0.25
    """
    step = np.where(high == low, 1.0, high - low)
    share = np.clip((level - low) / step, 0.0, 1.0)
    moment: Array = earlier + share * (later - earlier)
    return moment


def whole_columns(table: Array) -> Array:
    """Return the same table, shape (rows, columns), with every column in one piece of memory.

    Of a column with gaps numpy 2.0 takes an exponential or a logarithm in another way where the
    result happens to lie just behind the table, and the last digit is then another: the same seed
    would not always give the same answer.

    >>> whole_columns(np.ones((3, 2)))[:, 1].flags.c_contiguous
    True
    """
    return np.asfortranarray(table)
