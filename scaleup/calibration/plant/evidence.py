"""What the runs of a study say of the way to the plant, beside their powder."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from scaleup.arrays import Array, Places
from scaleup.calibration.observations import Observation
from scaleup.calibration.plant.lots import ONE_LOT, Lots
from scaleup.calibration.plant.scores import Scores
from scaleup.calibration.plant.shear import ShearCurve
from scaleup.model.study import ProductionSide
from scaleup.sentence import Sentence, Words, joined
from scaleup.short_repr import short_repr

Figure = Literal["log_pressure", "log_strength"]


@short_repr
@dataclass(frozen=True)
class PlantRuns:
    """What the production runs of one press show, each of shape (draws,), None where nothing."""

    maker: str
    """The press with its tooling, as `Run.maker` names it."""
    press: str
    """Id of the press."""
    tooling: str
    """Id of its tooling."""
    runs: int
    """How many there are."""
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
    """What production runs show of the study's own press; of the other press with most runs where
    it has none."""
    elsewhere: tuple[PlantRuns, ...] = ()
    """What they show of further presses."""
    off: tuple[str, ...] = ()
    """Terms that the study switches off."""
    which: Places | None = field(default=None, repr=False)
    """The draws that are chosen of all, None for all."""

    @property
    def every_press(self) -> tuple[PlantRuns, ...]:
        """Return what production runs show of each press, the study's own first."""
        return self.elsewhere if self.runs is None else (self.runs, *self.elsewhere)

    def with_runs(self, shown: Iterable[PlantRuns]) -> PlantEvidence:
        """Return the same with what production runs show of each press.

        The study's own press comes first; without it one that shows a factor of strength, which is
        all that another press borrows, and of those the one with most runs.
        """
        ordered = sorted(
            shown,
            key=lambda each: (each.maker != "production", each.log_strength is None, -each.runs),
        )
        return replace(self, runs=ordered[0] if ordered else None, elsewhere=tuple(ordered[1:]))

    @property
    def made_told(self) -> Words:
        """Return where production runs were made; empty if all were on the study's own press."""
        if all(each.maker == "production" for each in self.every_press):
            return ""
        return Sentence(
            "{first} production runs were made on {where}; each press has its own offset of "
            "pressure and factor of strength{borrowed}",
            first=self.every_press[0].runs,
            where=joined(", ", [self.every_press[0].press, *map(_count_on, self.elsewhere)]),
            borrowed=""
            if self.runs is None or self.runs.maker == "production"
            else Sentence(
                ", and a press without runs borrows the factor of {press}", press=self.runs.press
            ),
        )

    def nearest_to(self, side: ProductionSide, having: Figure | None = None) -> PlantRuns | None:
        """Return what production runs show that is nearest to a side; None where nothing is shown.

        Runs on the same press come first, of these such with the same tooling; then those on the
        study's own press. With `having` only runs that show that figure are looked at.
        """
        known = [
            each for each in self.every_press if having is None or getattr(each, having) is not None
        ]
        ids = side.press.id, side.tooling.id
        return max(
            known, key=lambda each: (each.press == ids[0], each.tooling == ids[1]), default=None
        )

    def chosen(self, which: Places) -> PlantEvidence:
        """Return the evidence for some of the draws, of those chosen already."""
        return replace(self, which=which if self.which is None else self.which[which])


def _count_on(shown: PlantRuns) -> Sentence:
    return Sentence("{runs} on {press}", runs=shown.runs, press=shown.press)


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
