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


class Held(NamedTuple):
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


def held_in(whole: Any, place: str = "") -> Iterator[Held]:
    """Yield every marked value of a dataclass, in the objects of an object as well."""
    for held in _own(whole):
        yield held._replace(where=f"{place}{held.where}")
    for each in fields(whole):
        for where, part in _parts(getattr(whole, each.name), f"{place}{each.name}"):
            yield from held_in(part, f"{where}.")


def _parts(value: Any, where: str) -> Iterator[tuple[str, Any]]:
    """Yield the dataclasses that a field holds."""
    if is_dataclass(value):
        yield where, value
    elif isinstance(value, tuple):
        for number, each in enumerate(value, start=1):
            yield from _parts(each, f"{where}[{number}]")


def _own(whole: Any) -> Iterator[Held]:
    """Yield the marked values of a dataclass itself; the objects in it have checked their own."""
    hints = annotations_of(type(whole))
    for each in fields(whole):
        yield from _held(
            hints[each.name], getattr(whole, each.name), each.metadata.get("key", each.name)
        )


def _held(annotation: Any, value: Any, where: str) -> Iterator[Held]:
    """Yield a value with every mark of its annotation; what may be None and is has none."""
    origin, parts = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        optional = value is None and type(None) in get_args(parts[0])
        if not optional:
            yield from (held for mark in parts[1:] for held in _marked(mark, value, where))
            yield from _held(parts[0], value, where)
    elif origin in (Union, UnionType):
        if value is not None:
            yield from _held(next(part for part in parts if part is not type(None)), value, where)
    elif origin is Literal:
        yield Held(where, OneOf(parts), value)
    elif origin is tuple and isinstance(value, tuple):
        for number, each in enumerate(value, start=1):
            yield from _held(parts[0], each, f"{where}[{number}]")
    elif origin is tuple or (isinstance(annotation, type) and annotation not in (Any, float)):
        yield Held(where, Kind(origin or annotation), value)


def _marked(mark: object, value: Any, where: str) -> Iterator[Held]:
    if isinstance(mark, Mark):
        yield Held(where, mark, value)
    elif isinstance(mark, Ends) and isinstance(value, Range):
        yield Held(f"{where}.min", mark.min, value.min)
        yield Held(f"{where}.max", mark.max, value.max)


def faults_in(whole: Any) -> list[Fault]:
    """Return what is wrong with the values of a dataclass; of one value the first thing."""
    faults: dict[str, Fault] = {}
    for held in _own(whole):
        allowed = held.mark.refusal(held.value)
        if allowed:
            faults.setdefault(held.where, Fault("", held.where, _shown(held), allowed))
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

    (held, *_) = _held(annotation, value, name)
    unit = held.mark.unit if isinstance(held.mark, Measure) else ""
    try:
        return float(in_core(name, value, (unit,)))
    except ValueError:
        allowed = f"a number in {unit}, or a quantity that converts to it"
        raise field_fault(printable(str(value)), allowed, where=name) from None


def _shown(held: Held) -> str:
    """Return what was found: a number in its unit, a text in quotes."""
    if isinstance(held.value, str):
        return f'"{printable(held.value)}"'
    if not isinstance(held.mark, Measure) or not isinstance(held.value, int | float):
        return printable(str(held.value))
    if held.mark.sense is not None and isfinite(held.value):
        return held.mark.sense.shown(held.value)
    unit = "" if held.mark.unit == "1" else held.mark.unit
    return f"{shown_number(held.value)} {unit}".rstrip()
