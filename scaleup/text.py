"""Text that users give: what is safe to show, what reads as a number, what name was meant."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from difflib import get_close_matches

from scaleup.errors import on_one_line

TEXT_LIMIT = 60
LARGE = 1e15
CLOSE = 0.6
"""From which likeness on a name may be meant (a judgement of this program)."""
LISTED = 20
"""How many known names are listed where none is close."""

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


def meant(name: str, known: Iterable[str], close_from: float = CLOSE) -> str:
    """Return a sentence naming the known names closest to a misspelt one, empty if none is close.

    How close two names are is twice the letters they share, in order, over all their letters.

    >>> meant("lactos", ["lactose", "starch"])
    'Did you mean lactose?'
    """
    names = {printable(item).casefold(): printable(item) for item in sorted(known)}
    close = get_close_matches(name.casefold(), names, n=3, cutoff=close_from)
    return f"Did you mean {' or '.join(names[item] for item in close)}?" if close else ""


def nearest(name: str, known: Iterable[str]) -> str:
    """Return a sentence naming the known names closest to a misspelt one, all if none is close.

    >>> nearest("xyz", ["lactose", "starch"])
    'Known: lactose, starch.'
    """
    listed = sorted(known)
    close = meant(name, listed)
    if close:
        return close
    names = [printable(item) for item in listed]
    more = f" and {len(names) - LISTED} more" if len(names) > LISTED else ""
    return f"Known: {', '.join(names[:LISTED])}{more}." if names else ""
