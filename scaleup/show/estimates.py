"""An estimate as text, as HTML and as a quantity of a units library."""

from __future__ import annotations

import re
from html import escape
from typing import TYPE_CHECKING

from scaleup.errors import Fault, InputError
from scaleup.io.units import UnitFault, factor
from scaleup.model.estimate import Estimate
from scaleup.show.numbers import band_text, value_text
from scaleup.show.parts import in_unit, told

if TYPE_CHECKING:
    from pint import Quantity

HOW = re.compile(r"(?P<number>[+,]?\.\d+[efg%]?)? ?(?P<unit>.*)", re.DOTALL)
"""How an estimate is to be written: with which digits, in which unit; both may be left out."""


def estimate_text(estimate: Estimate, how: str = "") -> str:
    """Return an estimate with its band and unit, in the form asked for.

    >>> force = Estimate(12027.0, "N", 11000.0, 13000.0)
    >>> estimate_text(force), estimate_text(force, "N"), estimate_text(force, ".2f kN")
    ('12.0 (11.0–13.0) kN', '12027 (11000–13000) N', '12.03 (11.00–13.00) kN')
    >>> estimate_text(Estimate(None, "mm", reason="no fill depth"))
    'not available: no fill depth'
    """
    asked = HOW.fullmatch(how)
    number, name = (asked["number"] or "", asked["unit"]) if asked else ("", "")
    name, size = _unit(estimate, name)
    if not how or estimate.value is None:
        return told(estimate)
    value, band = value_text(estimate, size), band_text(estimate, size)
    if number:
        value, band = _formatted(estimate, size, number)
    return f"{value}{f' ({band})' if band else ''} {name}".rstrip()


def _formatted(estimate: Estimate, size: float, number: str) -> tuple[str, str]:
    ends = [estimate.low, estimate.value, estimate.high]
    low, value, high = ("…" if end is None else format(end * size, number) for end in ends)
    bare = estimate.exact or (estimate.low is None and estimate.high is None)
    return value, "" if bare else f"{low}–{high}"


def estimate_html(estimate: Estimate) -> str:
    """Return an estimate as HTML, its band in small type; why there is no band when pointed at."""
    if estimate.value is None:
        return f"<i>{escape(estimate_text(estimate))}</i>"
    name, size = _unit(estimate, "")
    band = band_text(estimate, size)
    small = f" <small>({escape(band)})</small>" if band else ""
    why = f' title="{escape(str(estimate.reason))}"' if estimate.reason else ""
    return f"<span{why}>{escape(value_text(estimate, size))}{small} {escape(name)}</span>"


def quantity_of(estimate: Estimate, unit: str) -> Quantity[float]:
    """Return the value as a quantity of pint's application registry, in a unit.

    >>> print(quantity_of(Estimate(12027.0, "N", 11000.0, 13000.0), "kN"))
    12.027 kilonewton

    Raises
    ------
    InputError
        If the estimate has no value, or its unit does not convert.
    """
    import pint  # noqa: PLC0415  few ask for it

    if estimate.value is None:
        found = f"not available: {estimate.reason}"
        raise InputError(Fault("", "value", found, "an estimate that has a value"))
    quantity = pint.Quantity(estimate.value, "" if estimate.unit == "1" else estimate.unit)
    try:
        converted: Quantity[float] = quantity.to(unit)
    except (pint.errors.DimensionalityError, pint.errors.UndefinedUnitError):
        raise InputError(Fault("", "unit", f'"{unit}"', _converting(estimate))) from None
    return converted


def _unit(estimate: Estimate, asked: str) -> tuple[str, float]:
    """Return a unit asked for, or the one the estimate is usually read in, and its size."""
    if not asked:
        size, name = in_unit(estimate)
        return name, size
    if asked == estimate.unit:
        return asked, 1.0
    try:
        return asked, 1.0 / factor(asked, estimate.unit)
    except (UnitFault, KeyError):
        raise InputError(Fault("", "unit", f'"{asked}"', _converting(estimate))) from None


def _converting(estimate: Estimate) -> str:
    return f"a unit that {'a share' if estimate.unit == '1' else estimate.unit} converts to"
