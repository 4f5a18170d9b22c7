"""Where files lie: inside a study's folder, in the user's own profiles, or shipped."""

from __future__ import annotations

import os
from pathlib import Path, PurePosixPath, PureWindowsPath

from scaleup.errors import Fault, InputError
from scaleup.text import meant, printable

ENVIRONMENT = "SCALEUP_PROFILES"
Near = Path | str | None
"""The folder of a study, by its path or as a study has it; None or no text where there is none."""


def as_folder(near: Near) -> Path | None:
    """Return the path of a study's folder, None where it has none."""
    return Path(near) if near else None


def shipped_profiles() -> Path:
    """Return the folder of the shipped profiles, in an installed package or in the repository."""
    package = Path(__file__).resolve().parents[1]
    installed = package / "_profiles"
    return installed if installed.is_dir() else package.parent / "profiles"


def is_folder(path: Path) -> bool:
    """Return whether a path is a folder; a name that no file can have is none."""
    try:
        return path.is_dir()
    except OSError:
        return False


def own_profiles() -> Path | None:
    """Return the folder named by ``SCALEUP_PROFILES``, None if it is not set.

    Raises
    ------
    InputError
        If it names no folder.
    """
    named = os.environ.get(ENVIRONMENT, "")
    if not named:
        return None
    folder = Path(named)
    if not is_folder(folder):
        raise InputError(
            Fault(
                "",
                ENVIRONMENT,
                f'"{printable(named)}", which is no folder',
                "a folder with presses/ and tooling/ in it",
                "Mend the environment variable, or unset it.",
            )
        )
    return folder


def profile_folders(near: Near = None) -> tuple[Path, ...]:
    """Return the folders searched for profiles, first found first taken.

    A study's own folder comes first, then ``SCALEUP_PROFILES``, then what is shipped.
    """
    folder = as_folder(near)
    beside = () if folder is None else (folder, folder / "profiles")
    own = own_profiles()
    return (*beside, *(() if own is None else (own,)), shipped_profiles())


def inside(folder: Path, reference: str, file: str, where: str) -> Path:
    """Return the path of a file named relative to a folder, which it must not leave.

    Raises
    ------
    InputError
        If the name is absolute, climbs with ``..``, leads out by a link, or to nothing.
    """
    parts = PurePosixPath(reference.replace("\\", "/")).parts
    absolute = PurePosixPath(reference).is_absolute() or PureWindowsPath(reference).drive
    path = folder / reference
    if absolute or ".." in parts or leaves(path, folder):
        raise InputError(
            Fault(
                file,
                where,
                f'"{printable(reference)}", which leads out of the folder',
                "a file inside the folder, named relative to it",
                "Copy the file into the folder.",
            )
        )
    if _lacks(path):
        beside = path.parent.glob(f"*{path.suffix}") if is_folder(path.parent) else ()
        raise InputError(
            Fault(
                file,
                where,
                f'no such file "{printable(reference)}"',
                "a file inside the folder, named relative to it",
                meant(reference, (each.relative_to(folder).as_posix() for each in beside)),
            )
        )
    return path


def _lacks(path: Path) -> bool:
    """Return whether there is nothing at a path; one that cannot be looked at is left to others."""
    try:
        return not path.exists()
    except OSError:
        return False


def leaves(path: Path, folder: Path) -> bool:
    """Return whether a path, its links followed, lies outside a folder."""
    try:
        return not path.resolve().is_relative_to(folder.resolve())
    except RuntimeError:  # links that lead back to themselves
        return True


def shown_path(path: Path, near: Near = None) -> str:
    """Return a file's name in results: relative to the study, ``profiles/...``, or in full."""
    for folder, prefix in (
        (as_folder(near), PurePosixPath()),
        (shipped_profiles(), PurePosixPath("profiles")),
    ):
        if folder is not None and path.is_relative_to(folder):
            return str(prefix / path.relative_to(folder).as_posix())
    return str(path)
