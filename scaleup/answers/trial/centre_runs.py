"""The runs of the centre against each other, before anything else is compared."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc

from scaleup.answers.trial.results import RunResult
from scaleup.arrays import Array
from scaleup.calibration.fit import Fit
from scaleup.calibration.observations import Observation
from scaleup.sentence import Fact, Sentence, Words

APART = 0.01
"""Centre runs are apart if chance sets them so far apart less often than this (a judgement of this
program)."""
SETTING_SOLID, SETTING_STRENGTH = 0.0025, 0.025
"""By how much two runs set alike differ beside the scatter of tablets: standard deviation of the
solid fraction, and of ln(strength) (judgements of this program)."""


@dataclass(frozen=True)
class CentreRuns:
    """Whether the centre came back to the same tablet."""

    names: tuple[str, ...]
    solid_fractions: tuple[float, ...]
    strengths: tuple[float | None, ...]
    """MPa."""
    together: bool | None
    """None of fewer than two runs."""
    chance: float
    """How often chance sets them so far apart."""
    told: Words


def centre_runs(
    results: tuple[RunResult, ...], observations: tuple[Observation, ...], fit: Fit
) -> CentreRuns:
    """Return the centre runs of a trial compared; `observations` are those of its runs.

    `fit` tells the scatter of tablets: that of the lab, which no run of the trial has widened.
    """
    names = {each.name for each in results if each.at_centre}
    seen = [
        each
        for each in observations
        if each.run.name in names and each.run.press == "production"
        and each.solid_fraction is not None
    ]  # fmt: skip
    solid = np.array([each.solid_fraction for each in seen], dtype=np.float64)
    strong = [each for each in seen if each.strength is not None]
    strength = np.array([each.strength for each in strong], dtype=np.float64)
    chances = [
        _chance(solid, np.hypot(_alone(fit.solid_fraction_scatter, seen), SETTING_SOLID)),
        _chance(
            np.log(strength),
            np.hypot(_alone(fit.strength_scatter or 0.0, strong), SETTING_STRENGTH),
        ),
    ]
    known = [each for each in chances if each is not None]
    chance = min(1.0, len(known) * min(known)) if known else 1.0
    together = None if not known else chance >= APART
    return CentreRuns(
        tuple(each.run.name for each in seen),
        tuple(float(each) for each in solid),
        tuple(each.strength for each in seen),
        together,
        chance,
        _told(seen, solid, strength, together, chance),
    )


def _alone(scatter: float, seen: list[Observation]) -> Array:
    result: Array = scatter / np.sqrt(np.array([float(each.run.tablets) for each in seen]))
    return result


def _chance(values: np.ndarray, spreads: np.ndarray) -> float | None:
    """Return how often values of such standard deviations are as far apart, None of fewer than 2.

    >>> round(_chance(np.array([0.0, 0.0, 0.0]), np.ones(3)), 3)
    1.0
    """
    if values.size < 2:
        return None
    weights = 1.0 / spreads**2
    mean = float(np.sum(weights * values) / np.sum(weights))
    return float(chdtrc(values.size - 1, np.sum(weights * (values - mean) ** 2)))


def _told(
    seen: list[Observation],
    solid: np.ndarray,
    strength: np.ndarray,
    together: bool | None,
    chance: float,
) -> Words:
    if together is None:
        return "fewer than two centre runs were filled in"
    strong: Words = ""
    if strength.size > 1:
        strong = Sentence(
            ", strength {weakest} to {strongest}",
            weakest=Fact(float(strength.min()), "MPa"),
            strongest=Fact(float(strength.max()), "MPa"),
        )
    return Sentence(
        "{runs}: solid fraction {loosest:.3f} to {densest:.3f}{strong}; chance sets them so far "
        "apart {often}",
        runs=", ".join(each.run.name for each in seen),
        loosest=float(solid.min()),
        densest=float(solid.max()),
        strong=strong,
        often="in less than 1 of 1000 trials"
        if chance < 1e-3
        else Sentence("in {chance:%} of trials", chance=chance),
    )
