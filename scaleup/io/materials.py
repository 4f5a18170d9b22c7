"""Published rate sensitivities of materials."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from scaleup.errors import Fault, InputError
from scaleup.io.places import profile_folders, shown_path
from scaleup.io.reading_gate import sha256
from scaleup.io.text import printable
from scaleup.io.toml import nearest, read_toml, validate

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
    from scaleup.io.material_tables import MaterialsTable  # noqa: PLC0415  start-up stays quick

    shown = shown_path(path)
    table = validate(MaterialsTable, read_toml(path, shown), shown)
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
