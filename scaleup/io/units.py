"""Quantities with units, turned into plain floats in the core's units (mm, N, MPa, s, mg, rpm)."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

from scaleup.text import TEXT_LIMIT, meant, printable

if TYPE_CHECKING:
    from pint import UnitRegistry

NUMBER_LIMIT = 1e12
FOUND_LIMIT = 200

EXPECTED = {
    "mm": ("a length", "10 mm"),
    "mm^2": ("an area", "78.5 mm^2"),
    "mm^3": ("a volume", "40 mm^3"),
    "N": ("a force", "60 kN"),
    "MPa": ("a pressure", "150 MPa"),
    "s": ("a time", "2 s"),
    "mg": ("a mass", "400 mg"),
    "mg/mm^3": ("a density", "1.54 g/cm^3"),
    "Hz": ("a rate", "10 kHz"),
    "rpm": ("a speed", "25 rpm"),
    "mm/s": ("a velocity", "80 mm/s"),
    "N/s": ("a loading rate", "5 kN/s"),
    "N/mm": ("a stiffness", "150 kN/mm"),
    "rad": ("an angle", "30 deg"),
    "1/h": ("an output", "150000 tablets/h"),
    "1": ("a share", "12 %"),
}
"""Core unit: what it measures, and an example of how to write it."""

DEFINITIONS = """
giga- = 1e9 = G-
mega- = 1e6 = M-
kilo- = 1e3 = k-
deca- = 1e1 = da-
deci- = 1e-1 = d-
centi- = 1e-2 = c-
milli- = 1e-3 = m-
micro- = 1e-6 = u-
metre = [length] = m = meter
gram = [mass] = g
second = [time] = s = sec
radian = [angle] = rad
count = []
percent = 1/100
minute = 60 * second = min
hour = 60 * minute = h
day = 24 * hour = d = days
revolution = count = rev = turn = turns = revolutions
stroke = count = strokes
tablet = count = tablets
rpm = count / minute
hertz = count / second = Hz
inch = 254/10000 * metre = in = inches
mil = inch / 1000 = _ = mils = thou
litre = 1/1000 * metre ** 3 = L = liter = l
newton = kilogram * metre / second ** 2 = N
pascal = newton / metre ** 2 = Pa
bar = 100000 * pascal
tonne = 1000 * kilogram = t
kilogram_force = 980665/100000 * newton = kgf = kp
tonne_force = 1000 * kilogram_force = tf
pound_force = 4.4482216152605 * newton = lbf
short_ton_force = 2000 * pound_force = stonf
psi = pound_force / inch ** 2
degree = 0.017453292519943295 * radian = deg = degrees
"""

SEVERAL = {
    "N": "tf is the metric one (9.807 kN), stonf the short one (8.896 kN)",
    "mg": "t is the metric one (1000 kg)",
}
"""What a ton may be."""
TONS = ("ton", "tons", "tonf", "tonsf", "ton-force")
SPELT = {
    "N": ("N", "kN", "daN", "kgf", "kp", "lbf", "tf", "stonf"),
    "mm": ("mm", "cm", "um", "m", "in", "inch", "mil"),
    "s": ("s", "ms", "min", "h"),
    "mg": ("mg", "g", "kg", "t"),
    "MPa": ("Pa", "kPa", "MPa", "GPa", "bar", "psi"),
    "rpm": ("rpm", "rev/min", "strokes/min", "tablets/min"),
    "N/s": ("N/s", "kN/s", "kN/min", "kgf/s", "lbf/s"),
}
"""Units of the trade that a misspelt one may stand for."""

USUAL = {
    "mm": {"mm": Fraction(1), "cm": Fraction(10), "um": Fraction(1, 1000)},
    "mm^2": {"mm^2": Fraction(1), "cm^2": Fraction(100)},
    "N": {"N": Fraction(1), "kN": Fraction(1000)},
    "MPa": {"Pa": Fraction(1, 10**6), "MPa": Fraction(1), "GPa": Fraction(1000)},
    "s": {"s": Fraction(1), "ms": Fraction(1, 1000), "min": Fraction(60)},
    "mg": {"mg": Fraction(1), "g": Fraction(1000)},
    "mg/mm^3": {"mg/mm^3": Fraction(1), "g/cm^3": Fraction(1)},
    "rpm": {"rpm": Fraction(1)},
    "mm/s": {"mm/s": Fraction(1), "m/s": Fraction(1000)},
    "N/s": {"N/s": Fraction(1), "kN/s": Fraction(1000)},
    "N/mm": {"N/mm": Fraction(1), "kN/mm": Fraction(1000)},
    "rad": {"deg": Fraction("0.017453292519943295")},
    "1": {"percent": Fraction(1, 100)},
}
"""Factors of the usual units by core unit: the registry gives the same, and is slow to load."""

_FRACTION = re.compile(r"(?:(\d{1,4})\s+)?(\d{1,4})/([1-9]\d{0,3})", re.ASCII)
_QUANTITY = re.compile(
    r"(?P<number>(?:\d{1,4}\s+)?\d{1,4}/[1-9]\d{0,3}(?=\s)"
    r"|[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,2})?)\s*(?P<unit>.*)",
    re.ASCII,
)
_NAME = r"(?:[A-Za-z]+(?:(?:\^|\*\*)-?[1-9]|[1-9])?)"
_GROUP = rf"(?:{_NAME}|\({_NAME}(?:[*/]{_NAME}){{0,4}}\))"
_UNIT = re.compile(rf"(?:1|{_GROUP})(?:[*/]{_GROUP}){{0,5}}", re.ASCII)
_SIGNS = str.maketrans(
    {"µ": "u", "μ": "u", "%": "percent", "°": "degree", "²": "^2", "³": "^3", "·": "*"}
)


class UnitFault(ValueError):  # noqa: N818  named after the fault it becomes
    """A text is not a quantity of the kind asked for."""

    def __init__(self, found: str, allowed: str) -> None:
        self.found = printable(found, FOUND_LIMIT)
        self.allowed = allowed
        super().__init__(f"found {self.found}; allowed: {allowed}")


@cache
def registry() -> UnitRegistry[Any]:
    """Return the one units registry, which knows only the units of the trade, by exact factors."""
    from pint import UnitRegistry  # noqa: PLC0415  start-up stays quick

    units: UnitRegistry[Any] = UnitRegistry(None, non_int_type=Fraction)
    units.load_definitions(DEFINITIONS.strip().splitlines())
    return units


def expected(unit: str) -> str:
    """Return in words what is wanted where a core unit is asked for.

    >>> expected("N")
    'a force with its unit, such as "60 kN"'
    """
    noun, example = EXPECTED[unit]
    return f'{noun} with its unit, such as "{example}"'


def to_core(text: str, unit: str) -> float:
    """Return a written quantity as a float in a core unit, one of the keys of ``EXPECTED``.

    Raises
    ------
    UnitFault
        On a bare number, an unknown unit, another dimension, or a number at or above 1e12.

    Examples
    --------
    >>> to_core("60 kN", "N")
    60000.0
    >>> to_core("12 %", "1")
    0.12
    >>> to_core("150000/h", "rpm")
    2500.0
    >>> to_core("3/8 in", "mm")
    9.525
    """
    allowed = expected(unit)
    text = text.strip()
    if len(text) > TEXT_LIMIT:
        raise UnitFault(f"a text of {len(text)} characters", allowed)
    match = _QUANTITY.fullmatch(text)
    if match is None or "," in text:
        raise UnitFault(f'"{printable(text)}"{_comma_hint(text)}', allowed)
    number = _number(match["number"])
    value = number * _exact_factor(_with_unit(match["unit"], unit, text), unit)
    if max(abs(value), abs(number)) >= NUMBER_LIMIT:
        raise UnitFault(f'"{text}", which is absurdly large', allowed)
    return float(value)


def _number(text: str) -> Fraction:
    """Return a decimal number, or a fraction such as 3/8 or 1 3/8, exactly."""
    match = _FRACTION.fullmatch(text)
    if match is None:
        return Fraction(text)
    return int(match[1] or 0) + Fraction(int(match[2]), int(match[3]))


def _with_unit(written: str, core: str, text: str) -> str:
    written = written.strip()
    if written.startswith("/"):
        written = f"1{written}"
    if not written and core != "1":
        raise UnitFault(f'"{text}", a number without a unit', expected(core))
    return written


def _comma_hint(text: str) -> str:
    if re.match(r"[+-]?\d+,\d", text):
        return ", with a comma where a decimal point belongs"
    return ""


def factor(unit: str, core: str) -> float:
    """Return the number by which a value in ``unit`` is multiplied to be in a core unit.

    >>> factor("kN", "N")
    1000.0

    Raises
    ------
    UnitFault
        If the unit is unknown or measures something else.
    """
    return float(_exact_factor(unit.strip(), core))


@lru_cache(maxsize=1024)
def _exact_factor(unit: str, core: str) -> Fraction:
    if not unit:
        return Fraction(1)
    tidy = re.sub(r"\s*([*/^()])\s*", r"\1", unit.translate(_SIGNS))
    tidy = re.sub(r"\s+", "*", tidy)
    if tidy.lower() in TONS and core in SEVERAL:
        found = f'the unit "{printable(unit)}", of which there are several: {SEVERAL[core]}'
        raise UnitFault(found, expected(core))
    shareless = core == "1" and tidy not in {"1", "percent"}
    if len(unit) > TEXT_LIMIT or shareless or not _UNIT.fullmatch(tidy):
        raise UnitFault(f'the unit "{printable(unit)}"', expected(core))
    return _convert(re.sub(r"([A-Za-z])(\d)", r"\1^\2", tidy), core, unit)


def _convert(tidy: str, core: str, written: str) -> Fraction:
    if usual := USUAL.get(core, {}).get(tidy):
        return usual
    from pint import DimensionalityError, UndefinedUnitError  # noqa: PLC0415

    units = registry()
    target = units.dimensionless if core == "1" else units.parse_units(core)
    try:
        return Fraction(units.convert(Fraction(1), units.parse_units(tidy), target))
    except (UndefinedUnitError, ValueError):  # "nan" is a number to the units library
        found = f'the unknown unit "{written}"{_near(written, core)}'
        raise UnitFault(found, expected(core)) from None
    except DimensionalityError:
        noun = EXPECTED[core][0]
        raise UnitFault(
            f'the unit "{written}", which does not measure {noun}', expected(core)
        ) from None


def _near(written: str, core: str) -> str:
    """Return the unit of the trade that a misspelt one may stand for, in brackets."""
    known = SPELT.get(core, ())
    hint = next((f"Did you mean {each}?" for each in known if each.lower() == written.lower()), "")
    hint = hint or meant(written, known)
    return f" ({hint[0].lower()}{hint[1:]})" if hint else ""


def split_heading(heading: str) -> tuple[str, str]:
    """Return the name and the unit of a column heading; the unit is empty where none is given.

    >>> split_heading("Loading rate [kN/s]")
    ('loading rate', 'kN/s')
    """
    match = re.fullmatch(r"([^\[\]]*)(?:\[([^\[\]]*)\])?\s*", heading)
    if match is None:
        return " ".join(heading.lower().split()), ""
    return " ".join(match[1].lower().split()), (match[2] or "").strip()
