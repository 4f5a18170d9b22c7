"""A first study to start from: invented, commented, and complete."""

from __future__ import annotations

import secrets
import shutil
from importlib.resources import files
from pathlib import Path

from scaleup.errors import Fault, InputError

STARTER_FILES = ("README.txt", "runs.csv", "study.toml")
"""The study's own file is the last: a folder is a study once it is there."""


def write_starter(folder: Path) -> tuple[Path, ...]:
    """Write a study with invented data into a new or empty folder; return the files written.

    Raises
    ------
    InputError
        If the folder holds anything, or cannot be written.
    """
    try:
        _refuse_taken(folder)
        _write(folder)
    except OSError as error:
        reason = (error.strerror or "an unwritable place").lower()
        raise InputError(Fault(str(folder), "", reason, "a place that can be written")) from None
    return tuple(folder / name for name in STARTER_FILES)


def _refuse_taken(folder: Path) -> None:
    if folder.is_file() or (folder.is_dir() and any(folder.iterdir())):
        found = "a file of this name" if folder.is_file() else "a folder that is not empty"
        mend = "Choose another name."
        raise InputError(Fault(str(folder), "", found, "a new or an empty folder", mend))


def _write(folder: Path) -> None:
    whole = folder.absolute()
    part = whole.with_name(f".{whole.name}.{secrets.token_hex(4)}.part")
    try:
        _fill(part)
        _move(part, folder)
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _fill(part: Path) -> None:
    part.mkdir(parents=True)
    source = files("scaleup.files") / "starter"
    for name in STARTER_FILES:
        (part / name).write_bytes((source / name).read_bytes())


def _move(part: Path, folder: Path) -> None:
    if not folder.exists():
        part.rename(folder)
        return
    for name in STARTER_FILES:
        (part / name).rename(folder / name)
