"""Everything that can be wrong with what the user gave, as one kind of error.

A fault says where (file, key or line), what was found, what is allowed and how to mend it. The
command line prints the faults and ends with exit status 2; a notebook sees one exception.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise


def on_one_line(text: str) -> str:
    r"""Return a text with every character written out that would steer a terminal.

    >>> on_one_line("a" + chr(27) + "b")
    'a\\x1bb'
    """
    return "".join(
        char if char.isprintable() else char.encode("unicode_escape").decode() for char in text
    )


@dataclass(frozen=True)
class Fault:
    """One thing wrong with the input.

    Examples
    --------
    >>> print(Fault("study.toml", "target.weight", "400", "a mass", 'Write "400 mg".'))
    study.toml: target.weight: found 400; allowed: a mass. Write "400 mg".
    """

    file: str
    where: str
    found: str
    allowed: str
    mend: str = ""

    def __str__(self) -> str:
        """Return the fault on one line: ``file: where: found X; allowed: Y. Mend.``"""
        place = ": ".join(part for part in (self.file, self.where) if part)
        text = f"{place}: found {self.found}; allowed: {self.allowed}"
        return on_one_line(f"{text}. {self.mend}" if self.mend else text)


class InputError(Exception):
    """The input is at fault; carries every fault found, so that they can be mended at once.

    Examples
    --------
    >>> faults = [Fault("a.toml", "", "no such file", "a profile"), Fault("b.toml", "", "x", "y")]
    >>> len(InputError(faults).faults)
    2
    """

    def __init__(self, faults: Fault | Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = (faults,) if isinstance(faults, Fault) else tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


class FieldFault(InputError, ValueError):  # noqa: N818  named after the faults it carries
    """Values that an object cannot have; its faults name the field, and no file.

    A reader of files adds file and place. It is a ValueError as well, so that the reader of a table
    collects it beside the faults of other fields.
    """


def field_fault(found: str, allowed: str, mend: str = "", where: str = "") -> FieldFault:
    """Return the fault of one field, or of several that do not go together.

    >>> str(field_fault("-3 mm", "a length above zero", where="diameter"))
    'diameter: found -3 mm; allowed: a length above zero'
    """
    return FieldFault(Fault("", where, found, allowed, mend))


LISTED = 3
"""How many different findings of one fault are written out."""
_LINE = re.compile(r"(line|row) (\d+)(.*)", re.DOTALL)


def told_once(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """Return the faults, those that differ only in their line and in what was found as one.

    >>> rows = [Fault("runs.csv", f"line {n}, column hold", "a hold", "none") for n in (2, 3, 4, 7)]
    >>> print(*told_once(rows))
    runs.csv: lines 2 to 4 and 7, column hold: found a hold; allowed: none
    """
    groups: dict[tuple[str, ...], list[tuple[int, Fault]]] = {}
    for fault in faults:
        match = _LINE.fullmatch(fault.where)
        line, place = (int(match[2]), match[3]) if match else (0, fault.where)
        key = (fault.file, match[1] if match else "", place, fault.allowed, fault.mend)
        groups.setdefault(key, []).append((line, fault))
    return tuple(_joined(word, place, same) for (_, word, place, *_), same in groups.items())


def _joined(word: str, place: str, same: list[tuple[int, Fault]]) -> Fault:
    first = same[0][1]
    if len(same) == 1:
        return first
    found = _listed(list(dict.fromkeys(fault.found for _, fault in same)))
    where = f"{lines_told((line for line, _ in same), word)}{place}" if word else first.where
    return replace(first, where=where, found=found)


def _listed(texts: list[str]) -> str:
    more = len(texts) - LISTED
    return ", ".join(texts[:LISTED]) + (f" and {more} more" if more > 0 else "")


def lines_told(lines: Iterable[int], word: str = "line") -> str:
    """Return lines of a file, or rows of a table, in words.

    >>> lines_told([4, 2, 3, 9, 8]), lines_told([5])
    ('lines 2 to 4, 8 and 9', 'line 5')
    """
    ordered = sorted(set(lines))
    breaks = [0, *(i for i, (a, b) in enumerate(pairwise(ordered), 1) if b > a + 1), len(ordered)]
    parts = []
    for start, end in pairwise(breaks):
        run = [str(line) for line in ordered[start:end]]
        parts += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else run
    told = f"{', '.join(parts[:-1])} and {parts[-1]}" if len(parts) > 1 else parts[0]
    return f"{word}{'s' if len(ordered) > 1 else ''} {told}"
