"""Files written out beside their targets, and then renamed into their places."""

from __future__ import annotations

import contextlib
import os
import secrets
import signal
import stat
import threading
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

from scaleup.errors import Fault, InputError
from scaleup.io.reading_gate import pieces_of

Content = bytes | str | Path
"""What a file is to hold: bytes, text that is written as UTF-8, or a file it is copied from."""
WAITING = [
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
]
"""Signals that wait while a set is renamed."""


@dataclass
class Staged:
    """A file written out beside its target."""

    target: Path
    before: os.stat_result | None
    part: Path
    old: Path
    """Where the file that was there is kept until the whole set is in its place."""

    @classmethod
    def of(cls, target: Path, before: os.stat_result | None) -> Staged:
        return cls(
            target,
            before,
            target.with_name(name_beside("part")),
            target.with_name(name_beside("old")),
        )

    def fill(self, data: Content, *, keep: bool) -> None:
        with telling(self.target):
            if self.before is None:
                write_out(self.part, data, 0o666)
                return
            write_out(self.part, data, 0o600)
            _like_before(self.part, self.before)
            if keep:
                self._keep()

    def _keep(self) -> None:
        try:
            os.link(self.target, self.old)
        except OSError:  # a file system without a second name for a file
            write_out(self.old, self.target, 0o600)
            if self.before is not None:
                _like_before(self.old, self.before)

    def take_back(self) -> None:
        if self.before is None:
            self.target.unlink()
        else:
            self.old.replace(self.target)

    def clear(self) -> None:
        for path in (self.part, self.old):
            with contextlib.suppress(OSError):
                path.unlink()


def write_out(path: Path, data: Content, mode: int) -> None:
    """Write a new file and bring it to the disk."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    with os.fdopen(os.open(path, flags, mode), "wb") as file:
        if isinstance(data, Path):
            for piece in pieces_of(data):
                file.write(piece)
        else:
            file.write(data.encode() if isinstance(data, str) else data)
        file.flush()
        os.fsync(file.fileno())


@contextlib.contextmanager
def open_to_append(path: Path) -> Iterator[Callable[[str], None]]:
    """Yield what appends a text to a file and brings it to the disk."""
    flags = os.O_WRONLY | os.O_APPEND | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
    with telling(path):
        file = os.fdopen(os.open(path, flags), "ab")

    def append(text: str) -> None:
        with telling(path), signals_waiting():
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())

    with file:
        yield append


def _like_before(path: Path, before: os.stat_result) -> None:
    """Give a file the mode, and where that is allowed the owner, of the one it replaces."""
    if hasattr(os, "chown"):
        with contextlib.suppress(OSError):
            os.chown(path, before.st_uid, before.st_gid)
    path.chmod(stat.S_IMODE(before.st_mode) & 0o777)


def rename_all(staged: list[Staged]) -> None:
    done: list[Staged] = []
    try:
        for each in staged:
            with telling(each.target):
                each.part.replace(each.target)
            done.append(each)
    except BaseException as error:
        stuck = [each.target for each in reversed(done) if not _taken_back(each)]
        if stuck:
            told = "a set of which this file is new and cannot be taken back"
            faults = [Fault(str(path), "", told, "a place that can be written") for path in stuck]
            known = error.faults if isinstance(error, InputError) else ()
            raise InputError([*known, *faults]) from error
        raise


def _taken_back(each: Staged) -> bool:
    try:
        each.take_back()
    except OSError:
        return False
    return True


@contextlib.contextmanager
def signals_waiting() -> Iterator[None]:
    """Let signals wait until all is renamed; outside the main thread nothing can be done."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []

    def note(number: int, _: FrameType | None) -> None:
        came.append(number)

    before = {each: signal.signal(each, note) for each in WAITING}
    try:
        yield
    finally:
        for each, handler in before.items():
            signal.signal(each, signal.SIG_DFL if handler is None else handler)
        if came:
            signal.raise_signal(came[0])


@contextlib.contextmanager
def telling(path: Path) -> Iterator[None]:
    try:
        yield
    except (OSError, ValueError) as error:  # the latter where no file can have the name
        reason = (getattr(error, "strerror", None) or "an unwritable place").lower()
        raise InputError(Fault(str(path), "", reason, "a place that can be written")) from None


def name_beside(ending: str) -> str:
    return f".scaleup-{secrets.token_hex(6)}.{ending}"


def made_folders(folder: Path) -> list[Path]:
    """Make a folder and those it lies in; return the ones that were not there, outermost first."""
    missing: list[Path] = []
    for each in (folder, *folder.parents):
        if os.path.lexists(each):
            break
        missing.insert(0, each)
    with telling(folder):
        for number, each in enumerate(missing):
            try:
                each.mkdir()
            except OSError:
                remove_folders(missing[:number], [])
                raise
    return missing


def remove_folders(made: list[Path], staged: list[Staged]) -> None:
    for each in staged:
        each.clear()
    for folder in reversed(made):
        with contextlib.suppress(OSError):  # somebody else has put something there
            folder.rmdir()


def bring_to_disk(folders: Iterable[Path]) -> None:
    """Bring the names in some folders to the disk, where the system can."""
    for folder in folders:
        with contextlib.suppress(OSError):
            descriptor = os.open(folder, os.O_RDONLY)
            try:
                os.fsync(descriptor)
            finally:
                os.close(descriptor)
