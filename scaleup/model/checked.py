"""Objects that refuse what they cannot be when they are made, and the walk over their marks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from functools import cache
from math import isfinite
from types import UnionType
from typing import Annotated, Any, Literal, NamedTuple, Union, get_args, get_origin, get_type_hints

from scaleup.errors import Fault, FieldFault, field_fault
from scaleup.model.fields import Ends, Kind, Mark, Measure, OneOf
from scaleup.model.ranges import Range
from scaleup.text import printable, shown_number


class MarkedValue(NamedTuple):
    """A value in an object, and the mark of what it can be."""

    where: str
    mark: Mark
    value: Any


def annotations_of(kind: Any) -> dict[str, Any]:
    """Return the annotation of every field of a dataclass, marks included."""
    return _annotations(kind)


@cache
def _annotations(kind: Any) -> dict[str, Any]:
    hints = get_type_hints(kind, include_extras=True)
    return {each.name: hints[each.name] for each in fields(kind)}


def marked_values(whole: Any, place: str = "") -> Iterator[MarkedValue]:
    """Yield every marked value of a dataclass, in the objects of an object as well."""
    for marked in _own(whole):
        yield marked._replace(where=f"{place}{marked.where}")
    for each in fields(whole):
        for where, part in _parts(getattr(whole, each.name), f"{place}{each.name}"):
            yield from marked_values(part, f"{where}.")


def _parts(value: Any, where: str) -> Iterator[tuple[str, Any]]:
    """Yield the dataclasses that a field holds."""
    if is_dataclass(value):
        yield where, value
    elif isinstance(value, tuple):
        for number, each in enumerate(value, start=1):
            yield from _parts(each, f"{where}[{number}]")


def _own(whole: Any) -> Iterator[MarkedValue]:
    """Yield the marked values of a dataclass itself; the objects in it have checked their own."""
    hints = annotations_of(type(whole))
    for each in fields(whole):
        yield from _marked_values(
            hints[each.name], getattr(whole, each.name), each.metadata.get("key", each.name)
        )


def _marked_values(annotation: Any, value: Any, where: str) -> Iterator[MarkedValue]:
    """Yield a value with every mark of its annotation; what may be None and is has none."""
    origin, parts = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        optional = value is None and type(None) in get_args(parts[0])
        if not optional:
            yield from (marked for mark in parts[1:] for marked in _marked(mark, value, where))
            yield from _marked_values(parts[0], value, where)
    elif origin in (Union, UnionType):
        if value is not None:
            yield from _marked_values(
                next(part for part in parts if part is not type(None)), value, where
            )
    elif origin is Literal:
        yield MarkedValue(where, OneOf(parts), value)
    elif origin is tuple and isinstance(value, tuple):
        for number, each in enumerate(value, start=1):
            yield from _marked_values(parts[0], each, f"{where}[{number}]")
    elif origin is tuple or (isinstance(annotation, type) and annotation not in (Any, float)):
        yield MarkedValue(where, Kind(origin or annotation), value)


def _marked(mark: object, value: Any, where: str) -> Iterator[MarkedValue]:
    if isinstance(mark, Mark):
        yield MarkedValue(where, mark, value)
    elif isinstance(mark, Ends) and isinstance(value, Range):
        yield MarkedValue(f"{where}.min", mark.min, value.min)
        yield MarkedValue(f"{where}.max", mark.max, value.max)


def faults_in(whole: Any) -> list[Fault]:
    """Return what is wrong with the values of a dataclass; of one value the first thing."""
    faults: dict[str, Fault] = {}
    for marked in _own(whole):
        allowed = marked.mark.refusal(marked.value)
        if allowed:
            faults.setdefault(marked.where, Fault("", marked.where, _shown(marked), allowed))
    return list(faults.values())


class Checked:
    """An object that refuses values it cannot have when it is made.

    Raises
    ------
    FieldFault
        With every value that its mark does not allow; else with what does not go together.
    """

    def __post_init__(self) -> None:
        self._take_quantities()
        faults = faults_in(self)
        if faults:
            raise FieldFault(faults)
        self.check()

    def check(self) -> None:
        """Refuse values that do not go together; a kind with such has its own."""

    def _take_quantities(self) -> None:
        """Take the numbers of quantities of a units library, in core units."""
        hints = annotations_of(type(self))
        for name, value in vars(self).items():
            if hasattr(value, "units"):
                number = _number(name, value, hints[name])
                object.__setattr__(self, name, number)


def _number(name: str, value: Any, annotation: Any) -> float:
    from scaleup.conversion import in_core  # noqa: PLC0415  only where there is a quantity

    (marked, *_) = _marked_values(annotation, value, name)
    unit = marked.mark.unit if isinstance(marked.mark, Measure) else ""
    try:
        return float(in_core(name, value, (unit,)))
    except ValueError:
        allowed = f"a number in {unit}, or a quantity that converts to it"
        raise field_fault(printable(str(value)), allowed, where=name) from None


def _shown(marked: MarkedValue) -> str:
    """Return what was found: a number in its unit, a text in quotes."""
    if isinstance(marked.value, str):
        return f'"{printable(marked.value)}"'
    if not isinstance(marked.mark, Measure) or not isinstance(marked.value, int | float):
        return printable(str(marked.value))
    if marked.mark.sense is not None and isfinite(marked.value):
        return marked.mark.sense.shown(marked.value)
    unit = "" if marked.mark.unit == "1" else marked.mark.unit
    return f"{shown_number(marked.value)} {unit}".rstrip()
