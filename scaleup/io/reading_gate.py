"""The one way in: every file is opened for reading here, and nowhere else.

What is opened is a regular file, no larger than its reader can take, and is remembered, so that no
output is written over an input (`scaleup.io.writing`). Names that a study gives are held inside
its folder before they come here (`scaleup.io.places.inside`).
"""

from __future__ import annotations

import io
import os
import stat
from hashlib import sha256 as digest
from typing import TYPE_CHECKING, BinaryIO

from scaleup.errors import Fault, InputError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

PIECE = 1 << 20
"""Bytes read at a time where a whole file goes by."""
LOG_LIMIT = 50_000_000_000
"""Bytes of the largest file that is read in pieces: five hours of text at 100 kHz."""

_NEVER_WAITING = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0)
"""A named pipe without a writer would be waited for; a terminal must not become ours."""
_BINARY = getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0)

_inputs: dict[tuple[int, int], Path] = {}
"""Device and number of what was read, with a path it was read by."""


def kind_of(mode: int) -> str:
    """Return in words what a path leads to if it is no regular file, empty if it is one.

    >>> kind_of(stat.S_IFIFO), kind_of(stat.S_IFREG | 0o644)
    ('a named pipe', '')
    """
    kinds = {
        stat.S_IFREG: "",
        stat.S_IFDIR: "a folder",
        stat.S_IFLNK: "a link",
        stat.S_IFIFO: "a named pipe",
        stat.S_IFSOCK: "a socket",
        stat.S_IFCHR: "a device",
        stat.S_IFBLK: "a device",
    }
    return kinds.get(stat.S_IFMT(mode), "neither file nor folder")


def opened(
    path: Path, shown: str = "", limit: int = LOG_LIMIT, allowed: str = "a file that exists"
) -> BinaryIO:
    """Return a regular file opened for reading, which the caller closes.

    Parameters
    ----------
    path
        Where it is; links are followed.
    shown
        Its name in a fault; the path if empty.
    limit
        Most bytes it may have.
    allowed
        What a fault says should be there.

    Raises
    ------
    InputError
        If it is missing, a folder, a named pipe, a device or a socket, unreadable, or too large.
    """
    shown = shown or str(path)
    try:
        _refuse_special(path.stat().st_mode, shown)  # a device is not even opened
        descriptor = os.open(path, os.O_RDONLY | _NEVER_WAITING | _BINARY)
    except (FileNotFoundError, ValueError):  # the latter where no file can have the name
        raise InputError(Fault(shown, "", "no such file", allowed)) from None
    except OSError as error:
        reason = (error.strerror or "an unreadable file").lower()
        raise InputError(Fault(shown, "", reason, "a file that can be read")) from None
    try:
        status = os.fstat(descriptor)
        _refuse_special(status.st_mode, shown)
        _refuse_large(status.st_size, limit, shown)
    except BaseException:
        os.close(descriptor)
        raise
    _inputs[status.st_dev, status.st_ino] = path
    return os.fdopen(descriptor, "rb")


def _refuse_special(mode: int, shown: str) -> None:
    kind = kind_of(mode)
    if kind:
        raise InputError(Fault(shown, "", kind, "a file"))


def _refuse_large(size: int, limit: int, shown: str) -> None:
    if size > limit:
        found, allowed = f"{size / 1e6:.1f} MB", f"up to {limit / 1e6:g} MB"
        raise InputError(Fault(shown, "", found, allowed))


def pieces_of(path: Path, shown: str = "") -> Iterator[bytes]:
    """Yield a file piece by piece.

    Raises
    ------
    InputError
        As of `opened`, or if it cannot be read to its end.
    """
    with opened(path, shown) as file:
        while piece := _read(file, PIECE, shown or str(path)):
            yield piece


def read_bytes(path: Path, shown: str, limit: int) -> bytes:
    """Return a whole file of at most `limit` bytes.

    Raises
    ------
    InputError
        As of `opened`, or if it cannot be read to its end.
    """
    with opened(path, shown, limit) as file:
        data = _read(file, limit + 1, shown)
    _refuse_large(len(data), limit, shown)  # a file may grow, or have another size than it says
    return data


def _read(file: BinaryIO, most: int, shown: str) -> bytes:
    try:
        return file.read(most)
    except OSError as error:
        reason = (error.strerror or "an unreadable file").lower()
        raise InputError(Fault(shown, "", reason, "a file that can be read")) from None


def text_lines(path: Path, encoding: str, longest: int, shown: str = "") -> Iterator[str]:
    """Yield the lines of a text; one longer than `longest` characters comes in several pieces."""
    with io.TextIOWrapper(opened(path, shown), encoding=encoding, errors="replace") as file:
        while line := file.readline(longest):
            yield line


def sha256(path: Path, shown: str = "") -> str:
    """Return the SHA-256 of a file in hexadecimal.

    Raises
    ------
    InputError
        As of `pieces_of`.
    """
    hashed = digest()
    for piece in pieces_of(path, shown):
        hashed.update(piece)
    return hashed.hexdigest()


def is_input(status: os.stat_result) -> bool:
    """Return whether a file, by whatever name, was read since `forget_inputs`."""
    number = status.st_dev, status.st_ino
    path = _inputs.get(number)
    if path is None:
        return False
    try:
        now = path.stat()
    except OSError:
        return False
    return (now.st_dev, now.st_ino) == number  # else it is gone, and its number given to another


def forget_inputs() -> None:
    """Begin a command, which has read nothing yet."""
    _inputs.clear()
