"""What the command line is given by the shell: standard streams, and how wide the terminal is."""

from __future__ import annotations

import codecs
import contextlib
import io
import os
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, TextIO, cast

NARROWEST, WIDEST = 40, 500
"""Columns: screens are laid out for 80 and 160; outside these bounds nothing can be read."""
SIZES = {"COLUMNS": (NARROWEST, WIDEST), "LINES": (10, 1000)}
"""What a shell says of its terminal, and what is taken of it."""
PLAIN = {"–": "-", "×": "x", "─": "-", "°": " deg", "²": "2", "³": "3", "…": "..."}
"""What stands for a character that a terminal's encoding lacks; a question mark for any other."""


def set_sensible_size() -> None:
    """Bring a size that the shell states into its bounds; leave out one that says nothing."""
    for name, (least, most) in SIZES.items():
        given = os.environ.get(name)
        if given is None:
            continue
        if re.fullmatch(r"0*[1-9][0-9]*", given) is None:
            del os.environ[name]
        else:
            digits = given.lstrip("0")
            size = most if len(digits) > len(str(most)) else int(digits)
            os.environ[name] = str(min(max(size, least), most))


class Lenient:
    """A stream whose words are lost, and no error, where nobody can take them."""

    def __init__(self, stream: TextIO) -> None:
        self.stream = stream

    def write(self, text: str) -> int:
        """Write a text out at once, if that is possible."""
        with contextlib.suppress(OSError, ValueError):
            self.stream.write(text)
            self.stream.flush()
        return len(text)

    def flush(self) -> None:
        """Do nothing: every text has been written out."""

    def __getattr__(self, name: str) -> Any:
        return getattr(self.stream, name)


@contextlib.contextmanager
def standard_streams() -> Iterator[None]:
    """Make standard output and error fit for use, whatever the shell has made of them.

    Where standard output is closed, writing to it fails and is told; a complaint that nobody can
    take changes no exit status.
    """
    codecs.register_error("plain", _plain)
    if sys.stdout is None or sys.stderr is None:
        _hold_descriptors()
        # What is opened for reading alone cannot be written to.
        sys.stdout = sys.stdout or open(os.open(os.devnull, os.O_RDONLY), "w", encoding="utf-8")  # noqa: PTH123, SIM115
        sys.stderr = sys.stderr or Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="plain")
    with contextlib.redirect_stderr(cast("TextIO", Lenient(sys.stderr))):
        yield


def _hold_descriptors() -> None:
    """Open what the shell has closed, lest a file of ours is taken for a standard stream."""
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDONLY)  # takes the lowest number that is free


def _plain(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    lost = error.object[error.start : error.end]
    return "".join(PLAIN.get(char, "?") for char in lost), error.end
