"""Press and tooling files: where they lie, how they are listed without being checked, and read."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from scaleup.errors import Fault, InputError
from scaleup.io.places import Near, as_folder, profile_folders, shipped_profiles
from scaleup.io.toml import read_toml
from scaleup.text import meant, printable

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from scaleup.model.press import PressProfile
    from scaleup.model.tooling import ToolingProfile

Room = Literal["presses", "tooling"]

FORMATS: dict[Room, str] = {"presses": "scaleup press 1", "tooling": "scaleup tooling 1"}
SINGULAR: dict[Room, str] = {"presses": "press", "tooling": "tooling"}


@dataclass(frozen=True)
class ProfileRow:
    """One profile as its file has it, not yet checked."""

    id: str
    kind: str
    name: str
    description: str
    path: Path
    values: dict[str, Any] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()
    """Why the file could not be read; none if it could."""

    @property
    def reason(self) -> str:
        """Return in short why the file could not be read; empty if it could."""
        if not self.faults:
            return ""
        first, *others = self.faults
        place = f"{first.where}: " if first.where else ""
        more = f" (and {len(others)} more)" if others else ""
        return f"{place}{first.found}{more}"

    def takes(self, standard: str) -> bool:
        """Return whether the file says that a press takes tooling of a standard."""
        accepted = self.values.get("accepts")
        return isinstance(accepted, list) and standard in accepted


def list_presses(near: Near = None) -> tuple[ProfileRow, ...]:
    """Return every press that can be named, those beside a study first."""
    return tuple(_row(path, id_) for id_, path in files_of("presses", near).items())


def list_tooling(near: Near = None) -> tuple[ProfileRow, ...]:
    """Return every tooling that can be named, those beside a study first."""
    return tuple(_row(path, id_) for id_, path in files_of("tooling", near).items())


def own_checked(rows: tuple[ProfileRow, ...], room: Room) -> tuple[ProfileRow, ...]:
    """Return the same rows, those of one's own files checked.

    What is shipped is not, since that takes time and the tests do it.
    """
    shipped = shipped_profiles()
    read: Callable[[Path], object] = read_press if room == "presses" else read_tooling
    return tuple(row if row.path.is_relative_to(shipped) else _checked(row, read) for row in rows)


def _checked(row: ProfileRow, read: Callable[[Path], object]) -> ProfileRow:
    try:
        read(row.path)
    except InputError as error:
        return replace(row, faults=error.faults)
    return row


def _row(path: Path, id_: str) -> ProfileRow:
    try:
        data = read_toml(path)
    except InputError as error:
        return ProfileRow(id_, "", "", "", path, faults=error.faults)
    kind = data.get("kind", data.get("shape", ""))
    return ProfileRow(
        id_,
        _line(kind),
        _line(data.get("name", "")),
        _line(data.get("description", "")),
        path,
        data,
    )


def _line(text: object) -> str:
    return printable(" ".join(str(text).split()), 2000)


def files_of(room: Room, near: Near) -> dict[str, Path]:
    """Return every profile file by its id; one beside a study hides a shipped one of its id."""
    near = as_folder(near)
    paths: dict[str, Path] = {}
    for folder in profile_folders(near):
        for path in _files(folder, room, beside=near is not None and folder.is_relative_to(near)):
            paths.setdefault(path.stem, path)
    return paths


def _files(folder: Path, room: Room, *, beside: bool) -> Iterator[Path]:
    """Yield the profile files of a folder; beside a study they may lie loose among other files."""
    if beside:
        yield from (path for path in sorted(folder.glob("*.toml")) if is_of(path, room))
    yield from sorted((folder / room).glob("*.toml"))


def is_of(path: Path, room: Room) -> bool:
    """Return whether a file can be read and states the format of presses or of tooling."""
    try:
        return read_toml(path).get("format") == FORMATS[room]
    except InputError:
        return False


def read_press(path: Path, shown: str = "") -> PressProfile:
    """Return the press profile of a file.

    Raises
    ------
    InputError
        If the file is at fault.
    """
    from scaleup.io.schema import read_as  # noqa: PLC0415  start-up stays quick
    from scaleup.model.press import PRESS_KINDS  # noqa: PLC0415

    shown = shown or str(path)
    data = _table(path, "presses", shown)
    kind = data.get("kind")
    if not isinstance(kind, str) or kind not in PRESS_KINDS:
        found = "nothing" if kind is None else f'the unknown kind "{printable(str(kind))}"'
        allowed = ", ".join(f'"{known}"' for known in PRESS_KINDS)
        raise InputError(Fault(shown, "kind", found, allowed, meant(str(kind), PRESS_KINDS)))
    return read_as(PRESS_KINDS[kind], data, shown, format=FORMATS["presses"], kind=kind)


def read_tooling(path: Path, shown: str = "") -> ToolingProfile:
    """Return the tooling profile of a file.

    Raises
    ------
    InputError
        If the file is at fault.
    """
    from scaleup.io.schema import read_as  # noqa: PLC0415  start-up stays quick
    from scaleup.model.tooling import ToolingProfile  # noqa: PLC0415

    shown = shown or str(path)
    data = _table(path, "tooling", shown)
    return read_as(ToolingProfile, data, shown, format=FORMATS["tooling"])


def _table(path: Path, room: Room, shown: str) -> dict[str, Any]:
    """Return the table of a file, which must state the format of its kind."""
    data = read_toml(path, shown)
    given = data.get("format")
    if given == FORMATS[room]:
        return data
    found = "nothing" if given is None else f'"{printable(str(given))}"'
    mend = f'Begin the file with format = "{FORMATS[room]}".' if given is None else ""
    raise InputError(Fault(shown, "format", found, f'"{FORMATS[room]}"', mend))
