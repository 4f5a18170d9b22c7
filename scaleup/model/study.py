"""A study: one product at one lab, its runs, and the production press asked about."""

from __future__ import annotations

from collections.abc import Iterable
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

    @property
    def ids(self) -> str:
        """Return the ids of press and tooling, as the column ``made on`` of a run table has them.

        >>> import scaleup
        >>> scaleup.read_study("examples/marram").production.ids
        'rotary-mid-19 b-flat-10'
        """
        return f"{self.press.id} {self.tooling.id}"

    def as_maker_of(self, runs: Iterable[Run]) -> ProductionSide:
        """Return the side at the mean speed of the runs that say they were made on it."""
        speeds = [run.speed for run in runs if run.maker == self.ids and run.speed is not None]
        speed = sum(speeds) / len(speeds) if speeds else self.speed
        return replace(self, speed=speed, precompression=None)

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
    """The production side as the study's file has it, on which its production runs were made but
    for those that say otherwise; the one asked about may be another."""
    target: Target
    inputs: tuple[tuple[str, str], ...]
    """File and SHA-256 of everything that was read."""
    transfer: TransferTerms = NOTHING_STATED
    """What lies between lab and plant, as far as the study states it."""
    experiments: Experiments = NO_COSTS
    """What could be measured next costs so much, as far as the study states it."""
    as_given: bool = False
    """Whether the user has confirmed that figures no published material has are in their units."""
    made_elsewhere: tuple[ProductionSide, ...] = ()
    """The other presses that production runs say they were made on, each at the mean speed of its
    runs."""

    @property
    def makers(self) -> dict[str, ProductionSide]:
        """Return the production sides that runs were made on, as `Run.maker` names them."""
        return {"production": self.own_production} | {
            each.ids: each for each in self.made_elsewhere
        }

    @property
    def asked_as_own(self) -> Study:
        """Return the study with the production side asked about as its own.

        Runs made on its own side until now then say so, and those made on the one asked about need
        not say it any more.
        """
        old, new = self.own_production, self.production
        if old.ids == new.ids:
            return self
        moved = {"production": old.ids, new.ids: ""}
        runs = tuple(
            replace(run, made_on=moved.get(run.maker, run.made_on)) for run in self.lab.runs
        )
        makers = {run.maker for run in runs}
        others = (old.as_maker_of(runs), *self.made_elsewhere)
        return replace(
            self,
            lab=replace(self.lab, runs=runs),
            own_production=new,
            made_elsewhere=tuple(each for each in others if each.ids in makers),
        )

    def confirmed(self, as_given: bool) -> Study:
        """Return the study, its figures taken as given if that is asked for."""
        return replace(self, as_given=True) if as_given else self
