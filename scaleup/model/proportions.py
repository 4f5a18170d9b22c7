"""Figures of several keys of a profile together, each held to its range of sense."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Generic, TypeVar

from scaleup.errors import Fault, FieldFault
from scaleup.model.checked import marked_values
from scaleup.model.fields import Measure
from scaleup.model.sense import Sense

Profile = TypeVar("Profile")


@dataclass(frozen=True)
class Proportion(Generic[Profile]):
    """A figure that several keys make together, in the core unit of its sense."""

    where: str
    """The key that is told."""
    label: str
    sense: Sense
    figure: Callable[[Profile], float | None]
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


def oddities(profile: Profile, proportions: Iterable[Proportion[Profile]]) -> tuple[Oddity, ...]:
    """Return every value and every proportion of a profile that is outside of what is usual."""
    figures = [*_values(profile), *_figures(profile, proportions)]
    return tuple(each for each in figures if not each.sense.is_usual(each.value))


def _figures(profile: Profile, proportions: Iterable[Proportion[Profile]]) -> Iterator[Oddity]:
    for each in proportions:
        value = each.figure(profile)
        if value is not None:
            yield Oddity(each.where, each.label, value, each.sense, each.mend)


def _values(profile: object) -> Iterator[Oddity]:
    """Yield every value that has a range of sense, in the objects of an object as well."""
    for where, mark, value in marked_values(profile):
        if isinstance(mark, Measure) and mark.sense is not None:
            yield Oddity(where, "", value, mark.sense, "Check the number and its unit.")


def refuse_impossible(figures: Iterable[Oddity]) -> None:
    """Refuse figures that cannot be.

    Raises
    ------
    FieldFault
        With every one of them.
    """
    impossible = [each.fault("") for each in figures if not each.possible]
    if impossible:
        raise FieldFault(impossible)
