"""A press or tooling found by its id or its file, and whether the two go together."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from scaleup.errors import Fault, InputError
from scaleup.io.places import (
    Near,
    as_folder,
    inside,
    leaves,
    shown_path,
)
from scaleup.io.profile_files import (
    FORMATS,
    SINGULAR,
    Room,
    files_of,
    is_of,
    list_presses,
    list_tooling,
    read_press,
    read_tooling,
)
from scaleup.io.reading_gate import opened, sha256
from scaleup.model.profile import NamedProfile
from scaleup.text import nearest, printable

if TYPE_CHECKING:
    from scaleup.model.press import PressProfile, RotaryProfile
    from scaleup.model.tooling import ToolingProfile

Profile = TypeVar("Profile")
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


def require_id(name: str, where: str) -> str:
    """Return an id if a study can name a profile by it.

    Raises
    ------
    InputError
        If it cannot.

    Examples
    --------
    >>> require_id("line-4", "--name")
    'line-4'
    """
    if _ID.fullmatch(name):
        return name
    allowed = "up to 80 letters, digits, hyphens and underscores, a letter or digit first"
    raise InputError(Fault("", where, f'"{printable(name)}"', allowed))


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


def name_beside(
    named: NamedProfile[PressProfile] | NamedProfile[ToolingProfile], near: Near
) -> str:
    """Return what a study in the folder ``near`` calls a profile: its id, else its file.

    >>> name_beside(find_tooling("b-flat-10"), "examples/marram")
    'b-flat-10'
    """
    for room in FORMATS:
        path = files_of(room, near).get(named.id)
        if path is not None and shown_path(path, near) == named.shown:
            return named.id
    return named.shown


def is_tooling(reference: str, near: Near) -> bool:
    """Return whether a reference is to tooling, known by its id or by the format of its file."""
    folder = as_folder(near)
    if folder is not None:
        return is_of(folder / reference, "tooling")
    return reference in files_of("tooling", near)


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
    *,
    file: str = "",
) -> None:
    """Refuse tooling that a press does not take.

    ``file`` and ``where`` say in a fault who asked for it.

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
            file,
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
    from scaleup.model.press import RecordedProfile, RotaryProfile  # noqa: PLC0415

    given = loaded.profile
    if not isinstance(given, RecordedProfile | RotaryProfile) or given.record is None:
        return loaded
    profile = replace(given, log=log_of_press(given, folder))
    log = folder / given.record
    return replace(loaded, profile=profile, beside=((shown_path(log, near), sha256(log)),))


def _located(reference: str, room: Room, near: Near, file: str, where: str) -> Path:
    near = as_folder(near)
    if near is not None and ("/" in reference or "\\" in reference or reference.endswith(".toml")):
        return inside(near, reference, file, where)
    known = files_of(room, near) if _ID.fullmatch(reference) else {}
    if reference not in known:
        allowed = f"the id of a {SINGULAR[room]} profile"
        allowed += ", or a file inside the study folder" if near else ""
        found = f'the unknown {SINGULAR[room]} "{printable(reference)}"'
        hint = nearest(reference, known or files_of(room, near))
        raise InputError(Fault(file, where, found, allowed, hint))
    path = known[reference]
    if near is not None and path.is_relative_to(near) and leaves(path, near):
        return inside(near, str(path.relative_to(near)), file, where)
    return path
