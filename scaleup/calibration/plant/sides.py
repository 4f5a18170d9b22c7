"""The two sides of a transfer as the terms need them."""

from __future__ import annotations

from dataclasses import dataclass, replace

from scaleup.model.study import LabSide, ProductionSide, Study
from scaleup.powder.tip import Tip, tip_from
from scaleup.short_repr import short_repr


@short_repr
@dataclass(frozen=True)
class BothSides:
    """A study and the production press asked about, with the tablet made on each."""

    study: Study
    production: ProductionSide
    lab_weight: float
    """mg."""
    production_weight: float
    """mg."""
    solid_fraction: float
    """Of the lab result, at which heights under load are taken."""

    def at(self, maker: str) -> BothSides:
        """Return the same with a press that made production runs, as `Run.maker` names it."""
        return replace(self, production=self.study.makers[maker])

    @property
    def one_press(self) -> bool:
        """Return whether one and the same press is on both sides."""
        return self.study.lab.press.id == self.production.press.id

    @property
    def one_blend(self) -> bool:
        """Return whether both sides press one blend; so it is on one press, unless stated."""
        stated = self.study.transfer.same_blend
        return self.one_press if stated is None else stated

    @property
    def one_feeder(self) -> bool:
        """Return whether both sides shear the blend alike on its way into the die."""
        return self.one_press

    def tip(self, side: LabSide | ProductionSide) -> Tip:
        """Return the tip of a side."""
        return tip_from(side.tooling.profile)

    def flow(self, speed: float) -> float:
        """Return how much powder the production press takes at a speed in rpm, in mg/s."""
        return self.production.output(speed) / 3600.0 * self.production_weight
