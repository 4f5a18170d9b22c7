"""The columns of a force log, found by their headings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from scaleup.errors import Fault, InputError
from scaleup.io.log_asked import VOLTS, LogAsked
from scaleup.io.log_headings import COLUMNS, INDEX, Heading, headings_of
from scaleup.io.units import EXPECTED, UnitFault, factor
from scaleup.text import nearest, printable


@dataclass(frozen=True)
class LogColumn:
    """A column of a log that is used."""

    name: str
    place: int
    heading: str
    factor: float
    clock: bool = False
    """Whether its cells are times of the day, or dates with them."""


def has_columns(cells: Sequence[str], asked: LogAsked, names: Sequence[str]) -> bool:
    """Return whether a line of cells may head columns of these names."""
    headings = headings_of(cells)
    return all(_meant(headings, name, asked) for name in names)


def _meant(headings: list[Heading], name: str, asked: LogAsked) -> list[Heading]:
    """Return the headings that may be a column: those chosen, else its own name, else others."""
    if name in asked.columns:
        return [each for each in headings if each.is_called(asked.columns[name])]
    own = [each for each in headings if each.name == name]
    called = [each for each in headings if each.column == name]
    return own or [each for each in called if each.may_measure(name)] or called


def placed(
    cells: Sequence[str], asked: LogAsked, shown: str, where: str
) -> tuple[dict[str, Heading], tuple[str, ...]]:
    """Return the heading of each column that is used, and the headings that nothing uses.

    Raises
    ------
    InputError
        If a needed column is missing, or two could be one.
    """
    headings = headings_of(cells)
    found: dict[str, Heading] = {}
    for name in COLUMNS:
        if name == "time" and asked.rate is not None:
            index = [each for each in headings if each.name in INDEX and not each.unit]
            found |= {name: index[0]} if len(index) == 1 else {}
            continue
        meant = _meant(headings, name, asked)
        if len(meant) > 1:
            raise InputError(_several(name, meant, shown, where))
        if name == "ejection force" and meant and meant[0].unit in VOLTS:
            continue
        if name in asked.columns and not meant:
            told = f'no column "{printable(asked.columns[name])}"'
            listed = f"one of {printable(', '.join(cells), 200)}"
            raise InputError(Fault(shown, "--column", told, listed))
        found |= {name: meant[0]} if meant else {}
    _refuse_missing(found, cells, asked, Fault(shown, where, "", ""))
    twice = {each.place for each in found.values()}
    if len(twice) < len(found):
        raise InputError(Fault(shown, "--column", "one heading for two columns", "one for each"))
    return found, tuple(printable(each.text) for each in headings if each.place not in twice)


def _several(name: str, meant: list[Heading], shown: str, where: str) -> Fault:
    first = printable(meant[0].text)
    told = f"two columns {name}" if len(meant) == 2 else f"{len(meant)} columns {name}"
    listed = " and ".join(f'"{printable(each.text)}"' for each in meant)
    mend = f'scaleup record takes --column "{name}={first}"; elsewhere head one of them "{name}".'
    return Fault(shown, where, f"{told}: {listed}", "each column once", mend)


def _refuse_missing(
    found: dict[str, Heading], cells: Sequence[str], asked: LogAsked, place: Fault
) -> None:
    needed = ("force",) if asked.rate is not None else ("time", "force")
    missing = next((name for name in needed if name not in found), "")
    if missing:
        told = f"no column {missing} among {printable(', '.join(cells))}"
        mend = nearest(missing, tuple(cells))
        if missing == "time":
            mend = (
                'scaleup record takes --rate "1 kHz" in its place; elsewhere add a column time [s].'
            )
        allowed = "the columns time and force"
        raise InputError(Fault(place.file, place.where, told, allowed, mend))


def with_unit(name: str, heading: Heading, asked: LogAsked, shown: str, where: str) -> LogColumn:
    """Return a column with the factor to its core unit.

    Raises
    ------
    InputError
        If its heading has no unit, or one of something else; or a scale is told of no volts.
    """
    core, example = COLUMNS[name]
    text, place, unit = heading.text, heading.place, heading.unit
    if name == "time" and asked.rate is not None:
        return LogColumn(name, place, text, 1.0 / asked.rate)
    if name == "force" and unit in VOLTS:
        return LogColumn(name, place, text, VOLTS[unit] * _scale(asked, unit, shown, where))
    written = heading.name if heading.column == name else name
    mend = f'Write "{written} [{example}]".'
    if not unit:
        told = f"{written} without a unit"
        raise InputError(Fault(shown, where, told, "its unit", mend))
    try:
        column = LogColumn(name, place, text, factor(unit, core))
    except UnitFault as error:
        allowed = f"a unit of {EXPECTED[core][0].split(' ', 1)[1]}"
        raise InputError(Fault(shown, where, error.found, allowed, mend)) from None
    if name == "force" and asked.scale is not None:
        told = f"a scale for a force in {printable(unit)}"
        raise InputError(Fault(shown, "--scale", told, "a scale for a force in V or mV"))
    return column


def _scale(asked: LogAsked, unit: str, shown: str, where: str) -> float:
    if asked.scale is not None:
        return asked.scale
    found = f'the unit "{unit}", in which an amplifier gives a force'
    mend = (
        'Say what a volt stands for: scaleup record takes --scale "4 kN/V"; elsewhere write the '
        "force in kN."
    )
    raise InputError(Fault(shown, where, found, "a unit of force", mend))
