"""What the runs of a study say of the way to the plant, beside their powder."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from scaleup.arrays import Array, Places
from scaleup.calibration.observations import Observation
from scaleup.calibration.plant.lots import ONE_LOT, Lots
from scaleup.calibration.plant.scores import Scores
from scaleup.calibration.plant.shear import ShearCurve
from scaleup.short_repr import short_repr


@short_repr
@dataclass(frozen=True)
class PlantRuns:
    """What production runs show of their press, each of shape (draws,), None where nothing."""

    press: str
    """Id of the press that made them."""
    batches: int
    log_pressure: Array | None = None
    """ln of the pressure that densifies over that which the production gauge reads."""
    log_strength: Array | None = None
    """ln of the strength over that of lab tablets at equal solid fraction."""
    believed: tuple[float, float] = (0.0, 1.0)
    """Mean and standard deviation of `log_pressure` before any production run."""
    pressure_drift: Array | None = None
    """ln of the pressure that densifies at the end of a trial over that at its start."""
    strength_drift: Array | None = None
    """The same of the strength at equal solid fraction."""
    shear: Array = field(default_factory=lambda: np.zeros(1), repr=False)
    """ln of what shear was believed to do to their strength, at the speed of these runs."""


@short_repr
@dataclass(frozen=True)
class PlantEvidence:
    """Everything a transfer to any press needs to know of the runs."""

    scores: Scores
    lab_weight: float
    """mg, of the lab result."""
    solid_fraction: float
    """Of the lab result."""
    reference: str
    """Name of the runs that are the lab result."""
    observations: tuple[Observation, ...] = field(default=(), repr=False)
    shear: ShearCurve | None = None
    lots: Lots = ONE_LOT
    runs: PlantRuns | None = None
    off: tuple[str, ...] = ()
    """Terms that the study switches off."""
    which: Places | None = field(default=None, repr=False)
    """The draws that are chosen of all, None for all."""

    def chosen(self, which: Places) -> PlantEvidence:
        """Return the evidence for some of the draws, of those chosen already."""
        return replace(self, which=which if self.which is None else self.which[which])


def next_batch(
    shown: Array, middle: float, spread: float, lot: float, batches: int, score: Array
) -> Array:
    """Return the mean of batches to come, from what some batches showed, shape (draws,).

    What was shown is the mean plus the chance of those batches. With the mean normal about
    `middle` and batches normal about the mean by `lot`, the mean given what was shown is normal
    about ``middle + w (shown - middle)`` with the variance ``w lot^2 / batches``,
    ``w = spread^2 / (spread^2 + lot^2 / batches)``.

    >>> next_batch(np.array([0.1]), 0.0, 1.0, 0.0, 1, np.ones(1))
    array([0.1])
    """
    of_batches = lot**2 / batches
    share = 1.0 / (1.0 + of_batches / max(spread**2, 1e-300)) if of_batches else 1.0
    result: Array = middle + share * (shown - middle) + np.sqrt(share * of_batches) * score
    return result
