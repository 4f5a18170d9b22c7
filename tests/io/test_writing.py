"""The gate of every write: what it refuses, and what is left when it is stopped at any moment."""

from __future__ import annotations

import errno
import os
import signal
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from scaleup.errors import InputError
from scaleup.io import staging
from scaleup.io.reading_gate import forget_inputs, read_bytes
from scaleup.io.starter import write_starter
from scaleup.io.writing import write_folder, write_together, write_whole

pytestmark = pytest.mark.slow

OLD, NEW = b"old", b"new " * 5000


@pytest.fixture
def file(tmp_path: Path) -> Path:
    forget_inputs()
    path = tmp_path / "file.csv"
    path.write_bytes(OLD)
    return path


def names(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*")}


def refused(path: Path, said: str, *, force: bool = True) -> None:
    before = names(path.parent)
    with pytest.raises(InputError, match=said):
        write_whole(path, NEW, force)
    assert names(path.parent) == before


def test_what_exists_is_replaced_only_by_force(file: Path) -> None:
    refused(file, "a file that exists", force=False)
    assert file.read_bytes() == OLD
    write_whole(file, NEW, force=True)
    assert file.read_bytes() == NEW


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o444, 0o755])
def test_the_mode_of_what_is_replaced_is_kept(file: Path, mode: int) -> None:
    file.chmod(mode)
    write_whole(file, NEW, force=True)
    assert stat.S_IMODE(file.stat().st_mode) == mode


def test_a_new_file_has_the_mode_that_the_user_asks_of_new_files(tmp_path: Path) -> None:
    mask = os.umask(0o027)
    try:
        write_whole(tmp_path / "new.csv", NEW)
    finally:
        os.umask(mask)
    assert stat.S_IMODE((tmp_path / "new.csv").stat().st_mode) == 0o640


@pytest.mark.parametrize("force", [False, True])
def test_no_link_pipe_device_or_folder_is_replaced(file: Path, force: bool) -> None:
    folder = file.parent
    (folder / "link").symlink_to(file)
    (folder / "dangling").symlink_to(folder / "nowhere")
    (folder / "to a device").symlink_to("/dev/null")
    os.mkfifo(folder / "pipe")
    (folder / "folder").mkdir()
    refused(folder / "link", f"a link to {file}", force=force)
    refused(folder / "dangling", "a link to ", force=force)
    refused(folder / "to a device", "a link to /dev/null", force=force)
    refused(folder / "pipe", "a named pipe", force=force)
    refused(folder / "folder", "a folder", force=force)
    refused(Path("/dev/null"), "a device", force=force)
    assert file.read_bytes() == OLD
    assert stat.S_ISFIFO((folder / "pipe").stat().st_mode)


def test_an_input_is_never_replaced_by_whatever_name(file: Path) -> None:
    other = file.with_name("other name.csv")
    os.link(file, other)
    read_bytes(file, "", 100)
    for name in (file, other, file.parent / "." / file.name):
        refused(name, "a file that was just read")
    assert file.read_bytes() == OLD
    forget_inputs()
    write_whole(file, NEW, force=True)


def test_a_new_file_with_the_number_of_a_deleted_input_is_no_input(file: Path) -> None:
    read_bytes(file, "", 100)
    moved = file.with_name("moved.csv")
    file.rename(moved)  # the number stays, the name that was read is gone
    write_whole(moved, NEW, force=True)
    assert moved.read_bytes() == NEW


def test_two_outputs_of_one_file_are_refused(file: Path) -> None:
    twin = file.with_name("twin.csv")
    os.link(file, twin)
    (file.parent / "here").symlink_to(file.parent)
    for other in (twin, file.parent / "here" / file.name):
        with pytest.raises(InputError, match="the file of another output"):
            write_together({file: NEW, other: NEW}, force=True)
    new = file.parent / "new.csv"
    with pytest.raises(InputError, match="the file of another output"):
        write_together({new: NEW, file.parent / "here" / "new.csv": NEW})
    assert not new.exists()


def test_a_set_of_which_one_is_refused_is_not_written(file: Path) -> None:
    with pytest.raises(InputError, match="a file that exists"):
        write_together({file.with_name("a.csv"): NEW, file: NEW})
    assert names(file.parent) == {file.name}


FULL = """
import resource, signal, sys
from pathlib import Path
from scaleup.errors import InputError
from scaleup.io.writing import write_folder, write_together
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (6000, 6000))
room = Path(sys.argv[1])
small, large = b"new", b"x" * 7000
for write in (
    lambda: write_together({room / "a": small, room / "b": large}, force=True),
    lambda: write_together({room / "new/deep/a": small, room / "new/deep/b": large}),
    lambda: write_together({room / "one/a": small, room / "two/b": large}),
    lambda: write_folder(room / "study", {"a": small, "presses/b": large}),
):
    try:
        write()
        print("written")
    except InputError as error:
        print(error)
"""


def test_on_a_full_disk_nothing_is_left_of_a_set(tmp_path: Path) -> None:
    """A file larger than the limit of the process fails as on a full disk, in the midst of it."""
    (tmp_path / "a").write_bytes(OLD)
    done = subprocess.run(
        [sys.executable, "-c", FULL, tmp_path], capture_output=True, text=True, check=True
    )
    told = done.stdout.splitlines()
    assert len(told) == 4
    assert all(
        "found file too large; allowed: a place that can be written" in line for line in told
    )
    assert names(tmp_path) == {"a"}
    assert (tmp_path / "a").read_bytes() == OLD


@pytest.mark.parametrize("failing", [0, 1, 2])
def test_a_rename_that_fails_takes_back_those_before_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: int
) -> None:
    paths = [tmp_path / name for name in "abc"]
    paths[0].write_bytes(OLD)
    paths[2].write_bytes(OLD)
    replace = Path.replace
    done: list[Path] = []

    def broken(self: Path, target: Path) -> Path:
        if self.suffix == ".part":
            if len(done) == failing:
                raise OSError(errno.EIO, os.strerror(errno.EIO))
            done.append(target)
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", broken)
    with pytest.raises(InputError, match="input/output error"):
        write_together(dict.fromkeys(paths, NEW), force=True)
    assert names(tmp_path) == {"a", "c"}
    assert [path.read_bytes() for path in (paths[0], paths[2])] == [OLD, OLD]


def test_without_second_names_the_old_files_are_kept_as_copies(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(*_: object) -> None:
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "link", none)
    test_a_rename_that_fails_takes_back_those_before_it(tmp_path, monkeypatch, 2)


def test_a_signal_waits_until_a_set_is_renamed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    paths = [tmp_path / name for name in "ab"]
    replace = Path.replace

    def interrupted(self: Path, target: Path) -> Path:
        signal.raise_signal(signal.SIGINT)
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", interrupted)
    # A job in the background begins with SIGINT ignored.
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        with pytest.raises(KeyboardInterrupt):
            write_together(dict.fromkeys(paths, NEW))
        assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    finally:
        signal.signal(signal.SIGINT, before)
    assert [path.read_bytes() for path in paths] == [NEW, NEW]
    assert names(tmp_path) == {"a", "b"}


KILLED = """
import io, os, signal, sys
from pathlib import Path
from scaleup.io import staging, writing

room, what, number, after = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), sys.argv[4] == "after"
count = 0

def counted(function):
    def call(*given, **named):
        global count
        count = mine = count + 1  # one call may be made within another
        if mine == number and not after:
            os.kill(os.getpid(), signal.SIGKILL)
        try:
            return function(*given, **named)
        finally:
            if mine == number and after:
                os.kill(os.getpid(), signal.SIGKILL)
    return call

io.open = counted(io.open)  # by which a path would open, and empty, a file
for name in ("fsync", "link", "open", "fdopen", "chown"):
    setattr(os, name, counted(getattr(os, name)))
for name in ("replace", "rename", "mkdir", "unlink", "chmod", "rmdir"):
    setattr(Path, name, counted(getattr(Path, name)))
new = b"new " * 5000
writes = {
    "one": lambda: writing.write_whole(room / "a", new, force=True),
    "set": lambda: writing.write_together({room / n: new for n in "abc"}, force=True),
    "folder": lambda: writing.write_folder(
        room / "study", {"runs.csv": new, "presses/p.toml": new}
    ),
}
writes[what]()
print(count)
"""


def killed_at(room: Path, what: str, number: int, when: str) -> subprocess.CompletedProcess[str]:
    room.mkdir()
    for name in "ab":
        (room / name).write_bytes(OLD)
    return subprocess.run(
        [sys.executable, "-c", KILLED, room, what, str(number), when],
        capture_output=True, text=True, check=False,
    )  # fmt: skip


def state(path: Path) -> str:
    if not path.exists():
        return "none"
    data = path.read_bytes()
    assert data in {OLD, NEW}, "neither the old file nor the whole new one"
    return "old" if data == OLD else "new"


@pytest.mark.parametrize("what", ["one", "set", "folder"])
def test_killed_at_any_call_what_was_before_is_intact(tmp_path: Path, what: str) -> None:
    whole = killed_at(tmp_path / "whole", what, 10**6, "before")
    calls = int(whole.stdout)
    assert calls > 5, whole.stderr
    seen = set()
    for number in range(1, calls + 1):
        for when in ("before", "after"):
            room = tmp_path / f"{number} {when}"
            done = killed_at(room, what, number, when)
            assert done.returncode == -signal.SIGKILL, done.stderr
            seen.add(check_left(room, what))
    assert len(seen) >= 2  # before it, and after it at the least


def check_left(room: Path, what: str) -> tuple[str, ...]:
    """Return the states of the targets after a kill; what is lost would fail."""
    if what == "folder":
        files = [room / "study" / name for name in ("runs.csv", "presses/p.toml")]
        states = tuple(map(state, files))
        assert states in {("none", "none"), ("new", "new")}
        assert (state(room / "a"), state(room / "b")) == ("old", "old")
        return states
    targets = [room / name for name in ("a" if what == "one" else "abc")]
    states = tuple(map(state, targets))
    # In the order of the set: the new ones first.
    assert states == tuple(sorted(states, key=["new", "old", "none"].index))
    if "new" in states and states != ("new",) * len(states):
        kept = [path.read_bytes() for path in room.glob(".scaleup-*.old")]
        waiting = [path.read_bytes() for path in room.glob(".scaleup-*.part")]
        assert kept.count(OLD) >= min(states.count("new"), 2)  # the third had no old file
        assert waiting.count(NEW) == len(states) - states.count("new")
    assert {path.name for path in room.iterdir() if not path.name.startswith(".scaleup-")} <= set(
        "abc"
    )
    return states


def test_start_leaves_nothing_where_it_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "nowhere")
    fsync, calls = os.fsync, []

    def full(descriptor: int) -> None:
        calls.append(descriptor)
        if len(calls) % 3 == 0:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        fsync(descriptor)

    monkeypatch.setattr(os, "fsync", full)
    for folder in ("empty", "new", "deep/er/new"):
        calls.clear()
        with pytest.raises(InputError, match="no space left on device"):
            write_starter(tmp_path / folder)
    assert names(tmp_path) == {"empty", "link"}
    monkeypatch.undo()
    with pytest.raises(InputError, match="a link that exists"):
        write_starter(tmp_path / "link")
    assert [path.name for path in write_starter(tmp_path / "deep/er")][-1] == "study.toml"


def test_a_folder_that_comes_into_being_meanwhile_is_not_replaced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "study"
    write_out = staging.write_out

    def slow(path: Path, data: staging.Content, mode: int) -> None:
        target.mkdir(exist_ok=True)
        (target / "mine.txt").write_text("mine")
        write_out(path, data, mode)

    monkeypatch.setattr("scaleup.io.writing.write_out", slow)
    with pytest.raises(InputError):
        write_folder(target, {"runs.csv": NEW})
    assert names(tmp_path) == {"study", "study/mine.txt"}
