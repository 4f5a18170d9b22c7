"""A first study to start from: invented, commented, and complete."""

from __future__ import annotations

from pathlib import Path

from scaleup.errors import Fault, InputError
from scaleup.io.writing import write_together

STARTER_FILES = ("README.txt", "runs.csv", "study.toml")
"""The study's own file is the last: a folder is a study once it is there."""
SOURCE = Path(__file__).parent / "starter"


def write_starter(folder: Path) -> tuple[Path, ...]:
    """Write a study with invented data into a new or empty folder; return the files written.

    Raises
    ------
    InputError
        If the folder holds anything, or cannot be written.
    """
    try:
        _refuse_taken(folder)
    except OSError as error:
        reason = (error.strerror or "an unwritable place").lower()
        raise InputError(Fault(str(folder), "", reason, "a place that can be written")) from None
    write_together({folder / name: SOURCE / name for name in STARTER_FILES})
    return tuple(folder / name for name in STARTER_FILES)


def _refuse_taken(folder: Path) -> None:
    is_folder = folder.is_dir()
    if is_folder and not any(folder.iterdir()):
        return
    if is_folder or folder.exists():
        found = "a folder that is not empty" if is_folder else "a file of this name"
        mend = "Choose another name."
        raise InputError(Fault(str(folder), "", found, "a new or an empty folder", mend))
