"""The headings of a force log taken apart: name, unit, and the column the trade means by it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from scaleup.io.log_asked import VOLTS
from scaleup.io.units import UnitFault, factor

COLUMNS = {
    "time": ("s", "ms"),
    "force": ("N", "kN"),
    "position": ("mm", "mm"),
    "ejection force": ("N", "kN"),
}
"""Column: its core unit and the unit of an example heading."""
MOST = {"force": 2e6, "ejection force": 2e6, "position": 1e3}
"""Largest value in the core unit that makes sense: no tablet press has more than 2 MN, and tips are
never a metre apart (each a judgement of this program)."""
ALSO_CALLED = {
    "time": "elapsed time, elapsed, time elapsed, time stamp, timestamp, clock, clock time, "
    "date and time, date time, date/time, datetime",
    "force": "compression force, compaction force, main force, main compression force, "
    "main compression, punch force, upper punch force, upper force, upper compression force, "
    "press force, load, load cell, lower punch force, lower force, lower compression force, "
    "precompression force, pre compression force, precompression, pre compression, pre force",
}
"""What else the trade calls time and force (common practice)."""
SYMBOLS = {"t": "time", "F": "force"}
INDEX = ("sample", "samples", "sample no", "sample number", "index", "no", "number", "row", "point")
"""Headings of a column that counts the samples."""
NAMED = {each: name for name, listed in ALSO_CALLED.items() for each in listed.split(", ")}
SUFFIXES = ["s", "ms", "us", "µs", "N", "kN", "daN", "kgf", "lbf", "mm", "um", "µm", "V", "mV"]
"""Units that need no brackets after a slash, a comma, a blank or an underline."""
_BRACKETED = re.compile(r"(.*?)\s*(?:\[([^\[\]]*)\]|\(([^()]*)\))\s*")
_SUFFIXED = re.compile(rf"(.*\w)\s*[\s/,_]\s*({'|'.join(SUFFIXES)})")


@dataclass(frozen=True)
class Heading:
    """A heading of a log, taken apart."""

    place: int
    text: str
    name: str
    unit: str

    @classmethod
    def of(cls, place: int, text: str) -> Heading:
        """Return a heading with its unit in square or round brackets, or at its end.

        >>> Heading.of(0, "Main force (kN)").name, Heading.of(0, "time/ms").unit
        ('main force', 'ms')
        """
        match = _BRACKETED.fullmatch(text.strip()) or _SUFFIXED.fullmatch(text.strip())
        if match is None:
            return cls(place, text, _tidy(text), "")
        unit = next((each for each in match.groups()[1:] if each is not None), "")
        return cls(place, text, _tidy(match[1]), unit.strip())

    @property
    def column(self) -> str:
        """Return the column that the trade would take it for, empty if none."""
        if self.name in COLUMNS:
            return self.name
        bare = self.text.strip()
        symbol = bare[:1] if self.name == bare[:1].lower() else ""
        return NAMED.get(self.name) or SYMBOLS.get(symbol, "")

    def may_measure(self, name: str) -> bool:
        """Return whether its unit, if it has one, is of a column, or volts."""
        if not self.unit or (self.unit in VOLTS and name == "force"):
            return True
        try:
            return factor(self.unit, COLUMNS[name][0]) > 0.0
        except UnitFault:
            return False

    def is_called(self, chosen: str) -> bool:
        """Return whether someone who wrote this meant this heading, with or without its unit."""
        return _tidy(chosen) in (_tidy(self.text), self.name)


def _tidy(text: str) -> str:
    return " ".join(re.sub(r"[_\-\s]+", " ", text.lower()).strip(" .:").split())


def headings_of(cells: Sequence[str]) -> list[Heading]:
    return [Heading.of(place, cell) for place, cell in enumerate(cells)]
