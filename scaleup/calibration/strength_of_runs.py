"""Strength and ejection of the runs of a study: which tell a curve, and the curve they tell."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.observations import Observation
from scaleup.calibration.plant.evidence import PlantEvidence, PlantRuns
from scaleup.calibration.plant.lots import ONE_LOT, Lots, between, lot
from scaleup.calibration.plant.plant import before_production_runs, middle_and_spread
from scaleup.calibration.plant.shear_runs import fit_shear, shear_of_runs
from scaleup.calibration.plant.sides import BothSides
from scaleup.calibration.production_drift import places_in_trial
from scaleup.calibration.strength_curve import (
    FEEDER_BELIEF,
    STRENGTH_BELIEF,
    EjectionLine,
    LineBelief,
    StrengthCurve,
    draw_ejection_line,
    draw_strength_curve,
)
from scaleup.powder.law import Powder

LEAST_RUNS = 3
APART = 1.1
"""Two pressures this far apart, as a ratio, count as different."""
STEP = 1.01
"""Ratio of pressures between which the slope of the solid fraction is taken."""


@dataclass(frozen=True)
class StrengthOfRuns:
    """The strength curve of a study's runs, and what else their strengths tell."""

    curve: StrengthCurve | None
    scatter: float | None
    """Of ln(strength) of one tablet about the curve; None without a curve."""
    fitted: tuple[float | None, ...]
    """MPa, of every run at the middle of the draws; None of a run without a strength."""
    plant: PlantEvidence


def strength_of_runs(
    usable: tuple[Observation, ...],
    solid: Array,
    sides: BothSides,
    plant: PlantEvidence,
    rng: np.random.Generator,
) -> StrengthOfRuns:
    """Return the strength curve if three runs at two pressures have a strength.

    `solid` are the fitted solid fractions, shape (runs, draws).
    """
    strong = [i for i, seen in enumerate(usable) if seen.strength is not None]
    pressures = [usable[i].pressure for i in strong]
    if len(strong) < LEAST_RUNS or max(pressures) < APART * min(pressures):
        return StrengthOfRuns(None, None, (None,) * len(usable), plant)
    seen = tuple(usable[i] for i in strong)
    runs = _Strong(seen, solid[strong])
    sheared, plant = _sheared(runs, sides, plant)
    belief, places = _belief(runs, sides, plant), places_in_trial(runs.seen)
    curve, scatter = draw_strength_curve(
        runs.solid, runs.measured, runs.weights, runs.produced, sheared, belief, rng, places
    )
    fitted = _fitted(runs, curve, sheared, places)
    alone = float(np.median(scatter) * np.sqrt(runs.tablets.mean()))
    every: list[float | None] = [None] * len(usable)
    for place, value in zip(strong, fitted, strict=True):
        every[place] = float(value)
    if curve.feeder_known:
        plant = _with_factor(plant, sides, runs, curve)
    misses = np.log(runs.measured / fitted)
    read = between(runs.batches, misses[~runs.produced])
    lots = replace(plant.lots, strength=read)
    return StrengthOfRuns(curve, alone, tuple(every), replace(plant, lots=lots))


@dataclass(frozen=True)
class _Strong:
    """The runs with a strength."""

    seen: tuple[Observation, ...]
    solid: Array
    """Shape (runs, draws)."""

    @property
    def measured(self) -> Array:
        return np.array([each.strength for each in self.seen], dtype=np.float64)

    @property
    def tablets(self) -> Array:
        return np.array([float(each.run.tablets) for each in self.seen])

    @property
    def weights(self) -> Array:
        weights: Array = self.tablets / self.tablets.mean()
        return weights

    @property
    def produced(self) -> np.ndarray:
        return np.array([each.run.press == "production" for each in self.seen])

    @property
    def production_speed(self) -> float:
        """Return the mean turret speed in rpm of the production runs, which all state one."""
        speeds = [each.run.speed for each in self.seen if each.run.press == "production"]
        return float(np.mean([each for each in speeds if each is not None]))

    @property
    def batches(self) -> list[str]:
        return [each.run.batch for each in self.seen if each.run.press == "lab"]


def _sheared(
    runs: _Strong, sides: BothSides, plant: PlantEvidence
) -> tuple[Array | None, PlantEvidence]:
    """Return ln of what shear did to each run beside the lab result, (runs, draws), if known."""
    shear = shear_of_runs(sides.study, runs.seen)
    if shear is None:
        return None, plant
    lab = ~runs.produced
    middle = np.median(runs.solid, axis=1)
    named = [at for at, each in enumerate(runs.seen) if each.run.name == plant.reference]
    reference = float(np.mean(shear[named] if named else shear[lab]))
    curve = fit_shear(
        shear[lab], middle[lab], runs.measured[lab], runs.weights[lab], reference, plant.scores
    )
    sheared = np.array([curve.log_strength(np.array(each)) for each in shear])
    sheared[runs.produced] = 0.0
    return sheared, replace(plant, shear=curve)


def _belief(runs: _Strong, sides: BothSides, plant: PlantEvidence) -> LineBelief:
    """Return what is believed of the curve and of the factor of production runs before them."""
    if not runs.produced.any() or not sides.study.transfer.has("shear"):
        return FEEDER_BELIEF
    _, _, shear, testers = before_production_runs(sides, plant)
    speed = runs.production_speed
    middle, spread = middle_and_spread(shear.strength(speed) + testers.strength(speed))
    of_lots = float(np.std(lot(sides, ONE_LOT, plant.scores).strength(speed)))
    whole = float(np.hypot(spread, of_lots / np.sqrt(production_batches(runs.seen))))
    return LineBelief(
        (*STRENGTH_BELIEF.centre, middle), (*STRENGTH_BELIEF.spread, max(whole, 0.01))
    )


def _fitted(
    runs: _Strong, curve: StrengthCurve, sheared: Array | None, places: Array | None
) -> Array:
    """Return the strength in MPa of every run at the middle of the draws, shape (runs,)."""
    whole = np.where(
        runs.produced[:, None], curve.in_production(runs.solid), curve.strength(runs.solid)
    )
    if sheared is not None:
        whole = whole * np.exp(sheared)
    if places is not None and curve.drift is not None:
        whole = whole * np.exp(places[:, None] * curve.drift)
    result: Array = np.median(whole, axis=1)
    return result


def production_batches(seen: tuple[Observation, ...]) -> int:
    """Return of how many batches the production runs are, at least one."""
    return max(len({each.run.batch for each in seen if each.run.press == "production"}), 1)


def _with_factor(
    plant: PlantEvidence, sides: BothSides, runs: _Strong, curve: StrengthCurve
) -> PlantEvidence:
    known = plant.runs or PlantRuns(sides.production.press.id, production_batches(runs.seen))
    _, _, shear, _ = before_production_runs(sides, plant)
    believed = shear.strength(runs.production_speed)
    return replace(
        plant,
        runs=replace(
            known, log_strength=np.log(curve.feeder), shear=believed, strength_drift=curve.drift
        ),
    )


def pressure_of_lots(
    usable: tuple[Observation, ...], fitted: Array, powder: Powder, dwell: Array
) -> Lots:
    """Return what the solid fractions of runs of several batches say of the pressure they take.

    A miss of the solid fraction is one of ln(pressure) by the slope of the fitted law.
    """
    lab = [i for i, seen in enumerate(usable) if seen.run.press == "lab"]
    names = [usable[i].run.batch for i in lab]
    if len({name for name in names if name}) < 2:
        return Lots()
    pressure = np.array([usable[i].pressure for i in lab])[:, None]
    times = dwell[lab][:, None]
    more, less = (
        np.median(powder.solid_fraction_after(pressure * by, times), axis=1)
        for by in (STEP, 1.0 / STEP)
    )
    slope = (more - less) / (2.0 * np.log(STEP))
    measured = np.array([usable[i].solid_fraction for i in lab], dtype=np.float64)
    misses = (measured - fitted[lab]) / slope
    return Lots(pressure=between(names, misses))


def ejection_of_runs(
    observations: tuple[Observation, ...], draws: int, rng: np.random.Generator
) -> EjectionLine | None:
    """Return the ejection line if two runs have an ejection stress."""
    pushed = [seen for seen in observations if seen.ejection_stress is not None]
    if len(pushed) < 2:
        return None
    pressure = np.array([seen.pressure for seen in pushed])
    stress = np.array([seen.ejection_stress for seen in pushed], dtype=np.float64)
    tablets = np.array([float(seen.run.tablets) for seen in pushed])
    return draw_ejection_line(pressure, stress, tablets / tablets.mean(), draws, rng)
