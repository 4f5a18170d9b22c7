"""What is looked for on tablets, and in which direction each finding bounds what may be set.

A finding at one pressure and turret speed speaks for every faster speed. Capping and lamination
speak for every higher pressure too (air and elastic energy; common practice), picking, sticking and
friable tablets for every lower one (common practice). The others are kept as they were seen.
"""

from __future__ import annotations

from typing import Literal

Towards = Literal["more pressure", "less pressure", ""]

DEFECTS: dict[str, Towards] = {
    "capping": "more pressure",
    "lamination": "more pressure",
    "picking": "less pressure",
    "sticking": "less pressure",
    "friable": "less pressure",
    "black specks": "",
    "take-off": "",
    "dust": "",
}
"""Every finding by its name, with the pressures it speaks for beyond the one it was seen at."""
ON_TABLETS = tuple(name for name in DEFECTS if name != "friable")
"""Those that are seen by eye; friable tablets are found by the drum."""
BOUNDING = tuple(name for name, towards in DEFECTS.items() if towards)
"""Those that bound what may be set."""


def defects_named(text: str) -> tuple[str, ...] | None:
    """Return the findings of a text, parted by commas; None if one is not known.

    >>> defects_named("Capping, sticking"), defects_named("none"), defects_named("rain")
    (('capping', 'sticking'), (), None)
    """
    names = [each.strip().lower() for each in text.split(",")]
    found = tuple(name for name in names if name and name not in ("none", "no"))
    return found if all(name in DEFECTS for name in found) else None
