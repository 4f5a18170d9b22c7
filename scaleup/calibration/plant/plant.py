"""The way from the lab to one production press: every term, and what they make together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array, Places
from scaleup.calibration.plant.evidence import PlantEvidence, PlantRuns, next_batch
from scaleup.calibration.plant.friction import friction
from scaleup.calibration.plant.gauges import gauges
from scaleup.calibration.plant.lots import lot
from scaleup.calibration.plant.lubricant import lubricated
from scaleup.calibration.plant.pulse import LABEL as PULSE_LABEL
from scaleup.calibration.plant.pulse import NAME as PULSE
from scaleup.calibration.plant.readings import readings, testers
from scaleup.calibration.plant.scores import Scores
from scaleup.calibration.plant.shear import shear
from scaleup.calibration.plant.sides import BothSides
from scaleup.calibration.plant.term import AtSpeed, Term, switched_off
from scaleup.model.study import ProductionSide, Study
from scaleup.sentence import Sentence
from scaleup.short_repr import short_repr

PRESSURE_OFFSET, STRENGTH_FACTOR = "pressure-offset", "strength-factor"


@short_repr
@dataclass(frozen=True)
class Plant:
    """Every term of one transfer; the figures of a press are multiplied by what they make."""

    terms: tuple[Term, ...]

    @property
    def log_pressure(self) -> Array:
        """Return ln of the pressure that densifies, in the lab's terms, over that read."""
        return self._sum([term.log_pressure for term in self.terms])

    @property
    def log_solid_fraction(self) -> Array:
        """Return ln of the true solid fraction over that in the lab's terms."""
        return self._sum([term.log_solid_fraction for term in self.terms])

    def log_strength(self, speed: float) -> Array:
        """Return ln of the strength over the lab's at equal solid fraction, at a speed in rpm."""
        return self._sum([term.strength(speed) for term in self.terms])

    def log_dwell(self, pressure: Array, speed: float) -> Array:
        """Return ln of the effective dwell over that of the geometry, as `PulseRatio` does."""
        return self._sum([of(pressure, speed) for term in self.terms if (of := term.log_dwell)])

    @property
    def of_the_pulse(self) -> Plant:
        """Return what makes the pulse of the press another than its geometry gives, alone."""
        return Plant(tuple(term for term in self.terms if term.log_dwell is not None))

    @staticmethod
    def _sum(parts: list[Array]) -> Array:
        total = np.zeros(1)
        for part in parts:
            total = total + part
        return total

    def chosen(self, which: Places) -> Plant:
        """Return the same with some of the draws."""
        return Plant(tuple(term.chosen(which) for term in self.terms))

    def shrunk(self, name: str, share: float) -> Plant:
        """Return the same with that share left of the spread of one term."""
        return Plant(
            tuple(term.shrunk(share) if term.name == name else term for term in self.terms)
        )


NO_PLANT = Plant(())
"""A transfer in which nothing but the law counts."""


def plant_of(
    study: Study, production: ProductionSide, evidence: PlantEvidence, weight: float
) -> Plant:
    """Return the way to a production press that makes tablets of a weight in mg."""
    sides = BothSides(study, production, evidence.lab_weight, weight, evidence.solid_fraction)
    whole = Plant(tuple(_terms(sides, evidence)))
    return whole if evidence.which is None else whole.chosen(evidence.which)


def before_production_runs(sides: BothSides, evidence: PlantEvidence) -> tuple[Term, ...]:
    """Return the terms that production runs measure: of the pressure two, of the strength two."""
    scores = evidence.scores
    return (
        gauges(sides, scores),
        friction(sides, lubricated(sides.study), evidence.observations, scores),
        shear(sides, evidence.shear, scores),
        testers(sides, scores),
    )


def _terms(sides: BothSides, evidence: PlantEvidence) -> Iterator[Term]:
    scores = evidence.scores
    of_gauges, of_friction, of_shear, of_testers = before_production_runs(sides, evidence)
    batches = lot(sides, evidence.lots, scores)
    runs = evidence.runs
    same = runs is not None and runs.press == sides.production.press.id
    if runs is not None and same and runs.log_pressure is not None:
        middle, spread = middle_and_spread(of_gauges.log_pressure + of_friction.log_pressure)
        by = next_batch(
            runs.log_pressure,
            middle,
            spread,
            float(np.std(batches.log_pressure)),
            runs.batches,
            scores.of("mean pressure of batches"),
        )
        by = by + _at_some_time(runs.pressure_drift, scores)
        yield Term(PRESSURE_OFFSET, "production offset of pressure", "measured",
                   _shown_by(runs, "pressure"), by)  # fmt: skip
    else:
        yield of_gauges
        yield of_friction
    if runs is not None and runs.log_strength is not None:
        yield _strength_shown(runs, same, of_shear, of_testers, batches, sides, evidence)
        if not same:
            yield of_testers
    else:
        yield of_shear
        yield of_testers
    yield batches
    yield readings(sides, scores)
    if not sides.study.transfer.has("pulse"):
        yield switched_off(PULSE, PULSE_LABEL)


def _at_some_time(drift: Array | None, scores: Scores) -> Array:
    """Return what a drift seen in a trial makes at any time within one as long, ln."""
    return np.zeros(1) if drift is None else drift * (scores.flat("time in a trial") - 0.5)


def _strength_shown(
    runs: PlantRuns,
    same: bool,
    of_shear: Term,
    of_testers: Term,
    batches: Term,
    sides: BothSides,
    evidence: PlantEvidence,
) -> Term:
    """Return the factor of strength of production runs, carried with the feeder's stay.

    What shear does there is set against what it did where the factor was seen.
    """
    own = sides.production.speed
    middle, spread = middle_and_spread(runs.shear + of_testers.strength(own))
    if not of_shear.counts:  # nothing was believed of shear: the runs alone say it
        spread = np.inf
    shown = np.zeros(1) if runs.log_strength is None else runs.log_strength
    by = next_batch(
        shown, middle, spread, float(np.std(batches.strength(own))), runs.batches,
        evidence.scores.of("mean strength of batches"),
    )  # fmt: skip
    by = by + _at_some_time(runs.strength_drift, evidence.scores)
    factor: Array | AtSpeed = by
    if isinstance(of_shear.log_strength, AtSpeed):
        curve = of_shear.log_strength

        def at(speed: float, which: Places | None) -> Array:
            whole = by + curve.of(speed, None) - runs.shear
            return whole if which is None else whole[which]

        factor = AtSpeed(at)
    return Term(
        STRENGTH_FACTOR,
        "production factor of strength",
        "measured" if same else "borrowed",
        _shown_by(runs, "strength"),
        log_strength=factor,
    )


def _shown_by(runs: PlantRuns, figure: str) -> Sentence:
    return Sentence(
        "{figure} as production runs of {batches} on {press} show it",
        figure=figure,
        press=runs.press,
        batches="one batch" if runs.batches == 1 else f"{runs.batches} batches",
    )


def middle_and_spread(values: Array) -> tuple[float, float]:
    """Return mean and standard deviation of draws."""
    return float(np.mean(values)), float(np.std(values))
