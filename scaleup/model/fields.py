"""What a field of a plain object can be, said once beside its type.

A field is annotated with a mark, as in ``diameter: Annotated[float, ranged("diameter")]``. An
object that is `Checked` refuses other values when it is made; `scaleup.io.schema` builds the reader
of a table of a file from the same marks.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, fields, is_dataclass
from functools import cache
from math import inf, isfinite
from numbers import Real
from types import UnionType
from typing import (
    Annotated,
    Any,
    Literal,
    NamedTuple,
    Protocol,
    Union,
    get_args,
    get_origin,
    get_type_hints,
    runtime_checkable,
)

from scaleup.errors import Fault, FieldFault, field_fault
from scaleup.model.profile_ranges import RANGES
from scaleup.model.sense import Sense
from scaleup.text import has_control, printable, shown_number

NAME_LIMIT = 120
DESCRIPTION_LIMIT = 2000


@runtime_checkable
class Mark(Protocol):
    """What the value of a field can be."""

    def refusal(self, value: Any) -> str:
        """Return in words what is allowed where a value is not, else an empty text."""
        ...


@dataclass(frozen=True)
class Measure:
    """A number in a core unit, above zero or not below it, within the bounds of sense."""

    unit: str
    zero: bool = False
    """Whether 0 is a value as well, below ``least``."""
    least: float = 0.0
    most: float = inf
    sense: Sense | None = None
    """What the figure of a profile can be, where it is one."""
    example: str = ""
    """The unit in which the heading of a table shows it."""

    def refusal(self, value: Any) -> str:
        """Return in words what is allowed where a value is not, else an empty text."""
        if isinstance(value, bool) or not isinstance(value, Real) or not isfinite(value):
            return f"a number in {self.unit}"
        value = float(value)
        if value < 0 or (value == 0 and not self.zero):
            return "not below zero" if self.zero else "above zero"
        if value and not self.least <= value <= self.most:
            return f"{self.least:g} to {self.most:g} {self.unit}"
        if self.sense is not None and not self.sense.possible(value):
            return self.sense.allowed
        return ""


def ranged(key: str) -> Measure:
    """Return the measure of a profile's key, with its range of sense."""
    sense = RANGES[key]
    return Measure(sense.core, zero=sense.can[0] == 0.0, sense=sense)


@dataclass(frozen=True)
class Ends:
    """The two ends of a `Range`."""

    min: Measure
    max: Measure

    def refusal(self, value: Any) -> str:
        """Return in words what is allowed of either end, else an empty text."""
        return self.min.refusal(value.min) or self.max.refusal(value.max)


def between(least: str, most: str = "") -> Ends:
    """Return the ends of a range by the keys of their ranges of sense; one key may stand for both.

    >>> between("turret_speed").max.unit
    'rpm'
    """
    return Ends(ranged(least), ranged(most or least))


@dataclass(frozen=True)
class Words:
    """A text of printable characters."""

    limit: int
    name: bool = False
    """Whether it is a name, which is not empty and begins no formula."""

    def clean(self, text: str) -> str:
        """Return the text without blanks that say nothing.

        Raises
        ------
        FieldFault
            If it is no such text.
        """
        text = text.strip() if self.name else " ".join(text.split())
        allowed = self.refusal(text)
        if allowed:
            raise field_fault(f'"{printable(text)}"', allowed)
        return text

    def refusal(self, value: Any) -> str:
        """Return in words what is allowed where a value is not, else an empty text."""
        fits = isinstance(value, str) and len(value) <= self.limit and not has_control(value)
        if self.name:
            allowed = f"a name of 1 to {self.limit} printable characters that does not start with ="
            return "" if fits and value.strip() and not value.startswith("=") else allowed
        return "" if fits else f"up to {self.limit} printable characters"


@dataclass(frozen=True)
class Whole:
    """A whole number from ``least`` to ``most``."""

    least: int
    most: int

    def refusal(self, value: Any) -> str:
        """Return in words what is allowed where a value is not, else an empty text."""
        fits = isinstance(value, int) and not isinstance(value, bool)
        fits = fits and self.least <= value <= self.most
        return "" if fits else f"a whole number, {self.least} to {self.most}"


@dataclass(frozen=True)
class Several:
    """A list with at least one item; ``words`` say what it is a list of."""

    words: str
    example: tuple[str, ...]

    def refusal(self, value: Any) -> str:
        """Return in words what is allowed where a value is not, else an empty text."""
        return "" if isinstance(value, tuple) and value else self.words


@dataclass(frozen=True)
class OneOf:
    """One of some words or numbers."""

    known: tuple[Any, ...]

    def refusal(self, value: Any) -> str:
        """Return in words what is allowed where a value is not, else an empty text."""
        return (
            ""
            if value in self.known
            else ", ".join(
                f'"{each}"' if isinstance(each, str) else str(each) for each in self.known
            )
        )


Name = Annotated[str, Words(NAME_LIMIT, name=True)]
Description = Annotated[str, Words(DESCRIPTION_LIMIT)]
Output = Annotated[float, Measure("1/h", most=1e8)]
Force = Annotated[float, Measure("N", most=1e7)]
Pressure = Annotated[float, Measure("MPa")]
Duration = Annotated[float, Measure("s", zero=True, most=1e5)]
Mass = Annotated[float, Measure("mg")]
Density = Annotated[float, Measure("mg/mm^3", least=0.05, most=25.0)]
Speed = Annotated[float, Measure("rpm", most=1e4)]
Velocity = Annotated[float, Measure("mm/s")]
LoadingRate = Annotated[float, Measure("N/s")]
Share = Annotated[float, Measure("1", most=1.0)]
ShareOrZero = Annotated[float, Measure("1", zero=True, most=1.0)]


def keyed(key: str) -> Any:
    """Return an optional field that files have under another key."""
    return field(default=None, metadata={"key": key})


def unread() -> Any:
    """Return an optional field that no file states."""
    return field(default=None, metadata={"unread": True}, repr=False, compare=False)


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
    origin, parts = get_origin(annotation), get_args(annotation)
    if value is None:
        return
    if origin is Annotated:
        yield from (held for mark in parts[1:] for held in _marked(mark, value, where))
        yield from _held(parts[0], value, where)
    elif origin in (Union, UnionType):
        yield from _held(next(part for part in parts if part is not type(None)), value, where)
    elif origin is Literal:
        yield Held(where, OneOf(parts), value)
    elif origin is tuple and isinstance(value, tuple):
        for number, each in enumerate(value, start=1):
            yield from _held(parts[0], each, f"{where}[{number}]")


def _marked(mark: object, value: Any, where: str) -> Iterator[Held]:
    if isinstance(mark, Ends):
        yield Held(f"{where}.min", mark.min, value.min)
        yield Held(f"{where}.max", mark.max, value.max)
    elif isinstance(mark, Mark):
        yield Held(where, mark, value)


class Checked:
    """An object that refuses values it cannot have when it is made.

    Raises
    ------
    FieldFault
        With every value that its mark does not allow; else with what does not go together.
    """

    def __post_init__(self) -> None:
        self._take_quantities()
        faults = [fault for held in _own(self) for fault in _faults(held)]
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


def _faults(held: Held) -> Iterator[Fault]:
    allowed = held.mark.refusal(held.value)
    if allowed:
        yield Fault("", held.where, _shown(held), allowed)


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
