"""The rate exponent from the production ladder alone, beside that of all runs together.

Means of the runs are a straight line in what a larger exponent, another gauge and a drift would
move: ``y - y_lab = s (m - m_lab) ln(t/t_0) + s o + s d x``, s the slope of the mean with
ln(pressure), x the place in the trial. Nothing is believed beforehand of exponent, offset o and
drift d, so that only differences between production runs count; scatter of tablets and of settings
is the noise.
"""

from __future__ import annotations

import numpy as np

from scaleup.answers.trial.run_means import RunMeans
from scaleup.model.estimate import Estimate, unavailable

SPAN = 2.0
"""Ratio of dwells that production runs must span to tell an exponent."""
NORMAL = 1.645


def exponent_alone(means: RunMeans) -> Estimate:
    """Return the exponent with its 90 % band, or why the production runs tell none."""
    runs = len(means.names)
    log_dwell = means.log_dwell[:runs]
    if runs < 3 or np.ptp(log_dwell) < np.log(SPAN):
        return unavailable("1", "production runs of fewer than two well parted speeds")
    terms = [means.direction("rate")[:runs], means.direction("force-gauge")[:runs]]
    drift = means.direction("density-drift")[:runs]
    if runs > 3 and np.any(drift):
        terms.append(drift)
    scaled = np.array(terms).T / means.noise[:runs, None]
    if np.linalg.matrix_rank(scaled) < scaled.shape[1]:
        return unavailable("1", "speed and time changed together")
    covariance = np.linalg.inv(scaled.T @ scaled)
    amount = covariance @ scaled.T @ (means.residual[:runs] / means.noise[:runs])
    middle, spread = means.exponent + float(amount[0]), float(np.sqrt(covariance[0, 0]))
    return Estimate(middle, "1", middle - NORMAL * spread, middle + NORMAL * spread)
