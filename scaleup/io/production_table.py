"""The table ``[production]`` in the text of a study, changed line by line so that comments stay."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from typing import Any

from scaleup.errors import Fault, InputError
from scaleup.io.library import name_beside
from scaleup.model.contradictions import STUDY_FILE
from scaleup.model.study import ProductionSide

TABLE = "production"
DIGITS = 8
_TABLE = re.compile(rf"(?ms)^[ \t]*\[[ \t]*{TABLE}[ \t]*\][^\n]*\n.*?(?=^[ \t]*\[|\Z)")


def with_production(text: str, side: ProductionSide, folder: str) -> str:
    """Return the text of a study of a folder that asks about a side; unchanged if it does so.

    The speed is that of the side only where press or tooling change.

    Raises
    ------
    InputError
        If a line to be changed is not found.
    """
    names = {
        "press": name_beside(side.press, folder),
        "tooling": name_beside(side.tooling, folder),
    }
    old = tomllib.loads(text).get(TABLE, {})
    if names == {key: old.get(key) for key in names}:
        return text
    return with_keys(text, names | {"speed": f"{side.speed:.{DIGITS}g} rpm"})


def with_keys(text: str, wanted: Mapping[str, str]) -> str:
    """Return a text whose table ``[production]`` has other values of some keys, else as it was.

    Raises
    ------
    InputError
        If the table or the line of a key is not found.
    """
    found = _TABLE.search(text)
    table = "" if found is None else found[0]
    for key, value in wanted.items():
        line = re.search(rf"(?m)^[ \t]*{key}[ \t]*=[ \t]*(\"[^\"\n]*\"|'[^'\n]*')", table)
        if line is not None:
            table = f'{table[: line.start(1)]}"{value}"{table[line.end(1) :]}'
    changed = text if found is None else text[: found.start()] + table + text[found.end() :]
    _check(text, changed, wanted)
    return changed


def _check(text: str, changed: str, wanted: Mapping[str, str]) -> None:
    """Refuse a changed text that does not say what is wanted, and all else as before."""
    expected: dict[str, Any] = tomllib.loads(text)
    expected[TABLE] = {**expected.get(TABLE, {}), **wanted}
    try:
        read = tomllib.loads(changed)
    except tomllib.TOMLDecodeError:
        read = {}
    if read != expected:
        keys = ", ".join(wanted)
        allowed = f"a table [{TABLE}] with a line of its own for each of {keys}"
        raise InputError(Fault(STUDY_FILE, TABLE, "no line of its own", allowed))
