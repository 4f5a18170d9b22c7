"""Where press and tooling profiles are found, and how they are listed without being checked."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from scaleup.errors import Fault, InputError
from scaleup.io.places import (
    Near,
    as_folder,
    inside,
    leaves,
    profile_folders,
    shipped_profiles,
    shown_path,
)
from scaleup.io.reading_gate import opened, sha256
from scaleup.io.toml import read_toml
from scaleup.model.profile import NamedProfile
from scaleup.text import meant, nearest, printable

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from scaleup.model.press import PressProfile, RotaryProfile
    from scaleup.model.tooling import ToolingProfile

Profile = TypeVar("Profile")
Room = Literal["presses", "tooling"]

FORMATS: dict[Room, str] = {"presses": "scaleup press 1", "tooling": "scaleup tooling 1"}
SINGULAR: dict[Room, str] = {"presses": "press", "tooling": "tooling"}
_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,79}", re.ASCII)


@dataclass(frozen=True)
class PressAtFault:
    """A press that is known but whose profile is at fault."""

    id: str
    faults: tuple[Fault, ...]

    @property
    def reason(self) -> str:
        """Return what is wrong with it."""
        return "; ".join(map(str, self.faults))


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
    return tuple(_row(path, id_) for id_, path in _every("presses", near).items())


def list_tooling(near: Near = None) -> tuple[ProfileRow, ...]:
    """Return every tooling that can be named, those beside a study first."""
    return tuple(_row(path, id_) for id_, path in _every("tooling", near).items())


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


def _every(room: Room, near: Near) -> dict[str, Path]:
    near = as_folder(near)
    paths: dict[str, Path] = {}
    for folder in profile_folders(near):
        for path in _files(folder, room, beside=near is not None and folder.is_relative_to(near)):
            paths.setdefault(path.stem, path)
    return paths


def _files(folder: Path, room: Room, *, beside: bool) -> Iterator[Path]:
    """Yield the profile files of a folder; beside a study they may lie loose among other files."""
    if beside:
        yield from (path for path in sorted(folder.glob("*.toml")) if _is_of(path, room))
    yield from sorted((folder / room).glob("*.toml"))


def _is_of(path: Path, room: Room) -> bool:
    try:
        return read_toml(path).get("format") == FORMATS[room]
    except InputError:
        return False


def find_press(
    reference: str, near: Near = None, *, file: str = "", where: str = "press"
) -> NamedProfile[PressProfile]:
    """Return a press by its id, or by a path inside the folder ``near``.

    ``file`` and ``where`` say in a fault who asked for it.

    Raises
    ------
    InputError
        If there is none of this id, if the path leaves the folder, or if the profile is at fault.

    Examples
    --------
    >>> find_press("rotary-mid-19").profile.stations
    19
    """
    path = _located(reference, "presses", near, file, where)
    loaded = _loaded(path, read_press(path, shown_path(path, near)), near)
    return _with_log(loaded, path.parent, near)


def find_tooling(
    reference: str, near: Near = None, *, file: str = "", where: str = "tooling"
) -> NamedProfile[ToolingProfile]:
    """Return tooling by its id, or by a path inside the folder ``near``; see ``find_press``.

    Raises
    ------
    InputError
        As of `find_press`.

    Examples
    --------
    >>> find_tooling("b-flat-10").profile.diameter
    10.0
    """
    path = _located(reference, "tooling", near, file, where)
    return _loaded(path, read_tooling(path, shown_path(path, near)), near)


def reference_of(name: str) -> tuple[str, Path | None]:
    """Return what a profile is found by and the folder beside which it lies, if it is a file.

    Raises
    ------
    InputError
        If it is named as a file that does not exist.

    Examples
    --------
    >>> reference_of("rotary-mid-19")
    ('rotary-mid-19', None)
    >>> reference_of("profiles/tooling/b-flat-10.toml")
    ('tooling/b-flat-10.toml', PosixPath('profiles'))
    """
    path = Path(name)
    if path.suffix != ".toml":
        return name, None
    opened(path, printable(name)).close()
    near = path.parent.parent if path.parent.name in FORMATS else path.parent
    return str(path.relative_to(near)), near


def is_tooling(reference: str, near: Near) -> bool:
    """Return whether a reference is to tooling, known by its id or by the format of its file."""
    folder = as_folder(near)
    if folder is not None:
        return _is_of(folder / reference, "tooling")
    return reference in _every("tooling", near)


def fitting_tooling(
    press: NamedProfile[PressProfile], reference: str | None = None, near: Near = None
) -> NamedProfile[ToolingProfile]:
    """Return the tooling asked for, else the first known that the press takes.

    Tooling beside the folder `near` is known as well, and comes first.

    Raises
    ------
    InputError
        If it does not fit the press, naming what does, or if none does.
    """
    accepted = press.profile.accepts
    fitting = [
        row.id
        for row in list_tooling(near)
        if not row.reason and str(row.values.get("standard")) in accepted
    ]
    known = ", ".join(fitting) or "none of the known tooling"
    if reference is None and not fitting:
        raise InputError(
            Fault(press.shown, "accepts", ", ".join(accepted), "a standard of known tooling")
        )
    loaded = find_tooling(reference or fitting[0], near, where="--tooling")
    if loaded.profile.standard in accepted:
        return loaded
    found = f"{loaded.id}, of standard {loaded.profile.standard}"
    raise InputError(Fault("", "--tooling", found, f"tooling that {press.id} takes: {known}"))


def presses_taking(
    standard: str, near: Near = None
) -> tuple[NamedProfile[RotaryProfile] | PressAtFault, ...]:
    """Return every rotary press that takes tooling of a standard, those at fault as such.

    A press whose file cannot be read at all is among them.

    Examples
    --------
    >>> [each.id for each in presses_taking("D")]
    ['rotary-large-23']
    """
    return tuple(
        PressAtFault(row.id, row.faults) if row.reason else press_or_fault(row.id, near)
        for row in list_presses(near)
        if row.reason or (row.kind == "rotary" and row.takes(standard))
    )


def press_or_fault(
    reference: str, near: Near = None, *, where: str = "press"
) -> NamedProfile[RotaryProfile] | PressAtFault:
    """Return a rotary press by its id or path, or what is wrong with its profile.

    Raises
    ------
    InputError
        If there is none of this id, if the path leaves the folder, or if it is of another kind.
    """
    path = _located(reference, "presses", near, "", where)
    try:
        press = find_press(reference, near, where=where)
    except InputError as error:
        return PressAtFault(path.stem, error.faults)
    return rotary_profile(press, where=where)


def require_fit(
    press: NamedProfile[PressProfile],
    tooling: NamedProfile[ToolingProfile],
    near: Near,
    where: str,
) -> None:
    """Refuse tooling that a press does not take.

    Raises
    ------
    InputError
        If it does not, naming the presses that take the tooling and the tooling the press takes.
    """
    accepted, standard = press.profile.accepts, tooling.profile.standard
    if standard in accepted:
        return
    presses = ", ".join(
        row.id
        for row in list_presses(near)
        if row.kind == press.profile.kind and row.takes(standard)
    )
    tools = ", ".join(
        row.id for row in list_tooling(near) if row.values.get("standard") in accepted
    )
    raise InputError(
        Fault(
            "",
            where,
            f"{press.id}, which takes tooling {', '.join(accepted)}, with {tooling.id}, which is "
            f"{standard}",
            f"a press that takes {standard} ({presses or 'none known'}), or tooling that "
            f"{press.id} takes ({tools or 'none known'})",
        )
    )


def rotary_profile(
    press: NamedProfile[PressProfile], *, file: str = "", where: str = "press"
) -> NamedProfile[RotaryProfile]:
    """Return the profile of a press that must be a rotary one.

    Raises
    ------
    InputError
        If it is of another kind, naming those that are.
    """
    from scaleup.model.press import RotaryProfile  # noqa: PLC0415

    profile = press.profile
    if isinstance(profile, RotaryProfile):
        return NamedProfile(press.id, profile, press.shown, press.sha256, press.beside)
    known = ", ".join(row.id for row in list_presses() if row.kind == "rotary")
    found = f"{press.id}, of kind {profile.kind}"
    raise InputError(Fault(file, where, found, f"a press of kind rotary: {known}"))


def _loaded(path: Path, profile: Profile, near: Near) -> NamedProfile[Profile]:
    return NamedProfile(path.stem, profile, shown_path(path, near), sha256(path))


def _with_log(
    loaded: NamedProfile[PressProfile], folder: Path, near: Near
) -> NamedProfile[PressProfile]:
    from scaleup.io.logs_beside import log_of_press  # noqa: PLC0415
    from scaleup.model.press import RecordedProfile  # noqa: PLC0415

    if not isinstance(loaded.profile, RecordedProfile):
        return loaded
    profile = replace(loaded.profile, log=log_of_press(loaded.profile, folder))
    log = folder / loaded.profile.record
    return replace(loaded, profile=profile, beside=((shown_path(log, near), sha256(log)),))


def _located(reference: str, room: Room, near: Near, file: str, where: str) -> Path:
    near = as_folder(near)
    if near is not None and ("/" in reference or "\\" in reference or reference.endswith(".toml")):
        return inside(near, reference, file, where)
    known = _every(room, near) if _ID.fullmatch(reference) else {}
    if reference not in known:
        allowed = f"the id of a {SINGULAR[room]} profile"
        allowed += ", or a file inside the study folder" if near else ""
        found = f'the unknown {SINGULAR[room]} "{printable(reference)}"'
        hint = nearest(reference, known or _every(room, near))
        raise InputError(Fault(file, where, found, allowed, hint))
    path = known[reference]
    if near is not None and path.is_relative_to(near) and leaves(path, near):
        return inside(near, str(path.relative_to(near)), file, where)
    return path


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
    data = read_toml(path, shown)
    _check_format(data, "presses", shown)
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
    data = read_toml(path, shown)
    _check_format(data, "tooling", shown)
    return read_as(ToolingProfile, data, shown, format=FORMATS["tooling"])


def _check_format(data: dict[str, Any], room: Room, shown: str) -> None:
    if data.get("format") == FORMATS[room]:
        return
    given = data.get("format")
    found = "nothing" if given is None else f'"{printable(str(given))}"'
    mend = f'Begin the file with format = "{FORMATS[room]}".' if given is None else ""
    raise InputError(Fault(shown, "format", found, f'"{FORMATS[room]}"', mend))
