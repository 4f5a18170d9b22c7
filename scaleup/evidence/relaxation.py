"""The rate exponent from how a held force falls: a witness apart from the solid fractions.

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

LEAST_SAMPLES = 30
CLEAR_DECAY = 5.0
"""The force falls at least by this many noises, for an exponent to be told."""
END_LEFT = 0.03
"""Share of the hold left out at its end, where the release begins."""
BEGIN_LEFT = 0.02
"""Share left out at its beginning, where the ram comes to rest."""


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
    span = float(time[-1] - time[0])
    inner = (time - time[0] >= BEGIN_LEFT * span) & (time - time[0] <= (1.0 - END_LEFT) * span)
    seconds, values = time[inner] - time[0], force[inner]
    if seconds.size < LEAST_SAMPLES:
        return None
    noise = float(np.std(np.diff(values, n=2))) / np.sqrt(6.0)
    fallen = float(values[0] - values[-1])
    if fallen < max(CLEAR_DECAY * noise, 1e-4 * values[0]):
        return None
    logs = np.log(values)

    def miss(guess: Array) -> Array:
        rest: Array = guess[0] - np.exp(guess[1]) * np.log1p(seconds / np.exp(guess[2])) - logs
        return rest

    start = np.array([logs[0], np.log(max(fallen / values[0] / 3.0, 1e-5)), np.log(span / 20.0)])
    found = least_squares(miss, start, method="lm", max_nfev=400)
    scatter = float(np.sqrt(np.sum(found.fun**2) / (seconds.size - 3)))
    if not found.success or scatter * CLEAR_DECAY > fallen / values[0]:
        return None
    # Neighbouring residuals are alike where the law misses; as many are counted as change sign.
    changes = max(int(np.count_nonzero(np.diff(np.sign(found.fun)))), 4)
    inflated = scatter * float(np.sqrt(max(seconds.size / (2.0 * changes), 1.0)))
    try:
        jacobian = np.asarray(found.jac, dtype=np.float64)
        covariance = np.linalg.inv(jacobian.T @ jacobian) * inflated**2
    except np.linalg.LinAlgError:
        return None
    nu = float(np.exp(found.x[1]))
    error = nu * float(np.sqrt(covariance[1, 1]))
    if not np.isfinite(error) or error > nu:
        return None
    return Decay(float(np.exp(found.x[0])), float(np.exp(found.x[2])), nu, error, span)


def exponent_of(nu: Array, correction: Array) -> Array:
    """Return the rate exponent m = (1 + g) nu/(1 + nu).

    >>> float(exponent_of(np.array(0.03), np.array(0.0)))
    0.0291262135
    """
    exponent: Array = (1.0 + correction) * nu / (1.0 + nu)
    return exponent
