"""A function of arrays that also takes and returns plain floats."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Sequence
from functools import update_wrapper
from typing import overload

import numpy as np

from scaleup.arrays import Array
from scaleup.checks import finite

Number = float | Array | Sequence[float]


class Formula:
    """One equation: float in, float out; arrays in (they broadcast), array out.

    Used as a decorator on a function of arrays. Every number given is converted to double
    precision and must be finite; a text (a choice of convention) is passed on as it is.

    >>> @Formula
    ... def half(whole: Array) -> Array:
    ...     return whole / 2.0
    >>> half(3)
    1.5
    >>> half([1, 2])
    array([0.5, 1. ])
    >>> half(float("nan"))
    Traceback (most recent call last):
    ValueError: whole must be a finite number, found nan
    """

    def __init__(self, function: Callable[..., Array]) -> None:
        self.function = function
        self.names = tuple(inspect.signature(function).parameters)
        update_wrapper(self, function)

    @overload
    # A float is also a Number, so mypy sees one call with two results; the first one wins.
    def __call__(  # type: ignore[overload-overlap]
        self, *values: float | str, **named: float | str
    ) -> float: ...
    @overload
    def __call__(self, *values: Number | str, **named: Number | str) -> Array: ...
    def __call__(self, *values: Number | str, **named: Number | str) -> float | Array:
        """Return the equation's value: a float if it is one number, else an array."""
        beyond = self.names[-1:] * (len(values) - len(self.names))
        given = [
            _number(name, value) for name, value in zip(self.names + beyond, values, strict=False)
        ]
        rest = {name: _number(name, value) for name, value in named.items()}
        result = self.function(*given, **rest)
        return float(result) if np.ndim(result) == 0 else result


def _number(name: str, value: Number | str) -> Array | str:
    if isinstance(value, str):
        return value
    number = np.asarray(value, dtype=np.float64)
    finite(**{name: number})
    return number
