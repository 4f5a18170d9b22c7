"""One way to write a quantity: rounded by its band, the band beside it, or why there is none."""

from __future__ import annotations

from math import floor, log10

from scaleup.model.estimate import Estimate
from scaleup.wording import significant

EXACT_DIGITS = 4
MOST_PLACES = 6
TABLE_PLACES = 3
"""Decimal places for which a column of the comparison has room."""


def places(quantity: Estimate, factor: float, most: int) -> int:
    """Return the decimal places at which the band's half width shows two digits.

    Of a band with one end that is its distance from the value.

    Never more than four significant digits of a value from 1 up or three of one below, nor more
    than `most` places, unless the ends of the band would then read the same.
    """
    known = [end for end in (quantity.low, quantity.value, quantity.high) if end is not None]
    if len(known) < 2 or known[-1] <= known[0]:
        return MOST_PLACES
    whole = quantity.low is not None and quantity.high is not None
    half = (known[-1] - known[0]) * (0.5 if whole else 1.0) * factor
    size = abs(quantity.value or half) * factor
    order = floor(log10(size)) if size > 0.0 else 0
    wished = 1 - floor(log10(half))
    allowed = max(min(wished, 3 - order if order >= 0 else 2 - order, most), 0)
    return next(
        (
            digits
            for digits in range(allowed, MOST_PLACES)
            if _end(quantity.low, factor, digits) != _end(quantity.high, factor, digits)
        ),
        max(wished, 0),
    )


def value_text(quantity: Estimate, factor: float = 1.0, most: int = TABLE_PLACES) -> str:
    """Return the value without its unit, rounded as its band allows; "n/a" if there is none.

    >>> value_text(Estimate(151.462, "MPa", 140.2, 163.9))
    '151'
    >>> value_text(Estimate(45.0, "rpm", 45.0, 45.0))
    '45'
    >>> value_text(Estimate(None, "mm", reason="no fill depth"))
    'n/a'
    """
    if quantity.value is None:
        return "n/a"
    digits = places(quantity, factor, most)
    if digits == MOST_PLACES:
        return significant(quantity.value * factor, EXACT_DIGITS)
    return f"{quantity.value * factor:.{digits}f}"


def band_text(quantity: Estimate, factor: float = 1.0, most: int = TABLE_PLACES) -> str:
    """Return the ends of the band, "" for a value that is set or that has no band.

    >>> band_text(Estimate(151.462, "MPa", 140.2, 163.9))
    '140–164'
    >>> band_text(Estimate(45.0, "rpm", 45.0, 45.0))
    ''
    """
    if quantity.exact or (quantity.low is None and quantity.high is None):
        return ""
    digits = places(quantity, factor, most)
    return "–".join(_end(end, factor, digits) for end in (quantity.low, quantity.high))


def cell_text(quantity: Estimate, factor: float = 1.0) -> str:
    r"""Return value and band on two lines of a cell, "n/a" if there is none.

    >>> cell_text(Estimate(151.462, "MPa", 140.2, 163.9))
    '151\n140–164'
    """
    band = band_text(quantity, factor)
    return value_text(quantity, factor) + (f"\n{band}" if band else "")


def _end(end: float | None, factor: float, digits: int) -> str:
    return "…" if end is None else f"{end * factor:.{digits}f}"
