"""One run: a compressed tablet, or the mean of a few."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

PressName = Literal["lab", "production"]


@dataclass(frozen=True)
class Run:
    """One row of a run table in mm, N, s, mg and rpm; what is blank in the table is None.

    Examples
    --------
    >>> Run("M4", force=12090.0, hold=1.0, weight=397.7, thickness=3.94).press
    'lab'
    """

    name: str
    force: float
    press: PressName = "lab"
    hold: float | None = None
    loading_rate: float | None = None
    speed: float | None = None
    precompression: float | None = None
    weight: float | None = None
    thickness: float | None = None
    in_die_thickness: float | None = None
    diameter: float | None = None
    breaking_force: float | None = None
    ejection_force: float | None = None
    fill_depth: float | None = None
    tablets: int = 1
    """How many tablets the row is the mean of."""
    note: str = ""
    record: str = ""
    """File of a force log beside the study; empty if none was logged."""
    compression: int | None = None
    """Which compression of the log, counted from 1; None if it has only one."""
    line: int = 0
    """Line of the file, counted from 1."""
