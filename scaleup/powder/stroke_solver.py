"""The law integrated through a prescribed path of the tips, for many draws at once.

Every step uses the exact solution of the law with the logarithm of its rate made linear in time
and in state. That keeps the step stable where the equation is stiffest (1/m is 12 to 50) and
costs no iteration. An implicit Runge-Kutta solution is its slow twin in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from scaleup.arrays import Array
from scaleup.powder.charge import Charge
from scaleup.powder.law import Powder
from scaleup.presses.pulse_shapes import Stroke

APPROACH_STEPS = 80
FLAT_STEPS = 32
EXIT_STEPS = 24
# The integration starts and ends at about this share of the peak pressure; with m up to 0.1 what
# lies outside is below 1e-4 of the effective dwell.
EDGE_SHARE = 0.3
LEAST_LEVEL, MOST_LEVEL = 1e-6, 30.0  # D of trial pulses that no powder has stays finite
NEWTON = 2  # steps of Newton's method for the tips that give way, from the level a moment before
MOST_EXPONENT = 400.0  # exp of it times any share is finite, and beyond it one does not count
TINY = 1e-9  # MPa, or an exponent: stands for "none" where a logarithm is taken


@dataclass(frozen=True)
class Trajectory:
    """Pressure and state through one compression."""

    time: Array
    """s from dead centre, shape (times,)."""
    log_pressure: Array
    """Natural logarithm of the pressure in MPa, shape (times, draws)."""
    static_pressure: Array
    """State at the end in MPa, shape (draws,)."""
    rate_stress: Array
    """Pressure over state where the integration starts, shape (draws,)."""


@dataclass(frozen=True)
class Squeeze:
    """Powder between two tips that follow a stroke: all that one compression needs."""

    powder: Powder
    charge: Charge
    stroke: Stroke
    compliance: float
    """mm by which the tips give way for each MPa."""
    weakening: Array
    """Factor on pressure, see `Powder.weakening`."""
    before: Array
    """State left by an earlier pulse in MPa, shape (draws,)."""

    def rest(self) -> Array:
        """Return D of the unloaded powder before this compression."""
        return self.powder.hardening.densification(self.before)

    @cached_property
    def give(self) -> Array:
        """Return by how many mm the tips give way for each unit of D under load."""
        return self.compliance * self.powder.elastic

    def loaded(self, room: Array, rest: Array, guess: Array) -> tuple[Array, Array]:
        """Return D under load with the tips set to this room for pores, and powder of D at rest.

        The second array is the pressure in MPa lost for each unit of D that flows at fixed tips.
        The tips give way by compliance times K (D - rest); Newton's method on that balance, whose
        residual is convex and falling, so a guess that is not above D approaches it from below and
        cannot leave the range of the logarithm.
        """
        if self.compliance == 0.0:
            return self.charge.densification_with(room), self.powder.elastic
        solid, give = self.charge.solid_height, self.give
        offset = room + solid - give * rest
        level = guess
        for _ in range(NEWTON):
            pores = np.exp(-level)
            share = 1.0 - pores
            height = solid / share
            spread = height * pores / share
            level = level + (height - offset - give * level) / (spread + give)
            level = np.clip(level, LEAST_LEVEL, MOST_LEVEL)
        return level, self.powder.elastic * spread / (spread + give)


def integrate(squeeze: Squeeze, separation: Array, expected: Array) -> Trajectory:
    """Return the compression with the tips set to a separation in mm at dead centre, unloaded.

    `expected` is about the peak pressure in MPa, shape (draws,); it only places the time steps.

    Examples
    --------
    >>> from scaleup.powder.hardening import Heckel
    >>> from scaleup.presses.rotary import RollerContact
    >>> one, soft = np.ones(1), Heckel(np.array([120.0]), np.array([0.6]))
    >>> powder = Powder(soft, 0.05 * one, 400.0 * one, 0.0 * one, 0.0 * one)
    >>> stroke = RollerContact(410.0, 125.0, 15.875, 9.525).stroke(40.0)
    >>> gap = Squeeze(powder, Charge(400.0, 1.55, 78.54), stroke, 0.0, one, 0.0 * one)
    >>> path = integrate(gap, np.array([3.7]), np.array([150.0]))
    >>> path.log_pressure.shape == (path.time.size, 1)
    True
    >>> round(float(np.exp(path.log_pressure.max())))
    183
    """
    opening_in, opening_out = _edges(squeeze, separation, expected)
    time = _time_grid(squeeze.stroke, opening_in, opening_out)
    opening = squeeze.stroke.opening(time)
    state, stress = _start(squeeze, separation, expected, time, opening)
    hardening, elastic = squeeze.powder.hardening, squeeze.powder.elastic
    rest, slope = hardening.densification_and_slope(state)
    below = rest + np.minimum(stress * state, expected) / elastic
    room = separation - squeeze.charge.pore_free_separation
    level, _ = squeeze.loaded(room + opening[0], rest, below)
    flow = _Flow.of(squeeze)
    history = np.empty((time.size, state.size))
    frozen, loss = np.empty_like(state), np.empty_like(state)
    pressure = np.maximum(elastic * (level - rest), flow.least)
    np.log(pressure, out=history[0])
    moves = zip(np.diff(opening).tolist(), np.diff(time).tolist(), strict=True)
    for step, (opens, duration) in enumerate(moves, 1):
        level, stiffness = squeeze.loaded(room + opening[step], rest, level)
        np.subtract(level, rest, out=frozen)
        frozen *= elastic
        np.maximum(frozen, flow.least, out=frozen)
        np.multiply(stiffness, slope, out=loss)
        rate = flow.rate(frozen, history[step - 1], opens)
        pressure += frozen
        softening = flow.softening(loss, pressure, state)
        change = flow.change(rate, softening, state, duration)
        np.multiply(loss, change, out=pressure)
        np.subtract(frozen, pressure, out=pressure)
        # Rare, and cheaper to see than to bound at every step; "not" takes in what is no number.
        if not pressure.min() >= TINY:
            np.minimum(change, frozen / loss, out=change)
            np.maximum(frozen - loss * change, flow.least, out=pressure)
        state += change
        rest, slope = hardening.densification_and_slope(state)
        np.log(pressure, out=history[step])
    return Trajectory(time, history, state, stress)


@dataclass(frozen=True)
class _Flow:
    """What the flow over one step needs of the draws, the same at every step.

    Bounds are arrays: numpy compares an array with a number at half the pace. What a step works
    out goes where the step before had it: fresh memory costs nearly as much as a sum.
    """

    power: Array
    """``1/m``, m not below `TINY`."""
    twice_power: Array
    """``2/m``."""
    pace: Array
    """``S m/(1 + m)`` in MPa/s, with the weakening."""
    least: Array
    """MPa: a pressure that stands for none."""
    still: Array
    """Least change of the logarithm of the rate over a step, below 0, since it is divided by."""
    ones: Array
    """Mean rate of a step over which the tips stand still."""
    work: tuple[Array, ...]
    """Room for what one step works out, five arrays of shape (draws,)."""

    @classmethod
    def of(cls, squeeze: Squeeze) -> _Flow:
        powder, ones = squeeze.powder, np.ones(squeeze.powder.draws)
        m = np.maximum(powder.rate_exponent, TINY)
        pace = m * powder.hardening.scale / (1.0 + m) * np.exp(np.log(squeeze.weakening) / m)
        return cls(
            1.0 / m, 2.0 / m, pace, TINY * ones, -TINY * ones, ones, tuple(np.empty((5, ones.size)))
        )

    def rate(self, frozen: Array, log_pressure: Array, opens: float) -> tuple[Array, Array]:
        """Return the logarithm of the pressure at the faster end of a step, and its mean rate.

        The rate, as a share of that at the faster end, grows or falls exponentially over the step;
        taken from there it cannot overflow. `frozen` is what the pressure would be at the end of
        the step, did the state stand still; `log_pressure` is of the pressure as it begins. While
        the tips close it rises, and falls as they open; while they stand still it does neither.
        """
        log_frozen, decay, mean = self.work[:3]
        np.log(frozen, out=log_frozen)
        if opens == 0.0:
            return log_frozen, self.ones
        slower, faster = (log_pressure, log_frozen)[:: 1 if opens < 0.0 else -1]
        np.subtract(slower, faster, out=decay)
        decay *= self.power
        np.minimum(decay, self.still, out=decay)
        np.expm1(decay, out=mean)
        mean /= decay
        return faster, mean

    def softening(self, loss: Array, pressures: Array, state: Array) -> Array:
        """Return by how much the logarithm of the rate falls for each MPa of state, in 1/MPa.

        ``(loss/P + 1/state)/m``, where P is the mean of the pressures at both ends of the step,
        which come added up, and `loss` what is lost of it for each MPa of state.
        """
        softening, of_pressure = self.work[3:]
        np.divide(self.power, state, out=softening)
        np.multiply(self.twice_power, loss, out=of_pressure)
        of_pressure /= pressures
        softening += of_pressure
        return softening

    def change(
        self, rate: tuple[Array, Array], softening: Array, state: Array, duration: float
    ) -> Array:
        """Return by how many MPa the state rises in a step of so many s.

        With the logarithm of the rate linear in time and in state it is
        ``ln(1 + k integral of the frozen rate)/k``, where ``k``, the softening in 1/MPa, is by how
        much the logarithm of the rate falls for each MPa of state.
        """
        log_pressure, mean = rate
        share, exponent = self.work[1], self.work[4]  # where the decay and a part of softening were
        np.log(state, out=exponent)
        np.subtract(log_pressure, exponent, out=exponent)
        exponent *= self.power
        np.multiply(duration, self.pace, out=share)
        share *= mean
        share *= softening
        change = log_of_one_and(share, exponent)
        change /= softening
        return change


def log_of_one_and(share: Array, exponent: Array) -> Array:
    """Return ``ln(1 + share * exp(exponent))`` without overflow, for shares up to about 1e100.

    It is worked out in the place of `exponent`, which is lost.

    >>> log_of_one_and(np.array([2.0, 2.0]), np.array([0.0, 1000.0])).round(6)
    array([   1.098612, 1000.693147])
    """
    if exponent.max() <= MOST_EXPONENT:
        plain: Array = np.exp(exponent, out=exponent)
        plain *= share
        return np.log1p(plain, out=plain)
    excess = np.maximum(exponent - MOST_EXPONENT, 0.0)
    scaled: Array = np.log1p(share * np.exp(exponent - excess)) + excess
    return scaled


def _edges(squeeze: Squeeze, separation: Array, expected: Array) -> tuple[float, float]:
    """Return the openings in mm at which to start and to end the integration."""
    elastic = squeeze.powder.elastic
    rest = squeeze.rest()
    give = squeeze.compliance * expected
    deepest = np.maximum(squeeze.charge.densification(separation + give), rest + expected / elastic)
    start = rest + EDGE_SHARE * (deepest - rest)
    end = deepest - (1.0 - EDGE_SHARE) * expected / elastic
    opening_in = squeeze.charge.separation(start) - EDGE_SHARE * give - separation
    opening_out = squeeze.charge.separation(end) - EDGE_SHARE * give - separation
    return float(np.maximum(opening_in.min(), 1e-4)), float(np.maximum(opening_out.max(), 1e-4))


def _time_grid(stroke: Stroke, opening_in: float, opening_out: float) -> Array:
    """Return times in s that lie dense where the pressure is near its peak."""
    flat = stroke.flat_time
    way_in = float(stroke.closing_time(np.array(opening_in))) - flat
    way_out = float(stroke.closing_time(np.array(opening_out))) - flat
    parts = [-flat - way_in * np.linspace(1.0, 0.0, APPROACH_STEPS + 1) ** 2.5]
    if flat > 0.0:
        parts.append(2.0 * flat * np.linspace(0.0, 1.0, FLAT_STEPS + 1)[1:] ** 1.5 - flat)
    parts.append(flat + way_out * np.linspace(0.0, 1.0, EXIT_STEPS + 1)[1:] ** 1.5)
    return np.concatenate(parts)


def _start(
    squeeze: Squeeze, separation: Array, expected: Array, time: Array, opening: Array
) -> tuple[Array, Array]:
    """Return the state and the ratio of pressure to state where the integration starts.

    While the tips still close fast, the rate of flow is set by them, so pressure over state is the
    m-th power of that rate, and the state x follows from the gap between the tips:
    ``separation(D(x) + s x/K) = gap + c s x``. Both are found together.
    """
    powder, hardening, charge = squeeze.powder, squeeze.powder.hardening, squeeze.charge
    m = np.maximum(powder.rate_exponent, TINY)
    closing = (opening[0] - opening[1]) / (time[1] - time[0])
    gap = separation + opening[0]
    state = EDGE_SHARE * expected
    stress = np.ones_like(state)
    for _ in range(6):
        level = hardening.densification(state) + stress * state / powder.elastic
        opens = charge.spread(level) * (hardening.slope(state) + stress / powder.elastic)
        opens = opens + squeeze.compliance * stress
        room = charge.separation(level) - gap - squeeze.compliance * stress * state
        state = np.maximum(state + room / opens, 0.2 * state)
        stress = (closing / opens * (1.0 + m) / (m * hardening.scale)) ** m / squeeze.weakening
    return np.maximum(state, squeeze.before), stress
