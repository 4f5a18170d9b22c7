"""The one array type of the core: double precision, any shape, every column in one piece."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Places = NDArray[np.intp]
"""Positions in an array."""
Flags = NDArray[np.bool_]
"""Yes or no for each of something."""


def whole_columns(table: Array) -> Array:
    """Return the same table, shape (rows, columns), with every column in one piece of memory.

    Of a column with gaps numpy 2.0 takes an exponential or a logarithm in another way where the
    result happens to lie just behind the table, and the last digit is then another: the same seed
    would not always give the same answer.

    >>> whole_columns(np.ones((3, 2)))[:, 1].flags.c_contiguous
    True
    """
    return np.asfortranarray(table)
