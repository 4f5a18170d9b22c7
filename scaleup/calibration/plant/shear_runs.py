"""The shear curve from runs of blend that was turned differently."""

from __future__ import annotations

from collections.abc import Sequence
from math import log

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.observations import Observation
from scaleup.calibration.plant.scores import Scores
from scaleup.calibration.plant.shear import ShearCurve
from scaleup.calibration.strength_curve import BELIEF, USUAL_SCATTER
from scaleup.model.study import Study
from scaleup.powder.shear import strength_after_shear

APART = 2.0
"""Runs tell the shear curve where their K are this far apart, as a ratio."""
LOSSES = np.linspace(0.0, 0.9, 37)
RATES = np.geomspace(1e-4, 0.1, 46)
"""beta and gamma looked at, in 1/dm: evenly likely before the runs, gamma in its logarithm."""


def shear_of_runs(study: Study, observations: Sequence[Observation]) -> Array | None:
    """Return K in dm of every run, shape (runs,); None where they do not differ or say nothing."""
    blender = study.transfer.lab_blender
    turns = [seen.run.revolutions for seen in observations]
    known = [each for each in turns if each is not None]
    if blender is None or not known or not study.transfer.has("shear"):
        return None
    usual = blender.revolutions or float(min(known))
    shear = np.array([blender.turned(usual if each is None else each) for each in turns])
    lab = np.array([seen.run.press == "lab" for seen in observations])
    if not lab.any() or shear[lab].max() < APART * shear[lab].min():
        return None
    return shear


def fit_shear(
    shear: Array,
    solid: Array,
    strength: Array,
    weights: Array,
    reference: float,
    scores: Scores,
) -> ShearCurve:
    """Return draws of the shear curve; all arrays over lab runs with a strength.

    Each pair of beta and gamma is weighed by how well ln(strength) less ``ln phi(K)`` lies on a
    line over solid fraction, its scatter left open.
    """
    losses, rates = (each.ravel() for each in np.meshgrid(LOSSES, RATES, indexing="ij"))
    sheared = np.log(strength_after_shear(shear[:, None], losses, rates))
    terms = np.sqrt(weights)[:, None] * np.column_stack([np.ones(solid.size), solid])
    target = np.sqrt(weights)[:, None] * (np.log(strength)[:, None] - sheared)
    misses = target - terms @ np.linalg.lstsq(terms, target, rcond=None)[0]
    squares = BELIEF * USUAL_SCATTER**2 + np.sum(misses**2, axis=0)
    likely = -0.5 * (BELIEF + solid.size - 2.0) * np.log(squares)
    shares = np.exp(likely - likely.max())
    even = scores.flat("shear curve")
    place = np.searchsorted(np.cumsum(shares / shares.sum()), even).clip(0, shares.size - 1)
    wide = 0.5 * (LOSSES[1] - LOSSES[0])
    step = 0.5 * log(RATES[1] / RATES[0])
    loss = losses[place] + wide * (2.0 * scores.flat("loss by shear") - 1.0)
    rate = rates[place] * np.exp(step * (2.0 * scores.flat("rate of shear") - 1.0))
    return ShearCurve(np.clip(loss, 0.0, 1.0), rate, reference, int(solid.size))
