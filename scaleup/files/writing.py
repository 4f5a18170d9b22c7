"""Writing files whole or not at all."""

from __future__ import annotations

import os
import secrets
from typing import TYPE_CHECKING

from scaleup.errors import Fault, InputError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path


def write_whole(path: Path, data: bytes | str, force: bool = False) -> None:
    """Write a file so that it is there whole or not at all; text is written as UTF-8.

    Raises
    ------
    InputError
        If the file exists and ``force`` is not set, or if it cannot be written.
    """
    content = data.encode() if isinstance(data, str) else data
    try:
        _refuse_taken(path, force=force)
        _replace(path, content)
    except OSError as error:
        reason = (error.strerror or "an unwritable place").lower()
        raise InputError(Fault(str(path), "", reason, "a place that can be written")) from None


def write_together(
    files: Mapping[Path, bytes | str], force: bool = False, *, make_folders: bool = True
) -> None:
    """Write several files; none if any exists and is not to go, or lacks a folder not to be made.

    Raises
    ------
    InputError
        If a file exists and ``force`` is not set, or if one cannot be written.
    """
    try:
        for path in files:
            _refuse_taken(path, force=force)
        for folder in {path.parent: None for path in files}:
            if make_folders:
                folder.mkdir(parents=True, exist_ok=True)
            elif not folder.is_dir():
                raise InputError(Fault(str(folder), "", "no such folder", "a folder that exists"))
    except OSError as error:
        reason = (error.strerror or "an unwritable place").lower()
        raise InputError(Fault(str(path), "", reason, "a place that can be written")) from None
    for path, data in files.items():
        write_whole(path, data, force)


def _refuse_taken(path: Path, *, force: bool) -> None:
    if path.is_dir():
        raise InputError(Fault(str(path), "", "a folder", "the name of a file"))
    if path.exists() and not force:
        mend = "Choose another name, or replace it with --force (force=True in Python)."
        raise InputError(Fault(str(path), "", "a file that exists", "a new file", mend))


def _replace(path: Path, content: bytes) -> None:
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        with part.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
