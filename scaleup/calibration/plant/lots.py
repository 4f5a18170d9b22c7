"""Batch to batch: the next batch is another lot, on another day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri

from scaleup.arrays import Array
from scaleup.calibration.plant.scores import Scores
from scaleup.calibration.plant.sides import BothSides
from scaleup.calibration.plant.term import Term, switched_off
from scaleup.model.transfer_terms import LOT_PRESSURE, LOT_STRENGTH
from scaleup.sentence import Sentence, Words
from scaleup.short_repr import short_repr

NAME, LABEL = "lot", "batch to batch"
BELIEF = 3.0
"""How many batches the usual spread is worth (a judgement of this program)."""


@short_repr
@dataclass(frozen=True)
class LotSpread:
    """What runs of several batches say of one figure: sum of squares between them, and freedom."""

    squares: float
    freedom: int
    batches: int

    def draws(self, usual: float, scores: Scores, name: str) -> Array:
        """Return standard deviations between batches, the usual one counting as a few batches."""
        whole = BELIEF + self.freedom
        chance = np.clip(scores.flat(name), 1e-6, 1.0 - 1e-6)
        squares = BELIEF * usual**2 + self.squares
        return np.sqrt(squares / np.asarray(chdtri(whole, chance), dtype=np.float64))


@dataclass(frozen=True)
class Lots:
    """What runs of several batches say, None where they say nothing."""

    strength: LotSpread | None = None
    pressure: LotSpread | None = None


ONE_LOT = Lots()


def between(names: Sequence[str], misses: Array) -> LotSpread | None:
    """Return the spread between batches of logarithms off the fit, None of fewer than two.

    The scatter of runs within a batch, which shows between the means as well, is taken off:
    ``sum (b_k - mean)^2 - (B - 1) scatter^2 / n``. Batches of one run each do not tell the two
    apart: all that they show counts as spread between batches.

    >>> between(["a", "a", "b", "b"], np.array([0.1, 0.1, -0.1, -0.1])).squares
    0.02
    >>> between(["a", "b"], np.array([0.1, -0.1])).squares
    0.02
    >>> between(["a", "a"], np.zeros(2)) is None
    True
    """
    batches = [each for each in dict.fromkeys(names) if each]
    if len(batches) < 2:
        return None
    groups = [misses[[name == each for name in names]] for each in batches]
    means = np.array([group.mean() for group in groups])
    size = float(np.mean([1.0 / group.size for group in groups]))
    freedom = len(batches) - 1
    squares = float(np.sum((means - means.mean()) ** 2)) - freedom * _within(groups) * size
    return LotSpread(max(squares, 0.0), freedom, len(batches))


def _within(groups: Sequence[Array]) -> float:
    """Return the variance of single runs about the mean of their batch, 0 if none has two."""
    freedom = sum(group.size - 1 for group in groups)
    squares = sum(float(np.sum((group - group.mean()) ** 2)) for group in groups)
    return squares / freedom if freedom else 0.0


def lot(sides: BothSides, lots: Lots, scores: Scores) -> Term:
    """Return what another batch does to strength at equal solid fraction, and to pressure."""
    terms = sides.study.transfer
    if not terms.has("lot"):
        return switched_off(NAME, LABEL)
    strength = _spread(terms.lot_strength, LOT_STRENGTH, lots.strength, scores, "lot strength")
    pressure = _spread(terms.lot_pressure, LOT_PRESSURE, lots.pressure, scores, "lot pressure")
    known = (
        terms.lot_strength is not None or lots.strength is not None,
        terms.lot_pressure is not None or lots.pressure is not None,
    )
    told = Sentence(
        "strength ±{strength:%} ({of_strength}), pressure ±{pressure:%} ({of_pressure}), "
        "one standard deviation",
        strength=float(np.median(strength)),
        of_strength=_source(terms.lot_strength, lots.strength, "published batches"),
        pressure=float(np.median(pressure)),
        of_pressure=_source(terms.lot_pressure, lots.pressure, "assumed"),
    )
    return Term(
        NAME,
        LABEL,
        "measured" if all(known) else "borrowed",
        told,
        log_pressure=pressure * scores.of("pressure of the batch"),
        log_strength=strength * scores.of("strength of the batch"),
    )


def _spread(
    stated: float | None, usual: float, read: LotSpread | None, scores: Scores, name: str
) -> Array:
    if stated is not None or read is None:
        return np.array([usual if stated is None else stated])
    return read.draws(usual, scores, name)


def _source(stated: float | None, read: LotSpread | None, usual: str) -> Words:
    if stated is not None:
        return "as the study states"
    return usual if read is None else Sentence("{count} batches of runs", count=read.batches)
