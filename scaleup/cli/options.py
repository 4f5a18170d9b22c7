"""What several commands share: options with units, completion, a sign of life."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager

from scaleup.errors import Fault, InputError


def given_quantity(
    option: str, text: str | None, unit: str, least: float, most: float
) -> float | None:
    """Return an option's quantity in a core unit, None if the option was not given.

    Raises
    ------
    InputError
        If it has no unit, another dimension, or is out of range.
    """
    if text is None:
        return None
    from scaleup.files.units import UnitFault, to_core  # noqa: PLC0415  pint is slow to start

    try:
        value = to_core(text, unit)
    except UnitFault as fault:
        raise InputError(Fault("", option, fault.found, fault.allowed)) from None
    if not least <= value <= most:
        allowed = f"{_written(least, unit)} to {_written(most, unit)}"
        raise InputError(Fault("", option, _written(value, unit), allowed))
    return value


def _written(value: float, unit: str) -> str:
    """Return a value as an option takes it: a share in per cent, all else in its unit."""
    return f"{value * 100.0:g} %" if unit == "1" else f"{value:g} {unit}"


def whole_number(option: str, value: int, least: int, most: int) -> int:
    """Return an option's whole number if it is in range.

    Raises
    ------
    InputError
        If it is not.
    """
    if not least <= value <= most:
        raise InputError(Fault("", option, str(value), f"{least} to {most}"))
    return value


def press_ids(incomplete: str) -> list[str]:
    """Return the presses whose id begins as typed, for completion in a shell."""
    from scaleup.files.library import list_presses  # noqa: PLC0415

    return [row.id for row in list_presses() if row.id.startswith(incomplete)]


def tooling_ids(incomplete: str) -> list[str]:
    """Return the tooling whose id begins as typed, for completion in a shell."""
    from scaleup.files.library import list_tooling  # noqa: PLC0415

    return [row.id for row in list_tooling() if row.id.startswith(incomplete)]


@contextmanager
def status(what: str) -> Iterator[None]:
    """Show on a terminal that work is going on; nothing in a pipe."""
    if not sys.stderr.isatty():
        yield
        return
    from rich.console import Console  # noqa: PLC0415

    with Console(stderr=True).status(what):
        yield
