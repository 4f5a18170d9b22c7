"""What to measure next: every experiment by how much it would narrow the bands, and its cost.

An experiment leaves a share of the spread of the terms it measures; the figures are worked out
again with that share on the same draws. Lab runs are weighed by `scaleup.answers.proposals`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from scaleup.answers.proposals import Proposals
from scaleup.calibration.plant.friction import SCATTER as FRICTION_SCATTER
from scaleup.calibration.plant.gauges import CHECKED
from scaleup.calibration.plant.plant import PRESSURE_OFFSET, STRENGTH_FACTOR
from scaleup.calibration.plant.scores import Scores
from scaleup.calibration.plant.shear import shear
from scaleup.calibration.plant.shear_runs import fit_shear
from scaleup.calibration.plant.sides import BothSides
from scaleup.calibration.plant.term import Term
from scaleup.model.experiments import Cost
from scaleup.model.study import Study
from scaleup.model.transfer_terms import Blending
from scaleup.powder.shear import strength_after_shear
from scaleup.sentence import Fact, Sentence, Words
from scaleup.transfer.budget import Budget, FigureName

READINGS_LEFT = 0.4
"""Share of the spread of thickness, weight and density that certificates leave (a judgement of this
program)."""
PUNCH_RUNS, FEEDER_TABLETS, TURNED = 6, 6, (1.0, 4.0, 16.0)
"""Tablets with a lower punch force; tablets of blend from the feeder; times the usual turns of an
over-mixed blend, three tablets each."""
BLENDER = Blending(volume=2e6, headspace=0.5, revolutions=100)
"""Taken for the lab's blender where the study states none (a judgement of this program)."""
LOSS, RATE = 0.3, 0.004
"""beta and gamma of the blend that an over-mixing experiment is weighed for (from memory)."""
WORTH = 0.01
"""A term that narrows a band by less than this share as it shrinks is not worth an experiment (a
judgement of this program)."""


@dataclass(frozen=True)
class Experiment:
    """One thing that could be measured, and by which share each band would narrow."""

    name: str
    """As a study states its cost."""
    told: Words
    left: dict[str, float]
    """Share of the spread that it leaves of each term it measures, by their names."""
    narrower: dict[FigureName, float]
    cost: Cost

    @property
    def worth(self) -> float:
        """Return the mean of what it narrows of strength and needed force."""
        counted = [share for name, share in self.narrower.items() if name != "solid fraction"]
        return float(np.mean(counted)) if counted else 0.0

    @property
    def time(self) -> float:
        """Return how long it takes in s."""
        return self.cost.time or 0.0


def experiments(budget: Budget, what: Proposals | None) -> tuple[Experiment, ...]:
    """Return every experiment that the site can do, the worthiest first, the cheaper of equals."""
    ranked = [*_of_terms(budget), *_lab_runs(budget, what)]
    costs = budget.case.study.experiments
    known = [each for each in ranked if costs.cost(each.name).possible]
    return tuple(sorted(known, key=lambda each: (-round(each.worth, 3), each.time)))


def ruled_out(study: Study) -> tuple[str, ...]:
    """Return the experiments that a study states to be impossible at its site, in words."""
    every = {kind.name: kind.told for kind in KINDS} | {"lab_runs": "lab runs"}
    return tuple(told for name, told in every.items() if not study.experiments.cost(name).possible)


@dataclass(frozen=True)
class Shrinking:
    """An experiment that shrinks one term of one figure."""

    experiment: Experiment
    narrower: float
    """Share by which the figure's band narrows as this term shrinks alone."""


def cheapest(
    budget: Budget, ranked: tuple[Experiment, ...], term: str, figure: FigureName
) -> Shrinking | None:
    """Return the cheapest experiment that narrows a figure's band through one term, if any does.

    It narrows the band at least half as much as the best does.
    """
    able = [
        Shrinking(each, 1.0 - budget.width(figure, {term: each.left[term]}))
        for each in ranked
        if term in each.left
    ]
    best = max((each.narrower for each in able), default=0.0)
    if best < WORTH:
        return None
    enough = [each for each in able if each.narrower >= 0.5 * best]
    return min(enough, key=lambda each: (each.experiment.time, -each.narrower))


Left = Callable[[Budget, dict[str, Term]], dict[str, float]]


@dataclass(frozen=True)
class _Kind:
    name: str
    told: str
    left: Left


def _of_terms(budget: Budget) -> Iterator[Experiment]:
    terms = {term.name: term for term in budget.terms}
    costs = budget.case.study.experiments
    for kind in KINDS:
        left = {name: share for name, share in kind.left(budget, terms).items() if name in terms}
        if left:
            narrower = {name: max(1.0 - budget.width(name, left), 0.0) for name in budget.now}
            yield Experiment(kind.name, kind.told, left, narrower, costs.cost(kind.name))


def _lab_runs(budget: Budget, what: Proposals | None) -> Iterator[Experiment]:
    """Yield the best lab runs as one experiment beside the others."""
    if what is None or not what.best:
        return
    best = what.best[0]
    narrower: dict[FigureName, float] = {"needed force": best.needed_force}
    if best.strength is not None:
        narrower["strength"] = best.strength
    told = Sentence(
        "{tablets} lab tablets at {force}, as scaleup judge tells",
        tablets=best.tablets,
        force=Fact(best.force, "N"),
    )
    cost = budget.case.study.experiments.cost("lab_runs")
    yield Experiment("lab_runs", told, {}, narrower, cost)


def _share(spread: float, now: float) -> float:
    return min(spread / now, 1.0) if now > 0.0 else 1.0


def _gauges(_: Budget, terms: dict[str, Term]) -> dict[str, float]:
    if "gauges" not in terms:
        return {}
    return {"gauges": _share(CHECKED, float(np.std(terms["gauges"].log_pressure)))}


def _testers(_: Budget, terms: dict[str, Term]) -> dict[str, float]:
    if "testers" not in terms:
        return {}
    return {"testers": _share(CHECKED, float(np.std(terms["testers"].strength(0.0))))}


def _readings(_: Budget, terms: dict[str, Term]) -> dict[str, float]:
    stated = terms.get("readings")
    return {"readings": READINGS_LEFT} if stated and stated.grade == "assumed" else {}


def _friction(budget: Budget, terms: dict[str, Term]) -> dict[str, float]:
    stated = terms.get("friction")
    if stated is None or stated.grade != "assumed":
        return {}
    prior = np.log(budget.case.study.transfer.wall_friction_factor)
    after = (PUNCH_RUNS / FRICTION_SCATTER**2 + 1.0 / prior**2) ** -0.5
    return {"friction": float(after / prior)}


def _over_mixed(budget: Budget, terms: dict[str, Term]) -> dict[str, float]:
    """Return what blend turned 1, 4 and 16 times as long leaves, fitted to simulated tablets."""
    case, known = budget.case, terms.get("shear")
    if known is None or case.fit.plant.shear is not None or known.grade != "assumed":
        return {}
    blender = case.study.transfer.lab_blender or BLENDER
    usual = blender.shear or blender.turned(BLENDER.revolutions or 1)
    shears = np.repeat(np.array(TURNED) * usual, 3)
    solid = np.tile([0.83, 0.84, 0.85], len(TURNED))
    strength = np.exp(8.0 * (solid - 0.84)) * strength_after_shear(shears, LOSS, RATE)
    scores = Scores(case.fit.powder.draws, case.calibrated.drawing.seed)
    curve = fit_shear(shears, solid, strength, np.ones(shears.size), usual, scores)
    plant = case.fit.plant
    weight = case.process.charge.weight
    sides = BothSides(case.study, case.production, plant.lab_weight, weight, plant.solid_fraction)
    after = shear(sides, curve, scores).strength(case.speed)
    return {"shear": _share(float(np.std(after)), float(np.std(known.strength(case.speed))))}


def _feeder_blend(budget: Budget, terms: dict[str, Term]) -> dict[str, float]:
    known, scatter = terms.get("shear"), budget.case.fit.strength_scatter
    if known is None or scatter is None:
        return {}
    now = float(np.std(known.strength(budget.case.speed)))
    return {"shear": _share(scatter / np.sqrt(FEEDER_TABLETS), now)}


def _second_lot(_: Budget, terms: dict[str, Term]) -> dict[str, float]:
    """Return that another lot tells the spread between lots, which it does not narrow."""
    return {"lot": 1.0} if "lot" in terms and terms["lot"].grade != "measured" else {}


def _trial(budget: Budget, terms: dict[str, Term]) -> dict[str, float]:
    """Return what one batch on the press leaves: the chance of that batch.

    Where batches were made there already, one more leaves ``sqrt(B/(B + 1))`` of theirs.
    """
    runs = budget.case.fit.plant.nearest_to(budget.case.production)
    if runs is not None and (PRESSURE_OFFSET in terms or STRENGTH_FACTOR in terms):
        more = float(np.sqrt(runs.batches / (runs.batches + 1.0)))
        return dict.fromkeys((PRESSURE_OFFSET, STRENGTH_FACTOR), more)
    speed, lot = budget.case.speed, terms.get("lot")
    of_lot = (0.0, 0.0)
    if lot is not None:
        of_lot = float(np.std(lot.log_pressure)), float(np.std(lot.strength(speed)))
    pressure = [terms[name].log_pressure for name in ("gauges", "friction") if name in terms]
    strength = [terms[name].strength(speed) for name in ("shear", "testers") if name in terms]
    pairs = ((("gauges", "friction"), pressure, of_lot[0]),
             (("shear", "testers"), strength, of_lot[1]))  # fmt: skip
    left: dict[str, float] = {}
    for names, values, chance in pairs:
        whole = float(np.sqrt(sum(float(np.var(each)) for each in values)))
        share = chance / max(float(np.hypot(whole, chance)), 1e-12)
        left |= {name: share for name in names if name in terms}
    return left


KINDS: tuple[_Kind, ...] = (
    _Kind("gauge_check", "both force gauges read one load (load cell or steel slug)", _gauges),
    _Kind("tester_check", "tablets of one batch broken on both testers", _testers),
    _Kind(
        "readings_check",
        "certificates of thickness gauge and balance, true density measured again",
        _readings,
    ),
    _Kind(
        "lower_punch_force",
        f"{PUNCH_RUNS} lab tablets with the force on the lower punch read",
        _friction,
    ),
    _Kind(
        "over_mixed_blend",
        "lab tablets of blend turned 1, 4 and 16 times as long, 3 each",
        _over_mixed,
    ),
    _Kind(
        "feeder_blend",
        f"{FEEDER_TABLETS} lab tablets of blend from the production feeder",
        _feeder_blend,
    ),
    _Kind("second_lot", "lab tablets of two more lots, 3 each at three forces", _second_lot),
    _Kind("trial_run", "a run of one batch on the production press", _trial),
)
"""Every experiment but lab runs; a new one is a function and a line here, and its default cost."""
