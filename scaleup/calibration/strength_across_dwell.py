"""Is strength against solid fraction one curve, whatever the dwell? Tested, not assumed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc

from scaleup.arrays import Array

LEAST_RUNS = 6
LEAST_DECADES = 0.5


@dataclass(frozen=True)
class DwellTermTest:
    """The F test of a dwell term in ln(strength) against solid fraction."""

    slope: float
    """Change of ln(strength) for each unit of ln(effective dwell) at equal solid fraction."""
    probability: float
    """Of a slope at least this far from 0 if there is one curve."""
    runs: int
    middle_log_dwell: float
    """Mean ln(effective dwell/s) of the runs."""


def dwell_term_test(
    solid_fraction: Array, strength: Array, dwell: Array, shifts: Array
) -> DwellTermTest | None:
    """Return the test, or None where the runs cannot tell; arguments of shape (runs,).

    `shifts` are 1 for the runs of each press that is held against the others and 0 for all else,
    shape (runs, presses); a shift of theirs is no dwell.

    Measured solid fractions are used, so that a misfit of the densification law does not pass for
    a second curve. A term in the square of the solid fraction guards against a bent curve.
    """
    runs = strength.size
    log_dwell = np.log(dwell)
    if runs < LEAST_RUNS or np.ptp(log_dwell) < LEAST_DECADES * np.log(10.0):
        return None
    centred = solid_fraction - solid_fraction.mean()
    plain = np.column_stack([np.ones(runs), centred, centred**2, shifts])
    middle = float(log_dwell.mean())
    full = np.column_stack([plain, log_dwell - middle])
    freedom = runs - full.shape[1]
    if freedom < 2 or np.linalg.matrix_rank(full) < full.shape[1]:
        return None
    target = np.log(strength)
    without = _squares(plain, target)
    coefficients, *_ = np.linalg.lstsq(full, target, rcond=None)
    within = _squares(full, target)
    ratio = (without - within) / max(within / freedom, 1e-300)
    probability = float(fdtrc(1, freedom, ratio))
    return DwellTermTest(float(coefficients[-1]), probability, runs, middle)


def _squares(terms: Array, target: Array) -> float:
    coefficients, *_ = np.linalg.lstsq(terms, target, rcond=None)
    return float(np.sum((target - terms @ coefficients) ** 2))
