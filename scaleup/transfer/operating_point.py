"""Pressure and speed on a production press: the pulse, and the tablet it makes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from scaleup.arrays import Array, Places
from scaleup.powder.compression import Pulse, compress
from scaleup.powder.tablet import elastic_recovery
from scaleup.presses.press import Setting
from scaleup.short_repr import short_repr

if TYPE_CHECKING:
    from scaleup.transfer.process_model import ProcessModel

SHOWN_TOLERANCE = 1e-4
"""Share by which the peak of a pulse that is shown may miss the pressure dialled."""
DENSEST = 0.9999
"""Solid fraction that no tablet is above."""
SHOWN_DRAWS = 800
"""Draws that the whole pulse is solved for; ends of bands need no more."""


def shown_of(draws: int) -> Places:
    """Return which of the draws whole pulses are solved for: evenly many of all."""
    return np.unique(np.linspace(0, draws - 1, min(draws, SHOWN_DRAWS)).astype(np.intp))


@short_repr
@dataclass(frozen=True)
class OperatingPoint:
    """Pressure and speed on a press; every figure drawn has shape (draws,).

    Figures of the whole pulse (`pulse`, `recovery`) have one value for each draw `shown`.
    """

    process: ProcessModel
    speed: float
    """rpm."""
    dialled: Array
    """The main pressure in MPa: one for all draws, one for each, or a column of shape (n, 1) of
    which every draw sees every one; figures then have shape (n, draws)."""

    @property
    def draws(self) -> int:
        """Return the number of draws."""
        return self.process.fit.powder.draws

    @cached_property
    def pressure(self) -> Array:
        """Return the main pressure in MPa."""
        shape = np.broadcast_shapes(self.dialled.shape, (self.draws,))
        return np.broadcast_to(self.dialled, shape).copy()

    @cached_property
    def effective_dwell(self) -> Array:
        """Return the effective dwell in s."""
        return self.process.effective_dwell(self.dialled, self.speed)

    @cached_property
    def acting(self) -> Array:
        """Return the pressure in MPa that densifies, as the lab's gauge would read it on the lab's
        press: gauges, wall friction and batch set it apart from what is dialled.
        """
        result: Array = self.pressure * np.exp(self.process.plant.log_pressure)
        return result

    @cached_property
    def static_pressure(self) -> Array:
        """Return the state of the powder in MPa."""
        return self.process.fit.powder.static_pressure(self.acting, self.effective_dwell)

    @cached_property
    def shown(self) -> Places:
        """Return which draws the whole pulse is solved for: evenly many of all."""
        return shown_of(self.draws)

    @cached_property
    def pulse(self) -> Pulse:
        """Return the whole pulse of the draws shown; a tablet needs only the dwell of the map.

        The tips move as the geometry says; where the press is logged, the times are the logs'.
        """
        process = self.process
        pulse = self._by_geometry
        if process.logged_figures is None:
            return pulse
        dwell, pressure = self.effective_dwell[self.shown], float(np.median(self.dialled))
        return process.logged_figures.as_logged(pulse, dwell, pressure, self.speed)

    @property
    def _by_geometry(self) -> Pulse:
        process = self.process
        return compress(
            process.press,
            process.fit.powder.chosen(self.shown),
            process.charge,
            self.acting[self.shown],
            Setting(speed=self.speed),
            process.pre_share,
            SHOWN_TOLERANCE,
            self.effective_dwell[self.shown],
        )

    @property
    def force(self) -> Array:
        """Return the main force in N."""
        return self.pressure * self.process.charge.tip_area

    @property
    def pre_force(self) -> Array:
        """Return the precompression force in N."""
        return self.force * self.process.pre_share

    @cached_property
    def as_lab_reads(self) -> Array:
        """Return the solid fraction of the ejected tablet as the lab's gauges would give it."""
        return self.process.fit.powder.solid_fraction(self.static_pressure)

    @cached_property
    def solid_fraction(self) -> Array:
        """Return the solid fraction of the ejected tablet."""
        true = self.as_lab_reads * np.exp(self.process.plant.log_solid_fraction)
        return np.minimum(true, DENSEST)

    @cached_property
    def wall(self) -> Array:
        """Return the wall height in mm of the ejected tablet."""
        return self.process.charge.wall(self.solid_fraction)

    @property
    def cup_fill(self) -> Array:
        """Return the least volume of the powder under load over that of both cups.

        At 1 the tips meet. Only tips with cups have it.
        """
        powder, charge = self.process.fit.powder, self.process.charge
        level = powder.hardening.densification(self.static_pressure)
        share = self.process.map.elastic_share(self.dialled, self.speed)
        separation = charge.separation(level + share * self.acting / powder.elastic)
        return separation / charge.cup_height + 1.0

    @property
    def under_load(self) -> Array:
        """Return about the distance in mm between the tip edges under load, at dead centre.

        Peak and final state are taken to meet: the powder of the solved pulse is a little thicker.
        """
        powder, charge = self.process.fit.powder, self.process.charge
        pores = (1.0 - self.solid_fraction) * np.exp(-self.acting / powder.elastic)
        thickness: Array = charge.solid_height / (1.0 - pores) - charge.cup_height
        return thickness

    @property
    def tip_separation(self) -> Array:
        """Return the distance in mm between the tip edges at dead centre, to set without load.

        That under load less the give of press and punches; below 0 the tips of an empty die would
        be pressed into each other. Under load pores are left to ``(1 - SF) exp(-P/K)`` of the
        volume, as in `under_load`.
        """
        under_load, give = self.under_load, self.process.side.press
        return under_load - give.compliance * self.force

    @property
    def thickness(self) -> Array:
        """Return the overall thickness in mm of the ejected tablet."""
        return self.process.side.tip.thickness(self.wall)

    @cached_property
    def strength(self) -> Array | None:
        """Return the tensile strength in MPa, if the runs have one."""
        curve = self.process.fit.strength
        if curve is None:
            return None
        factor = np.exp(self.process.plant.log_strength(self.speed))
        result: Array = curve.strength(self.as_lab_reads) * factor
        return result

    @property
    def breaking_force(self) -> Array | None:
        """Return the breaking force in N, if the runs have one."""
        if self.strength is None:
            return None
        return self.process.side.tip.breaking_force(self.strength, self.thickness)

    @property
    def ejection_stress(self) -> Array | None:
        """Return the ejection stress in MPa, if the runs have one."""
        line = self.process.fit.ejection
        return None if line is None else line.stress(self.acting)

    @property
    def ejection_force(self) -> Array | None:
        """Return the ejection force in N: stress times perimeter times wall height."""
        stress = self.ejection_stress
        return None if stress is None else stress * self.process.side.tip.perimeter * self.wall

    @property
    def most_recovery(self) -> Array:
        """Return what the elastic recovery is at most, without a pulse solved for it."""
        return elastic_recovery(self.process.side.tip.thickness(self.under_load), self.thickness)

    @property
    def most_opening(self) -> Array:
        """Return how far in mm the tips are open at most where a roller meets the powder."""
        charge, hardening = self.process.charge, self.process.fit.powder.hardening
        loose = charge.separation(hardening.densification(np.zeros(self.draws)))
        return loose - self.tip_separation

    @property
    def recovery(self) -> Array:
        """Return the axial elastic recovery of the draws shown, of the overall thickness."""
        tip = self.process.side.tip
        return elastic_recovery(tip.thickness(self.pulse.in_die), self.thickness[self.shown])
