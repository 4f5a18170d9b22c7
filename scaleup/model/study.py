"""A study: one product at one lab, its runs, and the production press asked about."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from scaleup.model.blend import Blend
from scaleup.model.checked import Checked
from scaleup.model.experiments import NO_COSTS, Experiments
from scaleup.model.fields import Duration, LoadingRate, Share, Speed
from scaleup.model.press import PressProfile, RotaryProfile
from scaleup.model.profile import NamedProfile
from scaleup.model.run import Run
from scaleup.model.target import Target
from scaleup.model.tooling import ToolingProfile
from scaleup.model.transfer_terms import NOTHING_STATED, TransferTerms
from scaleup.short_repr import short_repr
from scaleup.shown import Shown


@dataclass(frozen=True)
class RunDefaults(Checked):
    """Lab settings of runs whose table has no such column, in N/s, s and rpm."""

    loading_rate: LoadingRate | None = None
    hold: Duration | None = None
    speed: Speed | None = None


@short_repr
@dataclass(frozen=True)
class LabSide:
    """The lab press with its tooling, and every run of the table, production runs included."""

    press: NamedProfile[PressProfile]
    tooling: NamedProfile[ToolingProfile]
    runs: tuple[Run, ...]
    reference: str | None = None
    defaults: RunDefaults = RunDefaults()
    runs_file: str = "runs.csv"
    """The run table as named in the study."""
    counted: Literal["line", "row"] = "line"
    """What a run of the table is counted by: the lines of a file, or the rows of a DataFrame."""

    @property
    def lab_runs(self) -> tuple[Run, ...]:
        """Return the runs made on the lab press."""
        return tuple(run for run in self.runs if run.press == "lab")


@short_repr
@dataclass(frozen=True)
class ProductionSide(Checked):
    """The production press asked about; ``speed`` in rpm."""

    press: NamedProfile[RotaryProfile]
    tooling: NamedProfile[ToolingProfile]
    speed: Speed
    precompression: Share | None = None
    """Share of the main force; None is no precompression."""

    def output(self, speed: float) -> float:
        """Return tablets per hour at a turret speed in rpm."""
        return self.press.profile.output(speed)


@short_repr
@dataclass(frozen=True)
class Study(Shown):
    """Everything one study says, checked by whoever reads or makes it.

    Examples
    --------
    >>> import scaleup
    >>> scaleup.read_study("examples/marram").target.strength
    2.0
    """

    name: str
    description: str
    folder: str
    """Where its files lie; empty if it was made without."""
    blend: Blend
    lab: LabSide
    production: ProductionSide
    own_production: ProductionSide
    """The production side as the study's file has it, on which its production runs were made; the
    one asked about may be another."""
    target: Target
    inputs: tuple[tuple[str, str], ...]
    """File and SHA-256 of everything that was read."""
    transfer: TransferTerms = NOTHING_STATED
    """What lies between lab and plant, as far as the study states it."""
    experiments: Experiments = NO_COSTS
    """What could be measured next costs so much, as far as the study states it."""
    as_given: bool = False
    """Whether the user has confirmed that figures no published material has are in their units."""

    def confirmed(self, as_given: bool) -> Study:
        """Return the study, its figures taken as given if that is asked for."""
        return replace(self, as_given=True) if as_given else self
