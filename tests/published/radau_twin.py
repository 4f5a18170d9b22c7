"""A slow and plain twin of the law: one tablet, one powder, one implicit Runge-Kutta solution.

    dq/dt = m/(1+m) (P/(Y q))**(1/m) / t_ref,   P = K (D - A - q) >= 0,   t_ref = 1 s

with D from the distance of the tips, which the motion of the press and its deflection prescribe.
Nothing of the package is used but the kinematics of the punches.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, log, log1p, pi

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicHermiteSpline
from scipy.optimize import brentq, minimize_scalar

from scaleup.equations import crank_angle, crank_travel, punch_angle, punch_travel

STEPS = 500  # at least, in each stretch of the motion
SMALLEST = 1e-12  # MPa, or q: stands for none where a logarithm is taken
HIGHEST_LOG_RATE = 50.0  # met by trial iterates of the solver only
FIRST_DENSIFICATION = 0.01  # q + P/K at which the integration starts


@dataclass(frozen=True)
class Powder:
    """Parameters of the law: MPa for the yield pressure Y and the elastic K."""

    yield_pressure: float
    rearrangement: float
    rate_exponent: float
    elastic: float


@dataclass(frozen=True)
class Charge:
    """Powder in a flat round die: mg, mg/mm³ and the tip area in mm²."""

    weight: float
    true_density: float
    tip_area: float

    def densification(self, separation: float) -> float:
        """Return ``ln(1/(1 - SF))`` with the tips this many mm apart."""
        return -log1p(-self.weight / (self.true_density * self.tip_area * separation))

    def separation(self, densification: float) -> float:
        """Return how many mm apart the tips are at this ``ln(1/(1 - SF))``."""
        return self.weight / (self.true_density * self.tip_area * (1.0 - exp(-densification)))


@dataclass(frozen=True)
class Motion:
    """Opening of the tips in mm at a time in s from dead centre, and its inverse."""

    opening: Callable[[float], float]
    time_after_centre: Callable[[float], float]


@dataclass(frozen=True)
class Pulse:
    """What one compression gives: s, MPa, and q of the ejected tablet."""

    time: NDArray[np.float64]
    pressure: NDArray[np.float64]
    densification: float
    peak_pressure: float
    peak_time: float
    effective_dwell: float
    time_above_90: float


def rotary(
    pitch_circle: float,
    roller_radius: float,
    head_edge_radius: float,
    head_flat: float,
    speed: float,
) -> Motion:
    """Return the motion of a rotary press: two punches that move alike; mm and rev/min."""
    omega = 2.0 * pi * speed / 60.0
    head = (pitch_circle, roller_radius, head_edge_radius, head_flat)
    return Motion(
        lambda time: 2.0 * punch_travel(omega * time, *head),
        lambda opening: punch_angle(opening / 2.0, *head) / omega,
    )


def eccentric(crank_radius: float, link_length: float, speed: float) -> Motion:
    """Return the motion of an eccentric press: one moving punch; mm and strokes per minute."""
    omega = 2.0 * pi * speed / 60.0
    return Motion(
        lambda time: crank_travel(omega * time, crank_radius, link_length),
        lambda opening: crank_angle(opening, crank_radius, link_length) / omega,
    )


@dataclass(frozen=True)
class _Compression:
    motion: Motion
    powder: Powder
    charge: Charge
    separation: float
    stiffness: float | None

    def pressure(self, time: float, plastic: float) -> float:
        """Return P in MPa at a time and a state q, with the tips giving way by ``F/k``."""
        rest = self.powder.rearrangement + plastic
        apart = self.separation + self.motion.opening(time)

        def surplus(pressure: float) -> float:
            give = 0.0
            if self.stiffness is not None:
                give = pressure * self.charge.tip_area / self.stiffness
            level = self.charge.densification(apart + give)
            return self.powder.elastic * (level - rest) - pressure

        stiff = surplus(0.0)
        if self.stiffness is None or stiff <= 0.0:
            return max(stiff, 0.0)
        return brentq(surplus, 0.0, stiff, xtol=1e-11, rtol=1e-13)

    def rate(self, time: float, state: NDArray[np.float64]) -> list[float]:
        """Return dq/dt in 1/s."""
        q, m = max(float(state[0]), SMALLEST), self.powder.rate_exponent
        pressure = max(self.pressure(time, q), SMALLEST)
        stress = log(pressure) - log(self.powder.yield_pressure * q)
        return [m / (1.0 + m) * exp(min(stress / m, HIGHEST_LOG_RATE))]

    def start(self, before: float) -> tuple[float, float]:
        """Return the time in s just after first contact, and q there.

        While the tips close fast they set the rate of flow, so ``P/(Y q)`` is the m-th power of
        that rate; what is left of the transient dies out within microseconds.
        """
        powder = self.powder
        level = powder.rearrangement + before + FIRST_DENSIFICATION
        opening = self.charge.separation(level) - self.separation
        time = -self.motion.time_after_centre(opening)
        if before > 0.0:
            return time, before
        slope = 1e5 * (
            self.charge.densification(self.separation + self.motion.opening(time + 1e-5)) - level
        )
        m = powder.rate_exponent
        stress = (slope * (1.0 + m) / m) ** m
        return time, FIRST_DENSIFICATION / (1.0 + stress * powder.yield_pressure / powder.elastic)


def compress(
    motion: Motion,
    powder: Powder,
    charge: Charge,
    separation: float,
    stiffness: float | None = None,
    before: float = 0.0,
) -> Pulse:
    """Return the pulse with the tips set to a separation in mm at dead centre under no load.

    `stiffness` in N/mm is that of frame, rollers and punches in series, none for a rigid press;
    `before` is q left by an earlier pulse.
    """
    case = _Compression(motion, powder, charge, separation, stiffness)
    begin, q = case.start(before)
    flat_end = motion.time_after_centre(0.0)
    stretches = [(begin, -flat_end), (-flat_end, flat_end), (flat_end, -begin)]
    times: list[NDArray[np.float64]] = []
    states: list[NDArray[np.float64]] = []
    for first, last in stretches:
        if last > first:
            solution = solve_ivp(
                case.rate,
                (first, last),
                [q],
                method="Radau",
                rtol=1e-9,
                atol=1e-13,
                max_step=(last - first) / STEPS,
            )
            if not solution.success:
                raise RuntimeError(solution.message)
            fresh = slice(1 if times else 0, None)
            times.append(solution.t[fresh])
            states.append(solution.y[0, fresh])
            q = float(solution.y[0, -1])
    return _measure(case, np.concatenate(times), np.concatenate(states))


def _measure(case: _Compression, time: NDArray[np.float64], q: NDArray[np.float64]) -> Pulse:
    rates = [case.rate(t, np.array([state]))[0] for t, state in zip(time, q, strict=True)]
    state_at = CubicHermiteSpline(time, q, rates)

    def pressure_at(moment: float) -> float:
        return case.pressure(moment, float(state_at(moment)))

    pressure = np.array([pressure_at(moment) for moment in time])
    top = int(pressure.argmax())
    summit = minimize_scalar(
        lambda moment: -pressure_at(moment),
        bounds=(time[top - 1], time[top + 1]),
        method="bounded",
        options={"xatol": 1e-10},
    )
    peak = pressure_at(float(summit.x))
    sides = [
        brentq(lambda moment: pressure_at(moment) - 0.9 * peak, edge, time[top])
        for edge in (time[0], time[-1])
    ]
    middle = np.array([pressure_at(moment) for moment in (time[1:] + time[:-1]) / 2.0])
    share, half_way = ((p / peak) ** (1.0 / case.powder.rate_exponent) for p in (pressure, middle))
    simpson = np.diff(time) * (share[:-1] + 4.0 * half_way + share[1:]) / 6.0
    return Pulse(
        time=time,
        pressure=pressure,
        densification=float(q[-1]),
        peak_pressure=peak,
        peak_time=float(summit.x),
        effective_dwell=float(simpson.sum()),
        time_above_90=sides[1] - sides[0],
    )
