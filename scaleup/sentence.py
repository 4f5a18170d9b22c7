"""Sentences that keep their numbers: a template with named facts, written out when it is shown."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import isnan

from scaleup.wording import at_least, at_most, capital, of_draws, percent, say

_PLAIN = re.compile(r"(?P<digits>\d*) ?(?P<rounded>|down|up)")
_OF_DRAWS = re.compile(r"of (\d+) draws")


@dataclass(frozen=True)
class Fact:
    """A number in its core unit, and how it is told.

    How it is told stands in the template, or in `told` where the template leaves it open:

    ====================  =====================================================================
    ``""``, ``"4"``       in the unit it is read in, with 3 or so many significant digits
    ``"down"``, ``"up"``  the same, rounded to one side only; ``"2 down"`` with 2 digits
    ``"%"``               a share in per cent
    ``"of 400 draws"``    a share of so many draws
    ``"capital"``         as `told` says, with a capital letter
    ``".3f"``, ``",d"``   the bare number, as Python formats it
    ====================  =====================================================================

    A whole number is a count and is told in full. Not-a-number is told as "not known".

    Examples
    --------
    >>> f"{Fact(12345.0, 'N')}, {Fact(25.776, 'rpm'):down}, {Fact(0.123):%}, {Fact(1234)}"
    '12.3 kN, 25.7 rpm, 12 %, 1234'
    >>> f"{Fact(1.0, told='of 400 draws'):capital}; {Fact(0.0642):.3f}"
    'All 400 draws (above 99.2 %); 0.064'
    """

    value: float
    unit: str = "1"
    told: str = ""

    def __post_init__(self) -> None:
        if not isinstance(self.value, int):
            object.__setattr__(self, "value", float(self.value))  # no scalar of an array library

    def __str__(self) -> str:
        return format(self, "")

    def __format__(self, how: str) -> str:
        if how == "capital":
            return capital(str(self))
        how = how or self.told
        if how == "%":
            return percent(self.value)
        if draws := _OF_DRAWS.fullmatch(how):
            return of_draws(self.value, int(draws[1]))
        if plain := _PLAIN.fullmatch(how):
            return self._said(int(plain["digits"] or 3), plain["rounded"])
        return format(self.value, how)

    def _said(self, digits: int, rounded: str) -> str:
        if isnan(self.value):
            return "not known"
        if isinstance(self.value, int):
            return str(self.value)
        tell = {"": say, "down": at_most, "up": at_least}[rounded]
        return tell(self.value, self.unit, digits)


def share_of_draws(share: float, draws: int) -> Fact:
    """Return a share as one of so many draws.

    >>> print(share_of_draws(0.8975, 400))
    89 % of the draws
    """
    return Fact(share, "1", f"of {draws} draws")


class Sentence:
    """A template with named facts; its text is written in the units asked for at that moment.

    A fact is a `Fact`, a bare number (a count or a figure without unit), a word, or another
    sentence. Sentences are equal, to each other and to a text, if they say the same. A fact that
    the template does not name is known but not told.

    Examples
    --------
    >>> told = Sentence("At {speed} tablets lose {loss:%}.", speed=Fact(60.0, "rpm"), loss=0.123)
    >>> print(told)
    At 60 rpm tablets lose 12 %.
    >>> told.facts["speed"].value, told == "At 60 rpm tablets lose 12 %.", "lose 12 %" in told
    (60.0, True, True)
    >>> print(told + " " + Sentence("That is {more} more.", more=Fact(3.0, "rpm")))
    At 60 rpm tablets lose 12 %. That is 3 rpm more.
    """

    __slots__ = ("_given", "_template")

    def __init__(self, template: str, /, **facts: Fact | Words | float) -> None:
        self._template = template
        self._given = {
            name: each if isinstance(each, Fact | Sentence | str) else Fact(each)
            for name, each in facts.items()
        }

    def __str__(self) -> str:
        return self._template.format(**self._given)

    def __repr__(self) -> str:
        return f"Sentence({str(self)!r})"

    def __eq__(self, other: object) -> bool:
        return str(self) == str(other) if isinstance(other, Sentence | str) else NotImplemented

    def __hash__(self) -> int:
        return hash(str(self))

    def __bool__(self) -> bool:
        return bool(str(self))

    def __contains__(self, words: Words) -> bool:
        return str(words) in str(self)

    def startswith(self, words: str) -> bool:
        """Return whether the text begins with some words."""
        return str(self).startswith(words)

    def endswith(self, words: str) -> bool:
        """Return whether the text ends with some words."""
        return str(self).endswith(words)

    def __add__(self, other: Words) -> Sentence:
        return joined("", (self, other))

    @property
    def facts(self) -> dict[str, Fact | str]:
        """Return every fact by its name, those of sentences inside it among them.

        The second of two unlike facts with one name is called `name_2`.
        """
        facts: dict[str, Fact | str] = {}
        for name, each in self._given.items():
            _add(facts, each.facts if isinstance(each, Sentence) else {name: each})
        return facts


Words = Sentence | str
"""A text: a sentence with facts, or one without any."""


def joined(between: str, parts: Iterable[Words]) -> Sentence:
    """Return texts as one, with something between them.

    >>> print(joined("; ", ["none", Sentence("{n} of them", n=3)]))
    none; 3 of them
    """
    each = {
        f"part{number}": part if isinstance(part, Sentence) else _literal(part)
        for number, part in enumerate(parts)
    }
    return Sentence(between.join(f"{{{name}}}" for name in each), **each)


def facts_of(*texts: Words) -> dict[str, Fact | str]:
    """Return every fact of several texts by its name."""
    facts: dict[str, Fact | str] = {}
    for each in texts:
        if isinstance(each, Sentence):
            _add(facts, each.facts)
    return facts


def _literal(text: str) -> Sentence:
    return Sentence(text.replace("{", "{{").replace("}", "}}"))


def _add(facts: dict[str, Fact | str], more: Mapping[str, Fact | str]) -> None:
    for name, fact in more.items():
        place, number = name, 2
        while place in facts and facts[place] != fact:
            place, number = f"{name}_{number}", number + 1
        facts[place] = fact
