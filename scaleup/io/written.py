"""How a number of a table is written: a quantity with its unit, read into the core unit."""

from __future__ import annotations

import re
from dataclasses import dataclass
from numbers import Real

from pydantic import GetCoreSchemaHandler
from pydantic_core.core_schema import CoreSchema, no_info_before_validator_function

from scaleup.conversion import has_units, in_core
from scaleup.errors import field_fault
from scaleup.io.units import EXPECTED, UnitFault, expected, factor, to_core
from scaleup.model.fields import Measure
from scaleup.model.sense import Sense
from scaleup.text import printable, shown_number

MISTAKEN: dict[str, tuple[str, ...]] = {
    "mm": ("mm", "cm", "m", "um", "in"),
    "mm^2": ("mm^2", "cm^2"),
    "mm^3": ("mm^3", "cm^3"),
    "N": ("kN", "N", "kgf", "lbf"),
    "MPa": ("GPa", "MPa", "kPa"),
    "s": ("s", "ms", "min"),
    "rpm": ("rpm", "1/s"),
    "mm/s": ("mm/s", "m/s"),
    "N/s": ("kN/s", "N/s"),
    "N/mm": ("kN/mm", "N/mm", "N/um"),
    "rad": ("deg", "rad"),
}
"""Core unit: units that are written for one another."""


@dataclass(frozen=True)
class Written:
    """The text of a measure, such as ``"60 kN"``; a bare number is refused.

    In Python (``bare``) a plain number is one in the core unit, and quantities of any units library
    are taken as well.
    """

    measure: Measure
    bare: bool = False

    def __get_pydantic_core_schema__(
        self, source: type[float], handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Return how pydantic reads the field."""
        return no_info_before_validator_function(self.read, handler(source))

    @property
    def wanted(self) -> str:
        """Return in words what is to be written."""
        return expected(self.measure.unit)

    def read(self, value: object) -> float:
        """Return the quantity as a float in the core unit.

        Raises
        ------
        UnitFault, FieldFault
            If it is no such quantity, or cannot be.
        """
        if not isinstance(value, str):
            return self._given(value)
        number = to_core(value, self.measure.unit)
        if not self.measure.refusal(number):
            return number
        sense = self.measure.sense
        if sense is not None and number > 0:
            raise field_fault(f'"{value}"', sense.allowed, unit_meant(sense, value))
        raise UnitFault(f'"{value}"', self._allowed(number))

    def _given(self, value: object) -> float:
        """Return what is no text as a number, if a plain one may be given."""
        if not self.bare:
            raise UnitFault(_bare(value), self.wanted)
        number: object = value
        if has_units(value):
            try:
                number = float(in_core("", value, (self.measure.unit,)))
            except ValueError:
                raise UnitFault(str(value), self.wanted) from None
        allowed = self.measure.refusal(number)
        if allowed or not isinstance(number, Real):
            raise field_fault(printable(str(value)), allowed)
        return float(number)

    def _allowed(self, number: float) -> str:
        """Return in words what is allowed where a number is not."""
        measure = self.measure
        noun, example = EXPECTED[measure.unit]
        if number <= 0:
            bound = "not below zero" if measure.zero else "above zero"
        elif measure.unit == "1":
            bound = "up to 100 %"
        else:
            lower = f"from {measure.least:g} " if measure.least else ""
            bound = f"{lower}up to {measure.most:g} {measure.unit}"
        return f'{noun} {bound}, such as "{example}"'


def _bare(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return f"{shown_number(value)}, a number without a unit"
    return {"dict": "a table", "list": "a list", "tuple": "a list"}.get(
        type(value).__name__, str(value)
    )


def unit_meant(sense: Sense, written: str) -> str:
    """Return a sentence that guesses the unit that was meant, empty if none is likely.

    >>> sense = Sense("GPa", "MPa", (50, 1000), (180, 720), "from memory", "")
    >>> unit_meant(sense, "210 MPa")
    'Did you mean "210 GPa"?'
    """
    match = re.match(r"\s*([+-]?[\d.]+(?:[eE][+-]?\d+)?)", written)
    if match is None:
        return ""
    for unit in MISTAKEN.get(sense.core, ()):
        if sense.is_usual(float(match[1]) * factor(unit, sense.core)):
            return f'Did you mean "{match[1]} {unit}"?'
    return ""
