"""The effective dwell of a press at any pressure and speed, for every draw, from a few pulses.

The logarithm of the effective dwell is smooth in the logarithms of pressure and speed, so a
polynomial through a few solved pulses carries it in between; the law then gives the state, and so
the tablet, exactly for that dwell.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.powder.charge import Charge
from scaleup.powder.compression import compress
from scaleup.powder.law import Powder
from scaleup.presses.press import Press, Setting

NODES_BELOW, NODES_ABOVE = 4, 3
NODE_TOLERANCE = 0.02
"""A node need not lie on a round pressure; it must know the one it has."""


@dataclass(frozen=True)
class PulseMap:
    """The dwell of one powder on a press at every pressure and speed of a range."""

    log_speeds: Array
    """ln(rpm) of the nodes, rising."""
    log_pressures: Array
    """ln(MPa) of the nodes, rising."""
    log_dwell: Array
    """ln(effective dwell/s) at the nodes, shape (speeds, pressures, draws)."""

    @property
    def floor(self) -> float:
        """Return the lowest pressure in MPa the map holds for."""
        return float(np.exp(self.log_pressures[0]))

    @property
    def ceiling(self) -> float:
        """Return the highest pressure in MPa the map holds for."""
        return float(np.exp(self.log_pressures[-1]))

    @property
    def speeds(self) -> tuple[float, float]:
        """Return the slowest and the fastest speed in rpm the map holds for."""
        return float(np.exp(self.log_speeds[0])), float(np.exp(self.log_speeds[-1]))

    def effective_dwell(self, pressure: Array, speed: float) -> Array:
        """Return the effective dwell in s at a speed in rpm.

        The pressure in MPa has shape () or (draws,), or (pressures, 1) for a column of pressures
        that every draw sees; the result has shape (draws,) or (pressures, draws).
        """
        across = lagrange(self.log_speeds, np.asarray(np.log(speed)))
        along = lagrange(self.log_pressures, np.log(pressure))
        at_speed = np.tensordot(across, self.log_dwell, axes=1)
        if along.shape[-1] == 1 or along.ndim == 1:
            shared: Array = np.exp(along.reshape(len(along), -1).T @ at_speed)
            return shared if along.ndim == 3 else shared[0]
        each: Array = np.exp(np.einsum("nd,nd->d", along, at_speed))
        return each


def lagrange(nodes: Array, target: Array) -> Array:
    """Return the weight of every node at targets of any shape, shape (nodes, *target)."""
    weights = np.ones((nodes.size, *np.shape(target)))
    for i, node in enumerate(nodes):
        for j, other in enumerate(nodes):
            if i != j:
                weights[i] *= (target - other) / (node - other)
    return weights


@dataclass(frozen=True)
class Span:
    """Pressures in MPa and speeds in rpm over which a map is to hold."""

    low_pressure: float
    middle_pressure: float
    """Where the map is to be exact."""
    high_pressure: float
    speeds: tuple[float, ...]

    @property
    def pressures(self) -> Array:
        """Return the pressures in MPa to solve at, even in their logarithm on either side."""
        below = np.geomspace(self.low_pressure, self.middle_pressure, NODES_BELOW)
        above = np.geomspace(self.middle_pressure, self.high_pressure, NODES_ABOVE)
        return np.concatenate([below, above[1:]])


def pulse_map(
    press: Press, powder: Powder, charge: Charge, pre_share: float, span: Span
) -> PulseMap:
    """Return the map of a press over a span, `pre_share` being the precompression's share."""

    def row(speed: float) -> Array:
        pulses = [
            compress(
                press,
                powder,
                charge,
                np.full(powder.draws, pressure),
                Setting(speed=speed),
                pre_share,
                NODE_TOLERANCE,
            )
            for pressure in span.pressures
        ]
        reached = np.log([pulse.peak_pressure for pulse in pulses])
        shift = _onto_nodes(reached, np.log(span.pressures))
        log_dwell = np.log([pulse.effective_dwell for pulse in pulses])
        on_nodes: Array = np.einsum("ijd,jd->id", shift, log_dwell)
        return on_nodes

    return PulseMap(
        np.log(span.speeds), np.log(span.pressures), np.stack([row(each) for each in span.speeds])
    )


def _onto_nodes(reached: Array, nodes: Array) -> Array:
    """Return what carries values from where each draw was solved to the nodes all draws share.

    `reached` has shape (nodes, draws); the result (to, from, draws) keeps the polynomial.
    """
    shift = np.ones((nodes.size, *reached.shape))
    for i in range(nodes.size):
        for j in range(nodes.size):
            if i != j:
                shift[:, i] *= (nodes[:, None] - reached[j]) / (reached[i] - reached[j])
    return shift
