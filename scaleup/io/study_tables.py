"""The tables of ``study.toml``."""

from __future__ import annotations

from dataclasses import dataclass

from scaleup.model.blend import Blend
from scaleup.model.fields import (
    Checked,
    Description,
    Duration,
    LoadingRate,
    Name,
    Share,
    Speed,
)
from scaleup.model.target import Target


@dataclass(frozen=True, kw_only=True)
class LabTable(Checked):
    """The lab press, its tooling and its runs."""

    press: Name
    tooling: Name
    runs: Name
    reference: Name | None = None
    loading_rate: LoadingRate | None = None
    hold: Duration | None = None
    speed: Speed | None = None


@dataclass(frozen=True, kw_only=True)
class ProductionTable(Checked):
    """The production press asked about."""

    press: Name
    tooling: Name
    speed: Speed
    precompression: Share | None = None


NO_TARGET = Target()


@dataclass(frozen=True, kw_only=True)
class StudyTable(Checked):
    """The whole of ``study.toml``."""

    name: Name
    description: Description = ""
    blend: Blend
    lab: LabTable
    production: ProductionTable
    target: Target = NO_TARGET
