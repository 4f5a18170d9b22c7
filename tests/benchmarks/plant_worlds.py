"""What lies between a simulated lab and a simulated plant, drawn by code of its own.

The spreads are those the program states (`scaleup.model.transfer_terms`); how they act is written
out here once more: a press reads a force that is off by one factor, wall friction takes a share of
the pressure on the tip, gauges of thickness and weight are off by one amount, blend is sheared, and
the next batch is another lot.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from scaleup.model import transfer_terms as stated

GAUGE = 0.025
"""Standard deviation of ln of a force gauge without a certificate."""
FRICTION = 0.05
LOSS, RATE = (0.1, 0.6), (np.log(0.004), 0.5)
"""beta is even between the first two, ln(gamma dm) normal: blends whose shear was measured."""
LAB_SHEAR, PLANT_SHEAR = 2.0 ** (1 / 3) * 0.5 * 100.0, 30.0 ** (1 / 3) * 0.5 * 150.0
FEEDER_TURNS = 1.5 * 40.0 / 60.0
"""Paddle diameter in dm times turns in a second."""
HOLD_UP = 5e5
"""mg in the feeder."""


@dataclass(frozen=True)
class Between:
    """One lab and one plant."""

    lab_gauge: float = 1.0
    """True force over the force read, and so on."""
    plant_gauge: float = 1.0
    friction: float = 0.0
    shear: float = 1.0
    """Strength in production over the lab's, without a measured curve."""
    loss: float = 0.0
    rate: float = 0.0
    stay: float = 1.0
    lab_tester: float = 1.0
    plant_tester: float = 1.0
    thickness_off: float = 0.0
    """mm that the lab's gauge reads too much."""
    weight_off: float = 0.0
    """mg that the lab's balance reads too much."""
    density: float = 1.0
    """True density over that stated."""
    lot_strength: float = 1.0
    lot_pressure: float = 1.0

    def share(self, height: float, width: float, sides: int) -> float:
        """Return the mean pressure in the powder over that on the tip."""
        k = 4.0 * self.friction * height / width / sides
        return float(-np.expm1(-k) / k) if k else 1.0

    def sheared(self, turns: float, lab: float = LAB_SHEAR) -> float:
        """Return the strength at a K in dm over that at the lab's usual K."""

        def left(shear: float) -> float:
            return float(1.0 - self.loss * (1.0 - np.exp(-self.rate * shear)))

        return left(turns) / left(lab)

    def plant_factor(self, flow: float) -> float:
        """Return the strength in production over the lab's at a flow of powder in mg/s."""
        if not self.loss:
            return self.shear
        return self.sheared(PLANT_SHEAR + FEEDER_TURNS * self.stay * HOLD_UP / flow)


LAW_ALONE = Between()


def drawn_between(rng: np.random.Generator, times: float = 1.0) -> Between:
    """Return a lab and a plant where nothing was measured, the spreads so many times as wide."""

    def factor(spread: float) -> float:
        return float(np.exp(times * spread * rng.standard_normal()))

    def off(spread: float) -> float:
        return float(times * spread * rng.standard_normal())

    return Between(
        lab_gauge=factor(GAUGE),
        plant_gauge=factor(GAUGE),
        friction=FRICTION * factor(float(np.log(stated.FRICTION_FACTOR))),
        shear=stated.SHEAR_MIDDLE * factor(stated.SHEAR_SPREAD),
        lab_tester=factor(stated.TESTER_SPREAD),
        plant_tester=factor(stated.TESTER_SPREAD),
        thickness_off=off(stated.THICKNESS_SPREAD),
        weight_off=off(stated.WEIGHT_SPREAD),
        density=1.0 + off(stated.DENSITY_SPREAD),
        lot_strength=factor(stated.LOT_STRENGTH),
        lot_pressure=factor(stated.LOT_PRESSURE),
    )


CERTIFICATE, STEADY_STRENGTH, STEADY_PRESSURE = 0.01, 0.03, 0.01
"""Accuracy of a certified gauge (95 %), and spread of batches of a site that keeps them alike."""


def measured_between(rng: np.random.Generator) -> Between:
    """Return a lab and a plant that measured their terms."""

    def factor(spread: float) -> float:
        return float(np.exp(spread * rng.standard_normal()))

    whole = drawn_between(rng)
    return replace(
        whole,
        lab_gauge=factor(CERTIFICATE / 2.0),
        plant_gauge=factor(CERTIFICATE / 2.0),
        loss=float(rng.uniform(*LOSS)),
        rate=float(np.exp(rng.normal(*RATE))),
        stay=factor(float(np.log(2.0))),
        plant_tester=whole.lab_tester,
        lot_strength=factor(STEADY_STRENGTH),
        lot_pressure=factor(STEADY_PRESSURE),
    )
