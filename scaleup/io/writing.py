"""The one way out: every file is written here, and nowhere else; whole, or not at all.

A set of files is first written out beside its targets and brought to the disk; then each is
renamed into its place. Where a rename fails, those before it are taken back. Killed before the
first rename, all is as it was. Killed between two renames, which takes SIGKILL or a power cut
(other signals wait), every file is whole, some old and some new; the old ones lie beside as
``.scaleup-*.old``, the new ones not yet in their place as ``.scaleup-*.part``. A set that makes its
folder comes to its place by one rename.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from scaleup.errors import Fault, InputError
from scaleup.io.reading_gate import is_input, kind_of
from scaleup.io.staging import (
    Content,
    Staged,
    bring_to_disk,
    made_folders,
    name_beside,
    open_to_append,
    remove_folders,
    rename_all,
    signals_waiting,
    telling,
    write_out,
)

REPLACE = "Choose another name, or replace it with --force (force=True in Python)."

_written: list[Path] = []


def written() -> tuple[Path, ...]:
    """Return the files and folders written since `forget_written`."""
    return tuple(_written)


def forget_written() -> None:
    """Begin a command, which has written nothing yet."""
    _written.clear()


def write_whole(path: Path, data: Content, force: bool = False) -> None:
    """Write a file so that it is there whole or not at all.

    Raises
    ------
    InputError
        As of `write_together`.
    """
    write_together({path: data}, force, make_folders=False)


def write_together(
    files: Mapping[Path, Content], force: bool = False, *, make_folders: bool = True
) -> None:
    """Write several files, all or none; a file that is replaced keeps its mode.

    Raises
    ------
    InputError
        If a file exists and ``force`` is not set; whatever is set, if it is a link, a folder, a
        named pipe, a device or a socket, was read by this command, or is asked for twice; if its
        folder is missing and not to be made; or if it cannot be written.
    """
    before = {path: _before(path, force) for path in files}
    _refuse_twins(before)
    folders = {path.parent: None for path in files}
    missing = [folder for folder in folders if not _is_folder(folder)]
    if missing and not make_folders:
        raise InputError(Fault(str(missing[0]), "", "no such folder", "a folder that exists"))
    if missing and len(folders) == 1:
        write_folder(missing[0], {path.name: data for path, data in files.items()})
        return
    made: list[Path] = []
    staged: list[Staged] = []
    try:
        for folder in missing:
            made += made_folders(folder)
        for path, data in files.items():
            staged.append(Staged.of(path, before[path]))
            staged[-1].fill(data, keep=len(files) > 1)
        with signals_waiting():
            rename_all(staged)
            _written.extend(files)
    except BaseException:
        remove_folders(made, staged)
        raise
    finally:
        for each in staged:
            each.clear()
    bring_to_disk(folders)


def write_folder(folder: Path, files: Mapping[str, Content]) -> tuple[Path, ...]:
    """Write a new folder with files by their names in it, whole or not at all; return the files.

    Raises
    ------
    InputError
        If there is anything of the folder's name, or it cannot be written.
    """
    with telling(folder):
        if os.path.lexists(folder):
            what = kind_of(folder.lstat().st_mode) or "a file"
            mend = "Choose another name."
            raise InputError(Fault(str(folder), "", f"{what} that exists", "a new folder", mend))
        whole = folder.absolute()
        made = made_folders(whole.parent)
        part = whole.with_name(name_beside("part"))
        try:
            part.mkdir()
            _fill_folder(part, files)
            with signals_waiting():
                part.rename(whole)
                _written.append(folder)
        except BaseException:
            shutil.rmtree(part, ignore_errors=True)
            remove_folders(made, [])
            raise
        bring_to_disk([whole.parent])
    return tuple(sorted(folder / name for name in files))


@contextmanager
def appended(path: Path, begin: str) -> Iterator[Callable[[str], None]]:
    """Give a file its beginning, whole, and yield what appends a text to it.

    A text is on the disk when the call returns. The file may exist, and may be one this command has
    read: what is to stay of it stands in `begin`.

    Raises
    ------
    InputError
        If it is a link, a folder, a named pipe, a device or a socket, its folder is missing, or it
        cannot be written.
    """
    before = _before(path, force=True, own=True)
    if not _is_folder(path.parent):
        raise InputError(Fault(str(path.parent), "", "no such folder", "a folder that exists"))
    part = Staged.of(path, before)
    try:
        part.fill(begin, keep=False)
        with signals_waiting():
            rename_all([part])
            _written.append(path)
    finally:
        part.clear()
    bring_to_disk([path.parent])
    with open_to_append(path) as append:
        yield append


def _fill_folder(part: Path, files: Mapping[str, Content]) -> None:
    folders = {part: None}
    for name, data in files.items():
        path = part / name
        path.parent.mkdir(parents=True, exist_ok=True)
        folders[path.parent] = None
        write_out(path, data, 0o666)
    bring_to_disk(folders)


def _before(path: Path, force: bool, *, own: bool = False) -> os.stat_result | None:
    """Return what is at a path, None if nothing is; refuse what must not be replaced.

    A file of its own a command may have read.
    """
    with telling(path):
        try:
            status = path.lstat()
        except FileNotFoundError:
            return None
        kind = kind_of(status.st_mode)
        if kind == "a link":
            kind = f"a link to {path.readlink()}"
    if kind:
        allowed = "the name of a file" if kind == "a folder" else "a file, or a new name"
        raise InputError(Fault(str(path), "", kind, allowed))
    if is_input(status) and not own:
        told = "a file that was just read"
        raise InputError(Fault(str(path), "", told, "another file", "Choose another name."))
    if not force:
        raise InputError(Fault(str(path), "", "a file that exists", "a new file", REPLACE))
    return status


def _refuse_twins(before: Mapping[Path, os.stat_result | None]) -> None:
    """Refuse two outputs that go into one file, by one name or by two."""
    taken: set[object] = set()
    for path, status in before.items():
        number = None if status is None else (status.st_dev, status.st_ino)
        marks = {mark for mark in (path.parent.resolve() / path.name, number) if mark is not None}
        if marks & taken:
            told = "the file of another output"
            raise InputError(Fault(str(path), "", told, "a file of its own"))
        taken |= marks


def _is_folder(path: Path) -> bool:
    with telling(path):
        return path.is_dir()
