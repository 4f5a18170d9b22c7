"""A powder whose law is not the program's: pressed by a lab press or between rollers.

The state is the yield pressure y in MPa, which a powder has reached and which hardens it. It flows
by the excess of the pressure P over y, with r = d(ln y)/dt in 1/s:

    P/y = 1 + w_1 ln(r) + (w_2/2) ln(1 + (r/r_2)^2)

The first term is Eyring's law of flow; the second one, which is of this benchmark, is a process
that costs pressure only where the powder is pressed faster than r_2. The program has a power law of
P/y with one exponent; here the exponent is about w_1, falls a little with the rate, and grows to
w_1 + w_2 above r_2. Porosity is ``e_0 / (1 + (y/Y)^n)``, Kawakita's for n = 1; under pressure a
tablet is thinner by ``P/E`` of its thickness.

Lengths in mm, pressures in MPa, times in s; arrays are of shape (pulses,) or (steps, pulses).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from scaleup.arrays import Array

LOOSE = 1.0
"""MPa: the yield pressure of the powder as filled."""
LEAST_GROWTH, MOST_GROWTH = -1e3, 3.0
"""Ends between which a step is looked for: of ln(growth of ln y), and of that growth."""
ROUNDING = 1e-13
SOLVED = 1e-9
STEPS_TO_SOLVE = 100
PEAK_MET = 1e-5
"""Share by which the peak of a pulse may miss the pressure asked for."""
PEAK_ROUNDS = 40

Pressing = Callable[[int, Array], tuple[Array, Array]]
"""Pressure in MPa and its slope in ln y, at a step and at ln y."""


@dataclass(frozen=True)
class Flow:
    """How fast a powder flows under a pressure above its yield pressure."""

    slow: float
    """w_1."""
    fast: float = 0.0
    """w_2."""
    from_rate: float = 1.0
    """r_2 in 1/s."""

    def excess(self, log_rate: Array) -> tuple[Array, Array]:
        """Return P/y at ln r, and its slope in ln r."""
        beyond = (np.exp(log_rate) / self.from_rate) ** 2
        value = 1.0 + self.slow * log_rate + 0.5 * self.fast * np.log1p(beyond)
        return value, self.slow + self.fast * beyond / (1.0 + beyond)

    def exponent(self, dwell: float) -> float:
        """Return d(ln y)/d(ln t) of a hold at constant pressure after a time in s.

        It is ``r t``, and r is reached at ``t = integral from ln(r) of (P/y)'/(P/y)/r d(ln r)``.
        """
        value, slope = self.excess(LOG_RATES)
        parts = slope / value * np.exp(-LOG_RATES)
        steps = 0.5 * (parts[1:] + parts[:-1]) * np.diff(LOG_RATES)
        times = np.cumsum(steps[::-1])[::-1]
        log_rate = np.interp(-np.log(dwell), -np.log(times), LOG_RATES[:-1])
        return float(np.exp(log_rate) * dwell)


LOG_RATES = np.linspace(-12.0, 30.0, 8001)
"""ln of the rates in 1/s between which an exponent is looked for."""


SETS_IN, MOST_FAST = 0.8, 4.0
"""Share of the way, in ln of the rate, from the lab to production at which the second process sets
in, and the most of w_2/w_1."""


def drifting(slow: float, ratio: float, lab_dwell: float, production_dwell: float) -> Flow:
    """Return a flow whose exponent at the production dwell is that many times the lab's.

    The second process sets in at a rate so far from those of the lab's dwell in s that lab runs
    about that dwell show one exponent.
    """
    rate = slow / (lab_dwell ** (1.0 - SETS_IN) * production_dwell**SETS_IN)
    low, high = 0.0, MOST_FAST * slow
    for _ in range(60):
        flow = Flow(slow, 0.5 * (low + high), rate)
        if flow.exponent(production_dwell) / flow.exponent(lab_dwell) < ratio:
            low = flow.fast
        else:
            high = flow.fast
    return flow


@dataclass(frozen=True)
class Powder:
    """A powder: how it flows, how its pores close, and how it springs under load."""

    flow: Flow
    loose: float
    """e_0."""
    closing: float
    """Y in MPa."""
    power: float
    """n."""
    modulus: float
    """E in MPa."""

    def porosity(self, log_yield: Array) -> Array:
        """Return the porosity of the tablet after ejection."""
        result: Array = self.loose / (1.0 + np.exp(self.power * log_yield) / self._closed)
        return result

    @property
    def _closed(self) -> float:
        return float(self.closing**self.power)

    def solid_fraction(self, log_yield: Array) -> Array:
        """Return the solid fraction of the tablet after ejection."""
        return 1.0 - self.porosity(log_yield)

    def thickness(self, log_yield: Array, solid_height: Array) -> tuple[Array, Array]:
        """Return the thickness in mm without load, and its slope in ln y."""
        pores = self.porosity(log_yield)
        dense = 1.0 - pores
        value = solid_height / dense
        return value, -value / dense * self.power * pores * (1.0 - pores / self.loose)


def flowed(flow: Flow, begin: Array, times: Array, pressing: Pressing) -> tuple[Array, Array]:
    """Return ln y after a pulse, and the peak pressure in MPa, each of shape (pulses,).

    `begin` is ln y before it, `times` are those of the steps, shape (steps, pulses). Backward Euler
    steps in ln y, each solved for ``ln(growth)``, in which the flow is nearly linear.
    """
    state, peak = begin.copy(), np.zeros_like(begin)
    log_growth = np.full_like(begin, -10.0)
    for step in range(1, len(times)):
        log_time = np.log(times[step] - times[step - 1])
        log_growth = _growth(flow, state, log_time, log_growth, partial(pressing, step))
        state = state + np.exp(log_growth)
        peak = np.maximum(peak, pressing(step, state)[0])
    return state, peak


def _growth(
    flow: Flow,
    state: Array,
    log_time: Array,
    guess: Array,
    pressing: Callable[[Array], tuple[Array, Array]],
) -> Array:
    """Return ln of the growth of ln y in one step, by Newton's method within two ends."""
    found = guess
    low, high = np.full_like(guess, LEAST_GROWTH), np.full_like(guess, np.log(MOST_GROWTH))
    for _ in range(STEPS_TO_SOLVE):
        growth = np.exp(found)
        after = np.exp(state + growth)
        pressure, slope = pressing(state + growth)
        wanted, stiffness = flow.excess(found - log_time)
        miss = pressure / after - wanted
        low, high = np.where(miss > 0.0, found, low), np.where(miss > 0.0, high, found)
        better = found - miss / (growth * (slope - pressure) / after - stiffness)
        outside = (better <= low) | (better >= high)
        better = np.where(outside & (np.abs(miss) > ROUNDING), 0.5 * (low + high), better)
        if np.max(np.abs(better - found)) < SOLVED:
            return better
        found = better
    raise ArithmeticError("a step of the pulse was not solved")


def under_force(powder: Powder, begin: Array, times: Array, pressures: Array) -> Array:
    """Return ln y after pressures in MPa that are given over time, both (steps, pulses)."""
    still = np.zeros_like(begin)
    return flowed(powder.flow, begin, times, lambda step, _: (pressures[step], still))[0]


@dataclass(frozen=True)
class Rollers:
    """One pair of rollers and the punch heads that pass between them."""

    pitch_radius: float
    roller_radius: float
    head_edge_radius: float
    head_flat: float
    give: float
    """mm by which the press yields for each MPa on the tip."""

    @property
    def reach(self) -> float:
        """Return how far the middle of the edge's round is from that of the roller."""
        return self.roller_radius + self.head_edge_radius

    @property
    def flat_angle(self) -> float:
        """Return the turret angle in rad at which the roller leaves the flat."""
        return float(np.arcsin(self.head_flat / 2.0 / self.pitch_radius))

    def rise(self, angle: Array) -> Array:
        """Return how far one punch is from its deepest point at a turret angle in rad."""
        across = np.maximum(self.pitch_radius * np.abs(np.sin(angle)) - self.head_flat / 2.0, 0.0)
        result: Array = self.reach - np.sqrt(self.reach**2 - across**2)
        return result

    def angle(self, rise: Array) -> Array:
        """Return the turret angle in rad at which one punch is that far from its deepest point."""
        across = np.sqrt(rise * (2.0 * self.reach - rise)) + self.head_flat / 2.0
        result: Array = np.arcsin(across / self.pitch_radius)
        return result


RISE = (1.0 - np.linspace(0.0, 1.0, 400)) ** 1.5
"""Shares of the way from first contact to the flat, closer together towards the flat."""
FLAT = np.linspace(-1.0, 1.0, 160)[1:]
AFTER = np.linspace(1.0, 2.5, 30)[1:]
"""Shares of the flat's angle; beyond the last of them the tablet is free."""


def between_rollers(
    powder: Powder,
    rollers: Rollers,
    begin: Array,
    speed: Array,
    peak: Array,
    solid_height: Array,
) -> Array:
    """Return ln y after pulses that reach a peak in MPa, at turret speeds in rpm.

    The gap between the tips at dead centre is looked for that gives the peak.
    """

    def pulse(gap: Array) -> tuple[Array, Array]:
        contact = rollers.angle((powder.thickness(begin, solid_height)[0] - gap) / 2.0)
        flat = np.full_like(gap, rollers.flat_angle)
        angles = np.vstack([
            -flat - (contact - flat) * RISE[:, None], flat * FLAT[:, None], flat * AFTER[:, None]
        ])  # fmt: skip
        opening = gap + 2.0 * rollers.rise(angles)
        return flowed(
            powder.flow,
            begin,
            angles / (speed * 2.0 * np.pi / 60.0),
            lambda step, at: _squeezed(powder, rollers.give, at, solid_height, opening[step]),
        )

    thick, _ = powder.thickness(np.log(peak), solid_height)
    gap = thick * (1.0 - peak / powder.modulus) - rollers.give * peak
    state, reached = pulse(gap)
    slope = -1.0 / (rollers.give + thick / powder.modulus) / 2.0
    for _ in range(PEAK_ROUNDS):
        if np.max(np.abs(reached / peak - 1.0)) < PEAK_MET:
            return state
        step = (peak - reached) / slope
        before = reached
        state, reached = pulse(gap + step)
        gap = gap + step
        moved = np.abs(step) > SOLVED
        slope = np.where(moved, (reached - before) / np.where(moved, step, 1.0), slope)
    raise ArithmeticError("the gap for a peak pressure was not found")


def _squeezed(
    powder: Powder, give: float, log_yield: Array, solid_height: Array, opening: Array
) -> tuple[Array, Array]:
    """Return the pressure in MPa between tips that are set so far apart, and its slope in ln y."""
    thick, slope = powder.thickness(log_yield, solid_height)
    over, spring = thick - opening, give + thick / powder.modulus
    pressed = over > 0.0
    pressure = np.where(pressed, over / spring, 0.0)
    return pressure, np.where(pressed, slope * (1.0 - pressure / powder.modulus) / spring, 0.0)
