"""How the numbers of a log are written: its decimal sign, and what parts its thousands."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from scaleup.arrays import Array

SPACES = " \u00a0\u2009\u202f"
"""A blank, a no-break blank, and the narrow ones."""
SIGNS = {".": "point", ",": "comma", "'": "apostrophe", " ": "blank"}
_EXPONENT = r"(?:[eE][+-]?\d{1,3})?"


@dataclass(frozen=True)
class Numbers:
    """A way to write numbers."""

    decimal: str = "."
    thousands: str = ""
    told: bool = False
    """Whether a reader should be told, as another way was possible."""

    @property
    def parted(self) -> str:
        """Return the class of characters that part thousands, empty if none do."""
        return f"[{SPACES}]" if self.thousands == " " else re.escape(self.thousands)

    @property
    def pattern(self) -> str:
        """Return the regular expression of a number; the first group of thousands has no zero."""
        point = re.escape(self.decimal)
        groups = rf"[1-9][0-9]{{0,2}}(?:{self.parted}[0-9]{{3}})+|" if self.thousands else ""
        whole = rf"(?:{groups}[0-9]+)(?:{point}[0-9]*)?"
        return rf"[+-]?(?:{whole}|{point}[0-9]+){_EXPONENT}"

    @cached_property
    def known(self) -> re.Pattern[str]:
        """Return the compiled pattern."""
        return re.compile(self.pattern, re.ASCII)

    def value(self, cell: str) -> float:
        """Return a number that is written so.

        >>> Numbers(",", ".").value("12.345,6")
        12345.6
        """
        if self.thousands:
            cell = re.sub(self.parted, "", cell)
        return float(cell.replace(self.decimal, "."))

    def values(self, cells: Any) -> Array | None:
        """Return an array of pyarrow strings as floats, None if one is no number; blanks are nan.

        Shape (rows,).
        """
        import pyarrow as pa  # noqa: PLC0415  start-up stays quick
        from pyarrow import compute as pc  # noqa: PLC0415

        cells = pc.utf8_trim_whitespace(cells)
        fits = pc.match_substring_regex(cells, f"^(?:{self.pattern})$")
        if not pc.all(fits, min_count=0).as_py():
            return None
        if self.thousands:
            cells = pc.replace_substring_regex(cells, self.parted, "")
        plain = pc.replace_substring(cells, self.decimal, ".")
        values: Array = pc.cast(plain, pa.float64()).to_numpy(zero_copy_only=False)
        return values

    @property
    def way(self) -> str:
        """Return in words what numbers are written with."""
        parted = f" and thousands {SIGNS[self.thousands]}" if self.thousands else ""
        return f"decimal {SIGNS[self.decimal]}{parted}"


PLAIN = (Numbers("."), Numbers(","))
PARTED = tuple(
    Numbers(decimal, parted, told=True)
    for decimal, others in ((".", ",' "), (",", ".' "))
    for parted in others
)
