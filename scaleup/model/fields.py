"""What a field of a plain object can be, said once beside its type.

A field is annotated with a mark, as in ``diameter: Annotated[float, ranged("diameter")]``. An
object that is `Checked` (`scaleup.model.checked`) refuses other values when it is made;
`scaleup.io.schema` builds the reader of a table of a file from the same marks.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf, isfinite
from numbers import Real
from typing import (
    Annotated,
    Any,
)

from scaleup.errors import field_fault
from scaleup.model.profile_ranges import RANGES
from scaleup.model.sense import Sense
from scaleup.text import has_control, printable

NAME_LIMIT = 120
DESCRIPTION_LIMIT = 2000


class Mark:
    """What the value of a field can be."""

    def refusal(self, value: Any) -> str:
        """Return in words what is allowed where a value is not, else an empty text."""
        raise NotImplementedError


@dataclass(frozen=True)
class Measure(Mark):
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


def between(least: str, most: str = "") -> Ends:
    """Return the ends of a range by the keys of their ranges of sense; one key may stand for both.

    >>> between("turret_speed").max.unit
    'rpm'
    """
    return Ends(ranged(least), ranged(most or least))


@dataclass(frozen=True)
class Words(Mark):
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
        fits = isinstance(value, str) and len(value) <= self.limit and not has_control(value)
        if self.name:
            allowed = f"a name of 1 to {self.limit} printable characters that does not start with ="
            return "" if fits and value.strip() and not value.startswith("=") else allowed
        return "" if fits else f"up to {self.limit} printable characters"


@dataclass(frozen=True)
class Whole(Mark):
    """A whole number from ``least`` to ``most``."""

    least: int
    most: int

    def refusal(self, value: Any) -> str:
        fits = isinstance(value, int) and not isinstance(value, bool)
        fits = fits and self.least <= value <= self.most
        return "" if fits else f"a whole number, {self.least} to {self.most}"


@dataclass(frozen=True)
class Several(Mark):
    """A list with at least one item; ``words`` say what it is a list of."""

    words: str
    example: tuple[str, ...]

    def refusal(self, value: Any) -> str:
        return "" if isinstance(value, tuple) and value else self.words


@dataclass(frozen=True)
class OneOf(Mark):
    """One of some words or numbers."""

    known: tuple[Any, ...]

    def refusal(self, value: Any) -> str:
        return (
            ""
            if value in self.known
            else ", ".join(
                f'"{each}"' if isinstance(each, str) else str(each) for each in self.known
            )
        )


@dataclass(frozen=True)
class Kind(Mark):
    """An object of one kind."""

    kind: type

    def refusal(self, value: Any) -> str:
        return "" if isinstance(value, self.kind) else f"a {self.kind.__name__}"


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
