"""What the equations refuse to compute, in plain words.

Each check takes arrays by name, costs one comparison and raises ValueError with the name of the
argument, the rule and the first value that breaks it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scaleup.arrays import Array


def require(name: str, value: Array, holds: NDArray[np.bool_] | np.bool_, rule: str) -> None:
    """Raise ValueError unless the rule holds for every element.

    >>> require("speed", np.array(-5.0), np.bool_(False), "above 0 rev/min")
    Traceback (most recent call last):
    ValueError: speed must be above 0 rev/min, found -5
    """
    if not np.all(holds):
        broken = np.broadcast_to(value, np.broadcast_shapes(value.shape, np.shape(holds)))
        first = broken[~np.broadcast_to(holds, broken.shape)].flat[0]
        raise ValueError(f"{name} must be {rule}, found {first:.6g}")


def finite(**values: Array) -> None:
    """Raise ValueError unless every element of every argument is a finite number."""
    for name, value in values.items():
        require(name, value, np.isfinite(value), "a finite number")


def positive(**values: Array) -> None:
    """Raise ValueError unless every element of every argument is above 0."""
    for name, value in values.items():
        require(name, value, value > 0.0, "above 0")


def not_negative(**values: Array) -> None:
    """Raise ValueError unless every element of every argument is 0 or more."""
    for name, value in values.items():
        require(name, value, value >= 0.0, "0 or more")
