"""Published rate sensitivities of materials."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Literal

from scaleup.errors import Fault, InputError, field_fault
from scaleup.io.places import profile_folders, shown_path
from scaleup.io.reading_gate import sha256
from scaleup.io.toml import read_toml
from scaleup.model.checked import Checked
from scaleup.model.fields import Description, Name, Several, ShareOrZero, Velocity
from scaleup.text import nearest, printable

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True)
class Material:
    """A published strain-rate sensitivity: a share between two punch velocities in mm/s."""

    name: str
    sensitivity: float
    slow: float
    fast: float
    relative_to: Literal["fast", "slow"]
    """The yield pressure by which the difference is divided."""
    convention: str
    """How ``relative_to`` is known."""
    source: str
    aliases: tuple[str, ...] = ()
    file: str = ""
    sha256: str = ""


@dataclass(frozen=True, kw_only=True)
class _Row(Checked):
    """One material."""

    name: Name
    sensitivity: ShareOrZero
    aliases: tuple[Name, ...] = ()


@dataclass(frozen=True, kw_only=True)
class _Table(Checked):
    """A published table, measured between two punch velocities in mm/s."""

    source: Description
    slow: Velocity
    fast: Velocity
    relative_to: Literal["fast", "slow"]
    convention: Description
    material: Annotated[tuple[_Row, ...], Several("", ())]

    def check(self) -> None:
        """Refuse velocities in the wrong order."""
        if self.slow >= self.fast:
            found = f"slow {self.slow:g} mm/s not below fast {self.fast:g} mm/s"
            raise field_fault(found, "a slow velocity below the fast one", where="slow")


def materials() -> tuple[Material, ...]:
    """Return every material of the shipped tables and of the user's own.

    Raises
    ------
    InputError
        If a table is at fault.
    """
    files = [
        path
        for folder in profile_folders()
        for path in sorted((folder / "materials").glob("*.toml"))
    ]
    return tuple(material for path in files for material in _read(path))


def _read(path: Path) -> list[Material]:
    from scaleup.io.schema import read_as  # noqa: PLC0415  start-up stays quick

    shown = shown_path(path)
    table = read_as(_Table, read_toml(path, shown), shown, format="scaleup materials 1")
    digest = sha256(path)
    return [
        Material(
            row.name,
            row.sensitivity,
            table.slow,
            table.fast,
            table.relative_to,
            table.convention,
            table.source,
            row.aliases,
            shown,
            digest,
        )
        for row in table.material
    ]


def material(name: str, file: str = "", where: str = "material") -> Material:
    """Return a material by its name or one of its other names, letter case aside.

    Raises
    ------
    InputError
        If no table has it; the fault names the nearest.
    """
    wanted = " ".join(name.lower().split())
    names = {
        known.lower(): item
        for item in reversed(materials())
        for known in (item.name, *item.aliases)
    }
    if wanted not in names:
        raise InputError(
            Fault(
                file,
                where,
                f'the unknown material "{printable(name)}"',
                "a material with a published rate sensitivity",
                nearest(wanted, names),
            )
        )
    return names[wanted]
