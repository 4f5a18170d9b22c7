"""A function of arrays that also takes and returns plain floats, and takes quantities."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import update_wrapper
from typing import Any, overload

import numpy as np

from scaleup.arrays import Array
from scaleup.checks import finite
from scaleup.conversion import HasUnits, has_units, in_core

Number = float | Array | Sequence[float]
Units = str | tuple[str, ...]
"""The core unit of an argument, or several of which any will do."""


class Formula:
    """One equation: float in, float out; arrays in (they broadcast), array out.

    Every number given is converted to double precision and must be finite; a quantity with a unit
    is converted to the core unit of its argument, or refused; a text (a choice of convention) is
    passed on as it is. `equation` makes one of a function of arrays.
    """

    def __init__(self, function: Callable[..., Array], units: Mapping[str, Units]) -> None:
        parameters = inspect.signature(function).parameters
        texts = {name for name, each in parameters.items() if isinstance(each.default, str)}
        if set(units) != set(parameters) - texts:
            raise TypeError(f"{function.__name__}: every argument that is a number has one unit")
        self.function = function
        self.names = tuple(parameters)
        self.units = {
            name: (unit,) if isinstance(unit, str) else unit for name, unit in units.items()
        }
        update_wrapper(self, function)

    @overload
    # A float is also a Number, so mypy sees one call with two results; the first one wins.
    def __call__(  # type: ignore[overload-overlap]
        self, *values: float | str, **named: float | str
    ) -> float: ...
    @overload
    def __call__(self, *values: Number | str, **named: Number | str) -> Array: ...
    @overload
    def __call__(
        self, *values: Number | HasUnits | str, **named: Number | HasUnits | str
    ) -> Any: ...
    def __call__(self, *values: Any, **named: Any) -> float | Array:
        """Return the equation's value: a float if it is one number, else an array."""
        beyond = self.names[-1:] * (len(values) - len(self.names))
        given = [
            self._number(name, value)
            for name, value in zip(self.names + beyond, values, strict=False)
        ]
        rest = {name: self._number(name, value) for name, value in named.items()}
        result = self.function(*given, **rest)
        return float(result) if np.ndim(result) == 0 else result

    def _number(self, name: str, value: object) -> Array | str:
        if isinstance(value, str):
            return value
        number = self._plain(name, value)
        finite(**{name: number})
        return number

    def _plain(self, name: str, value: object) -> Array:
        """Return a value in the core unit of its argument; each of several may have its own."""
        if has_units(value):
            # An argument that is none is told by the function itself.
            return in_core(name, value, self.units.get(name, ()))
        if isinstance(value, np.ndarray) and value.dtype == object:
            value = value.tolist()
        if isinstance(value, list | tuple) and any(has_units(each) for each in _flat(value)):
            return np.stack([self._plain(name, each) for each in value])
        return np.asarray(value, dtype=np.float64)


def _flat(values: list[Any] | tuple[Any, ...]) -> Iterator[object]:
    for each in values:
        yield from _flat(each) if isinstance(each, list | tuple) else (each,)


def equation(**units: Units) -> Callable[[Callable[..., Array]], Formula]:
    """Return a decorator that makes a function of arrays an equation, with its arguments' units.

    >>> @equation(whole="mm")
    ... def half(whole: Array) -> Array:
    ...     return whole / 2.0
    >>> half(3)
    1.5
    >>> half([1, 2])
    array([0.5, 1. ])
    >>> half(float("nan"))
    Traceback (most recent call last):
    ValueError: whole must be a finite number, found nan
    >>> from pint import UnitRegistry
    >>> half(UnitRegistry().Quantity("3 cm"))
    15.0
    """

    def decorated(function: Callable[..., Array]) -> Formula:
        return Formula(function, units)

    return decorated
