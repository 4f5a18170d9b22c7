"""The tables of a file of published rate sensitivities."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from scaleup.io.quantities import Description, FieldFault, Name, Part, ShareOrZero, Velocity


class MaterialRow(Part):
    """One material."""

    name: Name
    sensitivity: ShareOrZero
    aliases: tuple[Name, ...] = ()


class MaterialsTable(Part):
    """A published table, measured between two punch velocities in mm/s."""

    format: Literal["scaleup materials 1"]
    source: Description
    slow: Velocity
    fast: Velocity
    relative_to: Literal["fast", "slow"]
    convention: Description
    material: tuple[MaterialRow, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _slow_below_fast(self) -> MaterialsTable:
        if self.slow >= self.fast:
            found = f"slow {self.slow:g} mm/s not below fast {self.fast:g} mm/s"
            raise FieldFault(found, "a slow velocity below the fast one", where="slow")
        return self
