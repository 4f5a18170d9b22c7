"""Everything that can be wrong with what the user gave, as one kind of error.

A fault says where (file, key or line), what was found, what is allowed and how to mend it. The
command line prints the faults and ends with exit status 2; a notebook sees one exception.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


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
