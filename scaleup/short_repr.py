"""How an answer shows itself in a Python session: what it is, on a line or two.

A dataclass writes out all it holds, which for an answer are thousands of draws.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, TypeVar

from scaleup.sentence import Words

LONGEST, LONGEST_TEXT, FEW = 400, 60, 4
TITLES = ("id", "name", "answer", "match", "code")
"""Fields that say what an object is, the first of them first."""

Kind = TypeVar("Kind")


def short_repr(kind: type[Kind]) -> type[Kind]:
    """Return a dataclass that shows itself in at most 400 characters, its arrays left out.

    Objects inside it are told by their names, collections by what they hold.

    Examples
    --------
    >>> from dataclasses import dataclass
    >>> import numpy as np
    >>> @short_repr
    ... @dataclass
    ... class Sample:
    ...     name: str
    ...     strength: float
    ...     draws: np.ndarray
    ...     inside: tuple
    >>> Sample("M4", 2.0, np.zeros(4000), (Sample("M5", 1.0, np.zeros(9), ()),))
    Sample(name='M4', strength=2, inside=<1 Sample>)
    """

    def shown(self: Any) -> str:
        text = f"{kind.__name__}({', '.join(_parts(self))})"
        return text if len(text) <= LONGEST else f"{text[: LONGEST - 4]}...)"

    kind.__repr__ = shown  # type: ignore[method-assign]  # it is what a dataclass does itself
    return kind


def _parts(whole: Any) -> Iterator[str]:
    for each in fields(whole):
        value = getattr(whole, each.name)
        if each.repr and not getattr(value, "ndim", 0):  # no array; asked without loading numpy
            yield f"{each.name}={_brief(value)}"


def _brief(value: object) -> str:
    if isinstance(value, Words):
        value = str(value)
        return repr(value if len(value) <= LONGEST_TEXT else f"{value[: LONGEST_TEXT - 3]}...")
    if isinstance(value, float):
        return f"{value:.6g}"
    if value is None or isinstance(value, bool | int | Path) or hasattr(value, "dtype"):
        return str(value)
    if isinstance(value, Sequence | Mapping | Set):
        return _collection(value)
    return f"<{type(value).__name__}{_title(value)}>"


def _collection(values: Sequence[object] | Mapping[Any, object] | Set[object]) -> str:
    every = list(values.values() if isinstance(values, Mapping) else values)
    if len(every) <= FEW and all(isinstance(each, str | float | int | None) for each in every):
        return f"({', '.join(map(_brief, every))})"
    kinds = {type(each).__name__ for each in every}
    return f"<{len(every)} {kinds.pop() if len(kinds) == 1 else 'items'}>"


def _title(value: object) -> str:
    if not is_dataclass(value) and not hasattr(type(value), "model_fields"):
        return ""
    number, unit = getattr(value, "value", None), getattr(value, "unit", None)
    if isinstance(number, float) and isinstance(unit, str):
        return f" {number:.4g} {unit}"
    names = (getattr(value, name, None) for name in TITLES)
    return next((f" {_brief(name)}" for name in names if isinstance(name, str) and name), "")
