"""Text from files: what is safe to show, and what reads as a number."""

from __future__ import annotations

import re
import unicodedata

from scaleup.errors import on_one_line

TEXT_LIMIT = 60
LARGE = 1e15

NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII)
"""A decimal number, with a point or a comma."""

_STEERING = {"Cc", "Cf", "Co", "Cs", "Zl", "Zp"}


def printable(text: str, limit: int = TEXT_LIMIT) -> str:
    r"""Return a text with control characters written out, cut to a readable length.

    >>> printable("a" + chr(27) + "b")
    'a\\x1bb'
    """
    return on_one_line(text if len(text) <= limit else f"{text[: limit - 3]}...")


def shown_number(value: float) -> str:
    """Return a number as shown in a fault; a whole number may have thousands of digits.

    >>> shown_number(10**30)
    'an absurdly large number'
    """
    return "an absurdly large number" if abs(value) >= LARGE else f"{value}"


def has_control(text: str) -> bool:
    """Return whether a text holds characters that steer a terminal or hide themselves."""
    return any(unicodedata.category(char) in _STEERING for char in text)
