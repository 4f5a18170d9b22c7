"""What is told of a log beside its file: which column is meant, its rate, what a volt is."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from scaleup.errors import Fault, InputError
from scaleup.io.units import UnitFault, to_core
from scaleup.text import printable

CHOOSABLE = ("time", "force", "position", "ejection force")
"""Columns that can be said to have another heading."""
VOLTS = {"V": 1.0, "mV": 1e-3, "volt": 1.0, "volts": 1.0}
"""Units in which an amplifier gives a force, in V."""
LEAST_SCALE, MOST_SCALE = 1.0, 1e7
"""N for each volt; what is beyond is no press (a judgement of this program)."""


@dataclass(frozen=True)
class LogAsked:
    """What is told of a log beside its file; nothing if left as it is."""

    columns: Mapping[str, str] = field(default_factory=dict)
    """Column: the heading it has in the file."""
    rate: float | None = None
    """Rows in a second, in the place of a time."""
    scale: float | None = None
    """N for each volt of force."""


AS_WRITTEN = LogAsked()


def chosen_headings(texts: Iterable[str]) -> dict[str, str]:
    """Return headings by the column they are said to be.

    >>> chosen_headings(["force=Main force"])
    {'force': 'Main force'}

    Raises
    ------
    InputError
        If a text names no column, or a column is named twice.
    """
    chosen: dict[str, str] = {}
    for text in texts:
        name, equals, heading = text.partition("=")
        column = " ".join(name.lower().split())
        if not equals or column not in CHOOSABLE or not heading.strip():
            allowed = f"a column and its heading, the column one of {', '.join(CHOOSABLE)}"
            mend = 'Write "force=Main force".'
            raise InputError(Fault("", "--column", f'"{printable(text)}"', allowed, mend))
        if column in chosen:
            raise InputError(Fault("", "--column", f"{column} twice", "each column once"))
        chosen[column] = heading.strip()
    return chosen


def scale_of(text: str) -> float:
    """Return the N that a volt stands for.

    >>> scale_of("4 kN/V"), scale_of("2 N/mV")
    (4000.0, 2000.0)

    Raises
    ------
    InputError
        If it is no force for each volt or millivolt, or out of range.
    """
    allowed = 'a force for each volt, such as "4 kN/V"'
    match = re.fullmatch(r"\s*(.*?)\s*/\s*(\w+)\s*", text)
    if match is None or match[2] not in VOLTS:
        raise InputError(Fault("", "--scale", f'"{printable(text)}"', allowed))
    try:
        scale = to_core(match[1], "N") / VOLTS[match[2]]
    except UnitFault as fault:
        raise InputError(Fault("", "--scale", fault.found, allowed)) from None
    if not LEAST_SCALE <= scale <= MOST_SCALE:
        bounds = f"{LEAST_SCALE:g} N/V to {MOST_SCALE / 1e3:g} kN/V"
        raise InputError(Fault("", "--scale", f"{scale:g} N/V", bounds))
    return scale
