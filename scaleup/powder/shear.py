"""What turning a blend with its lubricant does to the strength of its tablets."""

from __future__ import annotations

import numpy as np

from scaleup.arrays import Array
from scaleup.checks import not_negative, require
from scaleup.formula import equation


@equation(shear="1", loss="1", rate="1")
def strength_after_shear(shear: Array, loss: Array, rate: Array) -> Array:
    """Return the strength of sheared blend over that of blend not turned, at one solid fraction.

    ``phi(K) = (1 - beta) + beta exp(-gamma K)``, K being ``V^(1/3) * headspace * revolutions`` of
    a blender, V in litre, with what a feeder adds to it.

    Parameters
    ----------
    shear
        K in dm, 0 or more.
    loss
        beta, the share of the strength that shear can take, 0 to 1.
    rate
        gamma in 1/dm, 0 or more.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    Source: Kushner & Moore, Int J Pharm 399 (2010) 19 (from memory).

    Examples
    --------
    A bin of 30 L, half full, turned 150 times:

    >>> strength_after_shear(shear=233.04, loss=0.4, rate=0.004)
    0.75748
    """
    not_negative(shear=shear, loss=loss, rate=rate)
    require("loss", loss, loss <= 1.0, "0 to 1")
    return 1.0 - loss * -np.expm1(-rate * shear)
