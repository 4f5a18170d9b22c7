"""The rate exponent from how a held force falls: evidence independent of the solid fractions.

At constant separation the powder flows on and the pressure falls. With the law,

    dP/dt = -K_s h'(x) dx/dt        dx/dt = m/(1+m) (S/t_ref) (P/x)^(1/m)

where D = h(x) is the hardening curve and ``1/K_s = 1/K + (give of the press)``. While P falls by
little, x grows by ``d ln x = -g d ln P`` with ``g = P/(K_s h'(x) x)``, so that
``-dP/dt ~ P^((1+g)/m)`` and, integrated,

    P(t) = P_0 (1 + t/tau)^(-nu)        nu = 1/((1+g)/m - 1)

The record alone gives nu (and tau); m = (1 + g) nu/(1 + nu). Only g, a correction of some tenths,
comes from the fit of the solid fractions.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from scaleup.arrays import Array
from scaleup.calibration.observations import Observation
from scaleup.powder.law import Powder
from scaleup.pulses.logged_compression import Compression
from scaleup.short_repr import short_repr

LEAST_SAMPLES = 30
CONFLICT, LEAST_CONFLICT = 2.0, 0.2
"""Standard deviations, and share of the exponent, from which the two are said to conflict."""
CLEAR_DECAY = 5.0
"""The force falls at least by this many noises, for an exponent to be told."""
WELL_POSED = 1e14
"""Condition from which the three figures of a decay cannot be told apart."""
END_LEFT = 0.03
"""Share of the hold left out at its end, where the release begins."""
BEGIN_LEFT = 0.02
"""Share left out at its beginning, where the ram comes to rest."""
LEAST_STATE = 0.1
"""Share of the peak pressure below which a tablet contradicts the curve (a judgement)."""
RARE = 0.05
"""Share of draws that may do so, as many as lie beyond one end of a band."""


@dataclass(frozen=True)
class Decay:
    """How one held force falls: P_0 (1 + t/tau)^(-nu)."""

    peak: float
    """N."""
    tau: float
    """s."""
    nu: float
    nu_error: float
    """Standard deviation."""
    duration: float
    """s."""


def decay_of(time: Array, force: Array) -> Decay | None:
    """Return the law of decay of a held force, None where it cannot be told.

    Parameters
    ----------
    time
        s from the beginning of the hold, shape (samples,).
    force
        N, shape (samples,).
    """
    if time.size < LEAST_SAMPLES:
        return None
    span = float(time[-1] - time[0])
    inner = (time - time[0] >= BEGIN_LEFT * span) & (time - time[0] <= (1.0 - END_LEFT) * span)
    seconds, values = time[inner] - time[0], force[inner]
    noise = float(np.std(np.diff(values, n=2))) / np.sqrt(6.0)
    fallen = float(values[0] - values[-1])
    clear = fallen > max(CLEAR_DECAY * noise, 1e-4 * values[0])
    return _fitted(seconds, values, span) if clear else None


def _fitted(seconds: Array, values: Array, span: float) -> Decay | None:
    """Return the least-squares decay, None where it does not follow the falling force."""
    logs = np.log(values)
    fallen = float(logs[0] - logs[-1])

    def miss(guess: Array) -> Array:
        rest: Array = guess[0] - np.exp(guess[1]) * np.log1p(seconds / np.exp(guess[2])) - logs
        return rest

    def slopes(guess: Array) -> Array:
        past = seconds / np.exp(guess[2])
        rows = np.ones_like(past), -np.log1p(past), past / (1.0 + past)
        return np.column_stack([rows[0], np.exp(guess[1]) * rows[1], np.exp(guess[1]) * rows[2]])

    start = np.array([logs[0], np.log(max(fallen / 3.0, 1e-5)), np.log(span / 20.0)])
    solution = least_squares(miss, start, slopes, method="lm", max_nfev=400)
    scatter = float(np.sqrt(np.sum(solution.fun**2) / (seconds.size - 3)))
    jacobian = np.asarray(solution.jac, dtype=np.float64)
    known = jacobian.T @ jacobian
    followed = solution.success and scatter * CLEAR_DECAY < fallen
    if not followed or not np.linalg.cond(known) < WELL_POSED:
        return None
    # Neighbouring residuals are alike where the law misses; as many are counted as change sign.
    changes = max(int(np.count_nonzero(np.diff(np.sign(solution.fun)))), 4)
    inflated = scatter * float(np.sqrt(max(seconds.size / (2.0 * changes), 1.0)))
    nu = float(np.exp(solution.x[1]))
    error = nu * inflated * float(np.sqrt(np.linalg.inv(known)[1, 1]))
    if error > nu:
        return None
    return Decay(float(np.exp(solution.x[0])), float(np.exp(solution.x[2])), nu, error, span)


def exponent_of(nu: Array, correction: Array) -> Array:
    """Return the rate exponent m = (1 + g) nu/(1 + nu).

    >>> float(exponent_of(np.array(0.03), np.array(0.0)))
    0.0291262135
    """
    exponent: Array = (1.0 + correction) * nu / (1.0 + nu)
    return exponent


@short_repr
@dataclass(frozen=True)
class RelaxationEvidence:
    """What the held forces of the runs say of the rate exponent, beside what the fit says."""

    runs: tuple[str, ...]
    """Names of the runs whose hold tells something."""
    exponent: Array
    """m from the relaxation alone but for g, shape (draws,)."""
    fitted: Array
    """m of the fit, shape (draws,)."""

    @property
    def apart(self) -> float:
        """Return the difference, relaxation less fit, in standard deviations of both."""
        spread = float(np.hypot(self.exponent.std(), self.fitted.std()))
        return float(np.median(self.exponent) - np.median(self.fitted)) / max(spread, 1e-12)

    @property
    def conflict(self) -> bool:
        """Return whether the two contradict each other: further apart than both explain."""
        middle = float(np.median(self.fitted))
        differ = abs(float(np.median(self.exponent)) - middle) > LEAST_CONFLICT * middle
        return abs(self.apart) > CONFLICT and differ


def relaxation_evidence(
    observations: tuple[Observation, ...],
    powder: Powder,
    true_density: float,
    rng: np.random.Generator,
) -> RelaxationEvidence | None:
    """Return what relaxation says of the rate exponent, None where no run tells.

    A run tells if it was logged and held, and its tablet is one that the curve allows. A press that
    runs at a speed moves its tips all the time: what looks held there is not.
    """
    names, exponents, errors = [], [], []
    for seen in observations:
        held = None if seen.setting.speed is not None else seen.logged
        decay = None if held is None else decay_of(*_hold(held))
        if decay is None or seen.run.weight is None:
            continue
        correction = _correction(seen, decay, powder, true_density)
        if correction is None:
            continue
        exponents.append(exponent_of(np.array(decay.nu), correction))
        errors.append(decay.nu_error / decay.nu)
        names.append(seen.run.name)
    if not exponents:
        return None
    every = np.array(exponents)
    middles = np.median(every, axis=1)
    # Each run's own error, or the differences between the runs where those are larger.
    own = float(np.sqrt(np.mean((np.array(errors) * middles) ** 2)))
    between = float(middles.std(ddof=1)) if len(names) > 1 else 0.0
    spread = max(own, between) / float(np.sqrt(len(names)))
    noise = spread * rng.standard_normal(powder.draws)
    exponent = np.maximum(every.mean(axis=0) + noise, 0.0)
    return RelaxationEvidence(tuple(dict.fromkeys(names)), exponent, powder.rate_exponent)


def _hold(logged: Compression) -> tuple[Array, Array]:
    return logged.hold_time, logged.hold_force


def _correction(
    seen: Observation, decay: Decay, powder: Powder, true_density: float
) -> Array | None:
    """Return g: by how much ln x grows for each unit that ln P falls, shape (draws,).

    None where the curves have no such tablet after such a pressure: g grows as 1/x. The few draws
    that alone contradict it count with the least state.
    """
    tip = seen.side.tip
    charge = tip.charge(seen.weight, true_density)
    pressure = np.full(powder.draws, decay.peak / tip.area)
    hardening = powder.hardening
    if seen.solid_fraction is None:
        raise ValueError(f"run {seen.run.name} has no solid fraction")
    # The state the run was left in: that of its ejected tablet.
    level = np.full(powder.draws, -np.log1p(-seen.solid_fraction))
    state = hardening.static_pressure(level)
    least = LEAST_STATE * pressure
    if np.mean(state < least) > RARE:
        return None
    state = np.maximum(state, least)
    under_load = level + pressure / powder.elastic
    give = seen.side.press.compliance * tip.area / charge.spread(under_load)
    stiff = 1.0 / (1.0 / powder.elastic + give)
    correction: Array = pressure / (stiff * hardening.slope(state) * state)
    return correction
