"""Figures of several keys of a profile together, each held to its range of sense."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Generic, TypeVar

from pydantic import BaseModel

from scaleup.errors import Fault
from scaleup.io.sense import Sense
from scaleup.io.validation import quantities_of

Model = TypeVar("Model", bound=BaseModel)


@dataclass(frozen=True)
class Proportion(Generic[Model]):
    """A figure that several keys make together, in the core unit of its sense."""

    where: str
    """The key that is told."""
    label: str
    sense: Sense
    figure: Callable[[Model], float | None]
    """None where the profile does not state what it takes."""
    mend: str = ""


@dataclass(frozen=True)
class Oddity:
    """A value, or a figure of several, that is not as it usually is."""

    where: str
    label: str
    value: float
    """In the core unit."""
    sense: Sense
    mend: str

    @property
    def found(self) -> str:
        """Return what is found, in words."""
        shown = self.sense.shown(self.value)
        return f"{self.label} of {shown}" if self.label else shown

    @property
    def possible(self) -> bool:
        """Return whether it can be at all."""
        return self.sense.possible(self.value)

    @property
    def doubt(self) -> str:
        """Return in a sentence why it is doubtful."""
        usual = self.sense.within(self.sense.usual)
        told = f"{self.where}: {self.found} is unusual; usual: {usual} ({self.sense.reason})"
        return f"{told}. {self.mend}" if self.mend else told

    def fault(self, file: str) -> Fault:
        """Return the fault of a file in which it cannot be."""
        return Fault(file, self.where, self.found, self.sense.allowed, self.mend)


def oddities(model: Model, proportions: Iterable[Proportion[Model]]) -> tuple[Oddity, ...]:
    """Return every value and every proportion of a profile that is outside of what is usual."""
    held = [*_values(model), *_figures(model, proportions)]
    return tuple(each for each in held if not each.sense.is_usual(each.value))


def _figures(model: Model, proportions: Iterable[Proportion[Model]]) -> Iterator[Oddity]:
    for each in proportions:
        value = each.figure(model)
        if value is not None:
            yield Oddity(each.where, each.label, value, each.sense, each.mend)


def _values(model: BaseModel, place: str = "") -> Iterator[Oddity]:
    """Yield the value of every key that has a range of sense, in the tables of a table as well."""
    for name, field in type(model).model_fields.items():
        where, value = f"{place}{field.alias or name}", getattr(model, name)
        if isinstance(value, BaseModel):
            yield from _values(value, f"{where}.")
        elif isinstance(value, tuple):
            for number, each in enumerate(value, start=1):
                if isinstance(each, BaseModel):
                    yield from _values(each, f"{where}[{number}].")
        elif isinstance(value, float):
            yield from (
                Oddity(where, "", value, quantity.sense, "Check the number and its unit.")
                for quantity in quantities_of(field)
                if quantity.sense is not None
            )
