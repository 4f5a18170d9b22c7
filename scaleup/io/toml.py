"""TOML files read as dictionaries, with faults a person can mend."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING, Any

from scaleup.errors import Fault, InputError
from scaleup.io.reading_gate import read_bytes

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

SIZE_LIMIT = 1_000_000
DEPTH_LIMIT = 8


def decoded(data: bytes, shown: str) -> str:
    """Return UTF-8 bytes as text, without a byte order mark.

    Raises
    ------
    InputError
        If the bytes are not UTF-8.
    """
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError(
            Fault(
                shown,
                f"line {line}",
                "a character that is not UTF-8",
                "text in UTF-8",
                "Save the file again with the encoding UTF-8.",
            )
        ) from None


def read_toml(path: Path, shown: str = "") -> dict[str, Any]:
    """Return a TOML file as a dictionary; ``shown`` is the file's name in a fault.

    Raises
    ------
    InputError
        If the file cannot be read, is larger than 1 MB, is not TOML, or nests too deep.
    """
    shown = shown or str(path)
    text = decoded(read_bytes(path, shown, SIZE_LIMIT), shown)
    try:
        data = tomllib.loads(text)
    except ValueError as error:  # of TOML, or of a number with thousands of digits
        raise InputError(_syntax_fault(str(error), shown, text)) from None
    except RecursionError:
        raise InputError(_too_deep(shown)) from None
    if _deeper_than(data, DEPTH_LIMIT):
        raise InputError(_too_deep(shown))
    return data


def _too_deep(shown: str) -> Fault:
    return Fault(shown, "", "tables nested too deep", f"up to {DEPTH_LIMIT} levels")


def _deeper_than(data: object, limit: int) -> bool:
    level = [data]
    for _ in range(limit):
        level = [item for whole in level for item in _inside(whole)]
    return bool(level)


def _inside(whole: object) -> Iterable[object]:
    if isinstance(whole, dict):
        return whole.values()
    return whole if isinstance(whole, list) else ()


def _syntax_fault(message: str, shown: str, text: str) -> Fault:
    place = re.search(r"\(at (?:line (\d+), column \d+|end of document)\)", message)
    reason = message[: place.start()].strip() if place else message
    line = int(place[1]) if place and place[1] else text.count("\n") + 1
    return Fault(
        shown,
        f"line {line}",
        f"a line that is not TOML ({reason[:1].lower()}{reason[1:]})",
        'key = "value" lines under [table] headings',
        "Check quotation marks, brackets and keys written twice on or before this line.",
    )
