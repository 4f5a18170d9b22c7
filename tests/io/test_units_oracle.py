"""Units against another set of definitions, and everything that is no quantity."""

from __future__ import annotations

import string
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scaleup.io.units import (
    EXPECTED,
    USUAL,
    UnitFault,
    factor,
    registry,
    split_heading,
    to_core,
)

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def general() -> pint.UnitRegistry[float]:
    """Return the units library's own definitions, which the project does not use."""
    return pint.UnitRegistry()


@pytest.mark.parametrize(
    ("unit", "core", "general_core"),
    [
        ("kN", "N", "N"),
        ("lbf", "N", "N"),
        ("kgf", "N", "N"),
        ("daN", "N", "N"),
        ("thou", "mm", "mm"),
        ("inches", "mm", "mm"),
        ("um", "mm", "mm"),
        ("in", "mm", "mm"),
        ("cm^3", "mm^3", "mm^3"),
        ("litre", "mm^3", "mm^3"),
        ("psi", "MPa", "MPa"),
        ("bar", "MPa", "MPa"),
        ("GPa", "MPa", "MPa"),
        ("kg/m^3", "mg/mm^3", "mg/mm^3"),
        ("min", "s", "s"),
        ("h", "s", "s"),
        ("deg", "rad", "rad"),
        ("m/s", "mm/s", "mm/s"),
        ("kN/min", "N/s", "N/s"),
        ("kN/um", "N/mm", "N/mm"),
        ("tonne", "mg", "mg"),
    ],
)
def test_factors_agree_with_general_definitions(
    general: pint.UnitRegistry[float], unit: str, core: str, general_core: str
) -> None:
    theirs = general.Quantity(1.0, unit).to(general_core).magnitude
    assert factor(unit, core) == pytest.approx(theirs, rel=1e-12)


@pytest.mark.parametrize(
    ("core", "unit", "usual"),
    [(core, unit, usual) for core, units in USUAL.items() for unit, usual in units.items()],
)
def test_factors_of_usual_units_are_those_of_the_registry(
    core: str, unit: str, usual: Fraction
) -> None:
    units = registry()
    target = units.dimensionless if core == "1" else units.parse_units(core)
    assert units.convert(Fraction(1), units.parse_units(unit), target) == usual


@pytest.mark.parametrize("name", ["marram", "dunlin", "sedge", "fescue", "bracken"])
def test_a_study_in_usual_units_is_read_without_the_units_library(name: str) -> None:
    code = (
        "import sys; from scaleup import read_study; "
        f"read_study('examples/{name}'); print('pint' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], check=True, capture_output=True, text=True, cwd=ROOT
    )
    assert done.stdout.strip() == "False"


@pytest.mark.parametrize(
    ("text", "core", "value"),
    [("3/8 in", "mm", 9.525), ("1 3/8 in", "mm", 34.925), ("1/2 h", "s", 1800.0)],
)
def test_a_fraction_is_a_number(text: str, core: str, value: float) -> None:
    assert to_core(text, core) == value


def test_forces_of_the_shop_floor() -> None:
    """By definition: 9.80665 N to a kilopond, 2000 pounds-force to a short ton-force."""
    assert factor("kp", "N") == 9.80665
    assert factor("mil", "mm") == 0.0254
    assert factor("tf", "N") == 9806.65
    assert factor("stonf", "N") == pytest.approx(2000 * 4.4482216152605)


@pytest.mark.parametrize("unit", ["1/min", "rev/min", "strokes/min", "tablets/min", "rpm"])
def test_speeds_are_counts_per_minute(unit: str) -> None:
    assert factor(unit, "rpm") == 1.0


@given(st.decimals(-(10**9), 10**9, places=6, allow_nan=False))
def test_a_decimal_number_is_read_to_the_nearest_float(number: object) -> None:
    assert to_core(f"{number} mm", "mm") == float(str(number))


@given(
    st.text(string.ascii_letters + string.digits + " ./*^()-+%µ°²³,\x1b\u2028", max_size=80),
    st.sampled_from(sorted(EXPECTED)),
)
def test_any_text_gives_a_number_or_a_fault(text: str, core: str) -> None:
    try:
        assert abs(to_core(f"1 {text}", core)) < 1e12
    except UnitFault as fault:
        assert fault.found.isprintable()
        assert fault.allowed.startswith(EXPECTED[core][0])


@pytest.mark.parametrize(
    ("text", "core", "found", "allowed"),
    [
        ("60", "N", '"60", a number without a unit', 'a force with its unit, such as "60 kN"'),
        ("5 Hz", "N", 'the unit "Hz", which does not measure a force', "a force with its unit"),
        ("5 furlong", "mm", 'the unknown unit "furlong"', "a length with its unit"),
        ("1 nan", "mm", 'the unknown unit "nan"', "a length with its unit"),
        ("6 tonf", "N", 'the unit "tonf", of which there are several: tf is', "a force with its"),
        ("6 tons", "mg", 'the unit "tons", of which there are several', "a mass with its unit"),
        ("6 Kgf", "N", 'the unknown unit "Kgf" (did you mean kgf?)', "a force with its unit"),
        ("6 inhc", "mm", 'the unknown unit "inhc" (did you mean in', "a length with its unit"),
        ("3/0 in", "mm", 'the unit "1/0 in"', "a length with its unit"),
        ("5 mm^0", "mm", 'the unit "mm^0"', "a length with its unit"),
        ("1,5 mm", "mm", '"1,5 mm", with a comma where a decimal point belongs', "a length"),
        ("1e13 mm", "mm", '"1e13 mm", which is absurdly large', "a length with its unit"),
        ("1 mm\x1b[2J", "mm", 'the unit "mm\\x1b[2J"', "a length with its unit"),
        ("30 deg", "1", 'the unit "deg"', 'a share with its unit, such as "12 %"'),
        ("12 tablets", "1", 'the unit "tablets"', "a share with its unit"),
        ("1 mm" + " " * 80 + "x", "mm", "a text of 85 characters", "a length with its unit"),
    ],
)
def test_what_is_said_of_no_quantity(text: str, core: str, found: str, allowed: str) -> None:
    with pytest.raises(UnitFault) as caught:
        to_core(text, core)
    assert caught.value.found.startswith(found)
    assert caught.value.allowed.startswith(allowed)


@pytest.mark.parametrize(
    ("heading", "name", "unit"),
    [
        ("force [kN]", "force", "kN"),
        ("  Breaking   Force[N] ", "breaking force", "N"),
        ("note", "note", ""),
        ("force (kN)", "force (kn)", ""),
        ("force [kN] [N]", "force [kn] [n]", ""),
    ],
)
def test_headings_part_into_name_and_unit(heading: str, name: str, unit: str) -> None:
    assert split_heading(heading) == (name, unit)
