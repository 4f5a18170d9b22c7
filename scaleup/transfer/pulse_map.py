"""The pulse of a press at any pressure and speed, for every draw, from a few solved pulses.

The logarithms of the times of a pulse are smooth in the logarithms of pressure and speed, so a
polynomial through a few solved pulses carries them in between; the law then gives the state, and
so the tablet, exactly for that dwell.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.powder.charge import Charge
from scaleup.powder.compression import Pulse, compress
from scaleup.powder.law import Powder
from scaleup.presses.press import Press, Setting

TIMES = ("effective_dwell", "time_above_90", "contact_time", "strain_rate")
NODES_EACH_SIDE = 3
NODE_TOLERANCE = 0.02
"""A node need not lie on a round pressure; it must know the one it has."""


@dataclass(frozen=True)
class Row:
    """Pulses solved at one speed; log_pressure and every column have shape (nodes, draws)."""

    speed: float
    log_pressure: Array
    log_times: dict[str, Array]
    lag: Array
    """D that the law gives at the peak less D of the tips at dead centre."""


@dataclass(frozen=True)
class PulseMap:
    """A press with a charge of one powder, known at every pressure and speed of a range."""

    press: Press
    powder: Powder
    charge: Charge
    rows: tuple[Row, ...]

    @property
    def compliance(self) -> float:
        """Return by how many mm the tips give way for each MPa."""
        return self.press.compliance * self.charge.tip_area

    @property
    def floor(self) -> float:
        """Return the lowest pressure in MPa the map holds for."""
        return float(np.exp(self.rows[0].log_pressure[0].min()))

    @property
    def ceiling(self) -> float:
        """Return the highest pressure in MPa the map holds for."""
        return float(np.exp(self.rows[0].log_pressure[-1].max()))

    def at(self, pressure: Array, speed: float) -> Pulse:
        """Return the pulse with this peak pressure in MPa, shape (draws,), at a speed in rpm."""
        target = np.log(pressure)
        speeds = np.log([row.speed for row in self.rows])
        across = _lagrange(speeds[:, None], np.array([np.log(speed)]))[:, 0]
        columns = {
            name: np.exp(
                sum(
                    share * _carried(row.log_pressure, row.log_times[name], target)
                    for share, row in zip(across, self.rows, strict=True)
                )
            )
            for name in TIMES
        }
        lag = sum(
            share * _carried(row.log_pressure, row.lag, target)
            for share, row in zip(across, self.rows, strict=True)
        )
        state = self.powder.static_pressure(pressure, columns["effective_dwell"])
        in_die = self.charge.separation(_law_level(self.powder, state, pressure) - lag)
        return Pulse(
            peak_pressure=pressure,
            static_pressure=state,
            separation=in_die - self.compliance * pressure,
            in_die=in_die,
            **columns,
        )


def _law_level(powder: Powder, state: Array, pressure: Array) -> Array:
    """Return D of the law for the final state with the peak pressure still on."""
    level: Array = powder.hardening.densification(state) + pressure / powder.elastic
    return level


def _lagrange(nodes: Array, target: Array) -> Array:
    """Return the weight of each node, nodes (n, draws) and target (draws,), shape (n, draws)."""
    weights = np.ones(np.broadcast_shapes(nodes.shape, target.shape))
    for i in range(len(nodes)):
        for j in range(len(nodes)):
            if i != j:
                weights[i] *= (target - nodes[j]) / (nodes[i] - nodes[j])
    return weights


def _carried(nodes: Array, values: Array, target: Array) -> Array:
    result: Array = np.sum(_lagrange(nodes, target) * values, axis=0)
    return result


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
        below = np.geomspace(self.low_pressure, self.middle_pressure, NODES_EACH_SIDE)
        above = np.geomspace(self.middle_pressure, self.high_pressure, NODES_EACH_SIDE)
        return np.concatenate([below, above[1:]])


def pulse_map(
    press: Press, powder: Powder, charge: Charge, pre_share: float, span: Span
) -> PulseMap:
    """Return the map of a press over a span, `pre_share` being the precompression's share."""
    rows = tuple(
        _row(press, powder, charge, pre_share, span.pressures, speed) for speed in span.speeds
    )
    return PulseMap(press, powder, charge, rows)


def _row(
    press: Press, powder: Powder, charge: Charge, pre_share: float, pressures: Array, speed: float
) -> Row:
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
        for pressure in pressures
    ]
    return Row(
        speed=speed,
        log_pressure=np.log([pulse.peak_pressure for pulse in pulses]),
        log_times={name: np.log([getattr(pulse, name) for pulse in pulses]) for name in TIMES},
        lag=np.stack(
            [
                _law_level(powder, pulse.static_pressure, pulse.peak_pressure)
                - charge.densification(pulse.in_die)
                for pulse in pulses
            ]
        ),
    )
