"""Checks of what the public functions are called with, each naming argument, found and allowed.

A fault names the argument as the function has it; the command line says it as its option.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable, Sequence
from math import isfinite
from numbers import Integral, Real
from typing import TypeGuard

from scaleup.errors import Fault, InputError, on_one_line
from scaleup.io.given import each_in_unit, in_unit
from scaleup.model.study import ProductionSide, Study
from scaleup.text import meant

CONFIDENCES = (0.5, 0.9999)
DRAWS = (200, 200_000)
SEEDS = (0, 2**32 - 1)
CELLS = (4, 500)
TABLETS = (1, 1000)
MINUTES = (1.0 / 60.0, 1e5 / 60.0)
HOLD_UP = (0.0, 1e9)
"""Least and greatest of each argument; minutes in min, hold-up in mg."""
SPEED_SLACK = 1e-9
"""Share by which a turret speed may be off the press's range, as rounding leaves it."""


def check_answer(
    study: object,
    *,
    confidence: object = None,
    draws: object = DRAWS[0],
    seed: object = SEEDS[0],
    speed: object = None,
    speeds: object = (),
) -> None:
    """Refuse arguments that an answer about a study cannot be had with.

    Raises
    ------
    InputError
        With every fault found.

    Examples
    --------
    >>> from scaleup import read_study
    >>> check_answer(read_study("examples/marram"), confidence=95, draws=3)
    Traceback (most recent call last):
    scaleup.errors.InputError: confidence: found 95; allowed: 0.5 to 0.9999. 95 % is written 0.95.
    draws: found 3; allowed: 200 to 200000
    """
    faults = [*_study_faults(study), *drawing_faults(confidence, draws, seed)]
    if isinstance(study, Study):
        faults += _speed_faults(study.production, speed, speeds)
    if faults:
        raise InputError(faults)


def drawing_faults(confidence: object, draws: object, seed: object) -> list[Fault]:
    """Return what is wrong with confidence, number of draws and seed."""
    return [
        *_confidence_faults(confidence),
        *whole_number_faults("draws", draws, DRAWS),
        *whole_number_faults("seed", seed, SEEDS),
    ]


def _study_faults(study: object) -> Iterable[Fault]:
    if not isinstance(study, Study):
        mend = "Call scaleup.read_study on the folder of the study."
        yield Fault("", "study", shown(study), "a study as read by scaleup.read_study", mend)


def _confidence_faults(confidence: object) -> Iterable[Fault]:
    confidence = yield from _taken("confidence", confidence, "1")
    if confidence is None:
        return
    low, high = CONFIDENCES
    if _number(confidence) and low <= float(confidence) <= high:
        return
    mend = ""
    if _number(confidence) and 100.0 * low <= float(confidence) < 100.0:
        mend = f"{confidence} % is written {float(confidence) / 100.0:g}."
    yield Fault("", "confidence", shown(confidence), f"{low:g} to {high:g}", mend)


def _taken(
    name: str, value: object, unit: str, taking: Callable[[str, object, str], object] = in_unit
) -> Generator[Fault, None, object]:
    """Return what was given as a number; None where it is none, its faults yielded."""
    try:
        return taking(name, value, unit)
    except InputError as error:
        yield from error.faults
        return None


def whole_number_faults(name: str, value: object, ends: tuple[int, int]) -> Iterable[Fault]:
    """Yield that an argument is no whole number between its ends, if it is not."""
    allowed = f"{ends[0]} to {ends[1]}"
    if isinstance(value, bool) or not isinstance(value, Integral):
        yield Fault("", name, shown(value), f"a whole number, {allowed}")
    elif not ends[0] <= int(value) <= ends[1]:
        yield Fault("", name, shown(value), allowed)


def number_faults(name: str, value: object, ends: tuple[float, float]) -> Iterable[Fault]:
    """Yield that an argument is no number between its ends, if it is not."""
    if not _number(value) or not ends[0] <= float(value) <= ends[1]:
        yield Fault("", name, shown(value), f"a number from {ends[0]:g} to {ends[1]:g}")


def _speed_faults(production: ProductionSide, speed: object, speeds: object) -> Iterable[Fault]:
    speed = yield from _taken("speed", speed, "rpm")
    if speed is not None:
        yield from speed_faults(production, speed)
    speeds = yield from _taken("speeds", speeds, "rpm", each_in_unit)
    if speeds is None:
        return
    if isinstance(speeds, str) or not isinstance(speeds, Iterable):
        yield Fault("", "speeds", shown(speeds), "turret speeds in rpm")
        return
    for each in speeds:
        yield from speed_faults(production, each, "speeds")


def speed_faults(
    production: ProductionSide, speed: object, name: str = "speed", found: str = ""
) -> Iterable[Fault]:
    """Yield that the press does not run at a turret speed in rpm, naming the nearest it does."""
    limits = production.press.profile.speed
    allowed = f"{limits.min:g} to {limits.max:g} rpm, the range of {production.press.id}"
    if not _number(speed):
        yield Fault("", name, found or shown(speed), allowed)
        return
    turret = float(speed)
    if limits.min * (1.0 - SPEED_SLACK) <= turret <= limits.max * (1.0 + SPEED_SLACK):
        return
    nearest = limits.min if turret < limits.min else limits.max
    made = f"{production.output(nearest):.0f} tablets/h"
    mend = f"The nearest is {nearest:g} rpm, {made}."
    yield Fault("", name, found or f"{turret:g} rpm", allowed, mend)


def check_cells(cells: object) -> None:
    """Refuse anything but two whole numbers, of speeds and of forces.

    Raises
    ------
    InputError
        If it is anything else.
    """
    if not isinstance(cells, Sequence) or isinstance(cells, str) or len(cells) != 2:
        raise InputError(Fault("", "cells", shown(cells), "how many speeds and how many forces"))
    faults = [fault for each in cells for fault in whole_number_faults("cells", each, CELLS)]
    if faults:
        raise InputError(faults)


def one_of(name: str, value: object, known: Sequence[str]) -> str:
    """Return a name that is one of those known.

    Raises
    ------
    InputError
        If it is not, with the one it may mean.

    Examples
    --------
    >>> one_of("match", "dwel", ["pressure", "dwell"])
    Traceback (most recent call last):
    scaleup.errors.InputError: match: found "dwel"; allowed: pressure, dwell. Did you mean dwell?
    """
    if isinstance(value, str) and value in known:
        return value
    mend = meant(value, known) if isinstance(value, str) else ""
    raise InputError(Fault("", name, shown(value), ", ".join(known), mend))


def shown(value: object) -> str:
    """Return what was found: a text in quotes, a number as it is, anything else by its kind.

    >>> shown("b"), shown(3), shown(float("nan")), shown(None), shown([1])
    ('"b"', '3', 'nan', 'None', 'a list')
    """
    if isinstance(value, str):
        return f'"{on_one_line(value[:80])}"'
    if value is None or isinstance(value, bool | Real):
        return f"{value}"
    kind = type(value).__name__
    return f"{'an' if kind[0].lower() in 'aeiou' else 'a'} {kind}"


def _number(value: object) -> TypeGuard[float]:
    if isinstance(value, bool) or not isinstance(value, Real):
        return False
    return isfinite(value)
