"""By how much a measurement not yet made would narrow what is predicted.

Every draw of the fit says what would be measured and what is wanted. Both are taken to be jointly
normal, so that measuring y with a noise of variance R leaves of the wanted z the variance
``C_zz - C_zy (C_yy + R)^-1 C_yz`` (linear Bayesian updating; the tests hold it against refits with
simulated runs).
"""

from __future__ import annotations

import numpy as np

from scaleup.arrays import Array


def variance_left(wanted: Array, measured: Array, noise: float) -> float:
    """Return the variance that is left of what is wanted.

    Parameters
    ----------
    wanted
        Shape (draws,).
    measured
        What each draw says would be measured, shape (measurements, draws).
    noise
        Variance of each measurement about what is predicted, above 0.

    Examples
    --------
    Measuring the thing itself, with a noise as large as its own variance, halves the variance:

    >>> z = np.random.default_rng(1).normal(size=1000)
    >>> round(variance_left(z, z[None], float(np.var(z, ddof=1))) / float(np.var(z, ddof=1)), 6)
    0.5
    """
    joint = np.cov(np.vstack([wanted, measured]))
    told = joint[1:, 1:] + noise * np.eye(len(measured))
    return float(joint[0, 0] - joint[0, 1:] @ np.linalg.solve(told, joint[1:, 0]))


def narrowing(before: float, left: float) -> float:
    """Return the share by which a band narrows as its variance goes from before to left.

    No measurement widens a band, whatever rounding says of one that teaches nothing.

    >>> narrowing(4.0, 1.0), narrowing(0.0, 0.0), narrowing(1.0, 1.0 + 1e-9)
    (0.5, 0.0, 0.0)
    """
    return 0.0 if before <= 0.0 else 1.0 - float(np.sqrt(min(max(left, 0.0) / before, 1.0)))
