"""A study: one product at one lab, its runs, and the production press asked about."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from scaleup.io.library import LoadedProfile
from scaleup.model.run import Run
from scaleup.short_repr import short_repr

if TYPE_CHECKING:
    from scaleup.io.press_profiles import PressProfile, RotaryProfile
    from scaleup.io.study_tables import ComponentTable, TargetTable
    from scaleup.io.tooling_profiles import ToolingProfile


@dataclass(frozen=True)
class Blend:
    """What is compressed; ``true_density`` in mg/mm³."""

    true_density: float
    components: tuple[ComponentTable, ...] = ()
    rate_material: str | None = None
    """The published material whose rate sensitivity the blend may borrow."""
    hardening: str | None = None
    """The one hardening form to fit; None averages over all."""
    density_from_components: bool = False
    """Whether the true density follows from the components instead of being stated."""


@dataclass(frozen=True)
class RunDefaults:
    """Lab settings of runs whose table has no such column, in N/s, s and rpm."""

    loading_rate: float | None = None
    hold: float | None = None
    speed: float | None = None


@short_repr
@dataclass(frozen=True)
class LabSide:
    """The lab press with its tooling, and every run of the table, production runs included."""

    press: LoadedProfile[PressProfile]
    tooling: LoadedProfile[ToolingProfile]
    runs: tuple[Run, ...]
    reference: str | None = None
    defaults: RunDefaults = RunDefaults()
    runs_file: str = "runs.csv"
    """The run table as named in the study."""

    @property
    def lab_runs(self) -> tuple[Run, ...]:
        """Return the runs made on the lab press."""
        return tuple(run for run in self.runs if run.press == "lab")


@short_repr
@dataclass(frozen=True)
class ProductionSide:
    """The production press asked about; ``speed`` in rpm."""

    press: LoadedProfile[RotaryProfile]
    tooling: LoadedProfile[ToolingProfile]
    speed: float
    precompression: float | None = None
    """Share of the main force; None is no precompression."""

    def output(self, speed: float) -> float:
        """Return tablets per hour: ``stations * rpm * 60 * tablets per station and turn``."""
        press = self.press.model
        return press.stations * speed * 60.0 * press.tablets_per_station_per_turn


@short_repr
@dataclass(frozen=True)
class Study:
    """Everything one study says, read and checked.

    Examples
    --------
    >>> import scaleup
    >>> scaleup.read_study("examples/marram").target.strength
    2.0
    """

    name: str
    description: str
    folder: Path
    blend: Blend
    lab: LabSide
    production: ProductionSide
    own_production: ProductionSide
    """The production side as the study's file has it, on which its production runs were made; the
    one asked about may be another."""
    target: TargetTable
    inputs: tuple[tuple[str, str], ...]
    """File and SHA-256 of everything that was read."""
    as_given: bool = False
    """Whether the user has confirmed that figures no published material has are in their units."""

    def confirmed(self, as_given: bool) -> Study:
        """Return the study, its figures taken as given if that is asked for."""
        return replace(self, as_given=True) if as_given else self
