"""The fit of a study: its powder in draws, and what the runs say about the fit."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from scaleup.arrays import Array, Places
from scaleup.calibration.also_fitted import AlsoFitted, DriftPrior, OffsetPrior
from scaleup.calibration.arguments import check_answer
from scaleup.calibration.form_fit import FormFit, first_looks, fit_forms
from scaleup.calibration.form_weights import akaike_weights, shares_of
from scaleup.calibration.forms import FORMS, Form
from scaleup.calibration.lack_of_fit import LackOfFit, lack_of_fit
from scaleup.calibration.logged_pulses import press_logs
from scaleup.calibration.observations import Observation, observe, sides, with_solid_fraction
from scaleup.calibration.plant.evidence import PlantEvidence, PlantRuns
from scaleup.calibration.plant.lots import Lots, lot
from scaleup.calibration.plant.plant import before_production_runs, middle_and_spread
from scaleup.calibration.plant.scores import Scores
from scaleup.calibration.plant.sides import BothSides
from scaleup.calibration.prior import RatePrior, rate_prior
from scaleup.calibration.production_drift import DRIFT_PRESSURE, places_in_trial
from scaleup.calibration.reference import choose_reference
from scaleup.calibration.relaxation import RelaxationEvidence, relaxation_evidence
from scaleup.calibration.run_dwell import PressedRuns
from scaleup.calibration.run_fit import Miss, RunFit, solid_fraction_misses, strength_misses
from scaleup.calibration.sampling import draw
from scaleup.calibration.strength_across_dwell import DwellTermTest, dwell_term_test
from scaleup.calibration.strength_curve import EjectionLine, StrengthCurve
from scaleup.calibration.strength_of_runs import (
    APART,
    LEAST_RUNS,
    ejection_of_runs,
    pressure_of_lots,
    production_batches,
    strength_of_runs,
)
from scaleup.model.study import Study
from scaleup.powder.law import Powder
from scaleup.powder.mixture import side_by_side
from scaleup.short_repr import short_repr
from scaleup.shown import Drawn

DENSEST = 0.98
"""Solid fraction above which tablets say nothing of how a powder densifies."""


@dataclass(frozen=True)
class Drawing:
    """How to draw: the number of draws and the seed that makes them repeatable."""

    draws: int = 4000
    seed: int = 1

    def generator(self) -> np.random.Generator:
        """Return the random numbers that begin with the seed."""
        return np.random.default_rng(self.seed)


@dataclass(frozen=True)
class FormShare:
    """One hardening form in the average of forms."""

    name: str
    criterion: float
    """Corrected Akaike criterion, lower is better."""
    weight: float
    draws: slice
    """Which draws follow this form; none if it is worth next to nothing."""

    @property
    def drawn(self) -> bool:
        """Return whether any draw follows this form."""
        return bool(self.draws.stop > self.draws.start)


@short_repr
@dataclass(frozen=True)
class Fit(Drawn):
    """A fitted powder; everything drawn has shape (draws,) and the draws belong together.

    Examples
    --------
    >>> from scaleup import read_study
    >>> study = read_study("examples/marram")
    >>> isinstance(fit(study, draws=300), Fit)
    True
    """

    forms: tuple[FormShare, ...]
    """The hardening forms averaged over, best first."""
    powder: Powder
    strength: StrengthCurve | None
    ejection: EjectionLine | None
    rate: RatePrior
    runs: tuple[RunFit, ...]
    dwell_span: tuple[float, float]
    """Shortest and longest effective dwell of the runs in s, at the middle of the draws."""
    decades: float
    """Decades of effective dwell the runs span, at the nominal rate exponent of 0.03."""
    solid_fraction_scatter: float
    """Of one tablet about the fit."""
    strength_scatter: float | None
    """Of ln(strength) of one tablet about the curve; None without a curve."""
    elastic_measured: bool
    effective_draws: float
    dwell_error: float
    """Largest error of an interpolated ln(effective dwell) of a run."""
    strength_across_dwell: DwellTermTest | None
    lack_of_fit: LackOfFit | None
    plant: PlantEvidence
    """What the runs say of the way to the plant."""
    relaxation: RelaxationEvidence | None = None
    """What logged holds say of the rate exponent, apart from the solid fractions."""

    def chosen(self, which: Places) -> Fit:
        """Return the fit with some of its draws, their places rising."""
        forms = [
            replace(each, draws=slice(*(int(end) for end in np.searchsorted(which, ends))))
            for each in self.forms
            for ends in [(each.draws.start, each.draws.stop)]
        ]
        return replace(
            self,
            forms=tuple(forms),
            powder=self.powder.chosen(which),
            strength=None if self.strength is None else self.strength.chosen(which),
            ejection=None if self.ejection is None else self.ejection.chosen(which),
            plant=self.plant.chosen(which),
        )


@dataclass(frozen=True)
class NoFit:
    """Why the runs allow no fit, one reason each.

    Examples
    --------
    >>> NoFit(("all runs have one pressure",)).reasons
    ('all runs have one pressure',)
    """

    reasons: tuple[str, ...]

    @property
    def why(self) -> str:
        """Return the reasons in one line."""
        return "; ".join(self.reasons)


def fit(study: Study, *, draws: int = 4000, seed: int = 1) -> Fit | NoFit:
    """Return the powder fitted to all runs of a study, or why the runs allow no fit.

    Raises
    ------
    InputError
        If runs contradict each other, or the tooling cannot work on the press.

    Examples
    --------
    >>> from scaleup import read_study
    >>> study = read_study("examples/marram")
    >>> found = fit(study, draws=300)
    >>> found.rate.evidence, found.powder.draws
    ('measured', 300)
    """
    check_answer(study, draws=draws, seed=seed)
    return fit_study(study, observe(study, sides(study)), Drawing(draws, seed))


def fit_study(study: Study, observations: tuple[Observation, ...], drawing: Drawing) -> Fit | NoFit:
    """Return the fit of a study's runs, or the reasons why there can be none."""
    usable = with_solid_fraction(observations)
    reasons = _reasons_against(usable)
    if reasons:
        return NoFit(reasons)
    rng = drawing.generator()
    sides, plant = _before_the_fit(study, usable, observations, drawing)
    also = AlsoFitted(_curvature(study), _offset_prior(sides, plant, usable), _drift_prior(usable))
    logs = press_logs(study, study.own_production, observations)
    average = _averaged(study, PressedRuns.of(usable, logs), drawing, also, rng)
    solid = average.solid_fraction
    middle = np.median(average.dwell, axis=1)
    fitted = np.median(solid, axis=1)
    measured = np.array([seen.solid_fraction for seen in usable], dtype=np.float64)
    best = average.forms[0]
    names = tuple(f"{seen.run.press} {seen.run.name}" for seen in usable)
    powder = average.powder
    scatter = _scatter(usable, measured, fitted)
    lots = pressure_of_lots(usable, fitted, powder, middle)
    shown = average.offset(sides.production.press.id, production_batches(usable))
    plant = replace(plant, lots=lots, runs=shown)
    strong = strength_of_runs(usable, solid, sides, plant, rng)
    return Fit(
        forms=average.shares,
        powder=powder,
        strength=strong.curve,
        ejection=ejection_of_runs(observations, drawing.draws, rng),
        rate=best.posterior.rate,
        runs=_against_fit(usable, solid, middle, best, strong.fitted),
        decades=average.decades,
        dwell_span=(float(middle.min()), float(middle.max())),
        solid_fraction_scatter=scatter,
        strength_scatter=strong.scatter,
        elastic_measured=any(seen.in_die_solid_fraction is not None for seen in usable),
        effective_draws=average.effective,
        dwell_error=max(each.posterior.dwell.error for each in average.forms),
        strength_across_dwell=_across_dwell(usable, middle),
        lack_of_fit=lack_of_fit(names, measured, fitted),
        relaxation=relaxation_evidence(
            usable, powder, study.blend.true_density, drawing.generator()
        ),
        plant=strong.plant,
    )


def _before_the_fit(
    study: Study,
    usable: tuple[Observation, ...],
    observations: tuple[Observation, ...],
    drawing: Drawing,
) -> tuple[BothSides, PlantEvidence]:
    """Return both sides of the study, and what is known of the way between them so far."""
    reference = choose_reference(study, usable)
    weight = reference.weight or float(np.mean([seen.weight for seen in usable]))
    solid = float(np.mean([seen.solid_fraction for seen in reference.runs]))
    made = study.own_production
    sides = BothSides(study, made, weight, study.target.weight or weight, solid)
    scores = Scores(drawing.draws, drawing.seed)
    return sides, PlantEvidence(
        scores, weight, solid, reference.name, observations, off=study.transfer.off
    )


def _curvature(study: Study) -> float:
    terms = study.transfer
    return terms.curvature if terms.has("curvature") else 0.0


def _drift_prior(usable: tuple[Observation, ...]) -> DriftPrior | None:
    places = places_in_trial(usable)
    return None if places is None else DriftPrior(DRIFT_PRESSURE, places[:, None])


def _offset_prior(
    sides: BothSides, plant: PlantEvidence, usable: tuple[Observation, ...]
) -> OffsetPrior | None:
    """Return what is believed of the offset of production pressures, None where none is seen."""
    produced = np.array([[seen.run.press == "production"] for seen in usable])
    if not produced.any() or produced.all():
        return None
    gauges, friction, *_ = before_production_runs(sides, plant)
    middle, spread = middle_and_spread(gauges.log_pressure + friction.log_pressure)
    of_lot = lot(sides, Lots(), plant.scores).log_pressure
    whole = float(np.hypot(spread, np.std(of_lot) / np.sqrt(production_batches(usable))))
    return None if whole == 0.0 else OffsetPrior(middle, whole, produced.astype(np.float64))


def _across_dwell(usable: tuple[Observation, ...], dwell: Array) -> DwellTermTest | None:
    strong = [i for i, seen in enumerate(usable) if seen.strength is not None]
    solid = np.array([usable[i].solid_fraction for i in strong], dtype=np.float64)
    strength = np.array([usable[i].strength for i in strong], dtype=np.float64)
    produced = np.array([usable[i].run.press == "production" for i in strong])
    return dwell_term_test(solid, strength, dwell[strong], produced)


def _counted(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _reasons_against(usable: tuple[Observation, ...]) -> tuple[str, ...]:
    reasons = []
    if len(usable) < LEAST_RUNS:
        reasons.append(
            f"{_counted(len(usable), 'run')} with weight and thickness, and so a solid fraction; "
            f"a fit takes at least {LEAST_RUNS}"
        )
    dense = float(np.median([seen.solid_fraction or 0.0 for seen in usable])) if usable else 0.0
    if dense > DENSEST:
        reasons.append(
            f"tablets with hardly a pore left (solid fraction {dense:.3f} at the median); a "
            f"densification curve takes tablets below {DENSEST:g}, so check the true density"
        )
    pressures = [seen.pressure for seen in usable]
    if usable and max(pressures) < APART * min(pressures):
        reasons.append(
            "all runs at one pressure; a densification curve takes two at least 10 % apart"
        )
    return tuple(reasons)


@dataclass(frozen=True)
class _Average:
    """The forms side by side; drawn arrays have their last axis over all draws."""

    forms: tuple[FormFit, ...]
    """Those drawn from, best first."""
    shares: tuple[FormShare, ...]
    columns: tuple[Array, ...]
    """Parameter sets of each form drawn from."""
    solid_fraction: Array
    """Fitted, of the runs, shape (runs, draws)."""
    dwell: Array
    """Effective dwell of the runs in s, shape (runs, draws)."""
    decades: float
    effective: float

    @cached_property
    def powder(self) -> Powder:
        """Return the powder of all draws."""
        ends = np.cumsum([0, *(len(columns) for columns in self.columns)])
        parts = [slice(first, last) for first, last in itertools.pairwise(ends)]
        each = zip(self.forms, self.columns, parts, strict=True)
        return side_by_side(
            [form.posterior.powder(columns, self.dwell[:, part]) for form, columns, part in each]
        )

    def offset(self, press: str, batches: int) -> PlantRuns | None:
        """Return the offset of the pressures of production runs on a press, if it was fitted."""
        also = self.forms[0].posterior.also
        if also.offset is None:
            return None
        logs = np.concatenate([also.log_offset(columns) for columns in self.columns])
        drift = None
        if also.drift is not None:
            drift = np.concatenate([also.log_drift(columns) for columns in self.columns])
        believed = also.offset.middle, also.offset.spread
        return PlantRuns(press, batches, logs, believed=believed, pressure_drift=drift)


def _averaged(
    study: Study,
    runs: PressedRuns,
    drawing: Drawing,
    also: AlsoFitted,
    rng: np.random.Generator,
) -> _Average:
    """Return the draws of every form, as many of each as its weight allows."""
    density = study.blend.true_density
    looks = first_looks(_asked_forms(study), runs, density, rng)
    decades = looks[0].decades
    rate = rate_prior(study, measured=decades >= 1.0)
    fits = fit_forms(looks, runs, rate, density, rng, also)
    fits.sort(key=lambda each: each.criterion)
    weights = akaike_weights(np.array([each.criterion for each in fits]))
    counts = shares_of(weights, drawing.draws)
    ends = np.cumsum(counts)
    shares = tuple(
        FormShare(each.form.name, each.criterion, float(weight), slice(int(end - count), int(end)))
        for each, weight, count, end in zip(fits, weights, counts, ends, strict=True)
    )
    drawn = [(each, count) for each, count in zip(fits, counts, strict=True) if count]
    samples = [draw(each.posterior, each.peak, count, rng) for each, count in drawn]
    pairs = [
        (each.posterior, sample.columns) for (each, _), sample in zip(drawn, samples, strict=True)
    ]
    return _Average(
        forms=tuple(each for each, _ in drawn),
        shares=shares,
        columns=tuple(sample.columns for sample in samples),
        solid_fraction=np.hstack([post.solid_fractions(columns)[0] for post, columns in pairs]),
        dwell=np.hstack([post.dwell_of(columns) for post, columns in pairs]),
        decades=decades,
        effective=sum(sample.effective for sample in samples),
    )


def _asked_forms(study: Study) -> list[Form]:
    fixed = study.blend.hardening
    return list(FORMS.values()) if fixed is None else [FORMS[fixed]]


def _scatter(usable: tuple[Observation, ...], measured: Array, fitted: Array) -> float:
    """Return the scatter of one tablet; a row that is the mean of n scatters by 1/sqrt(n) of it."""
    tablets = np.array([float(seen.run.tablets) for seen in usable])
    freedom = max(measured.size - 3, 1)
    return float(np.sqrt(np.sum(tablets * (measured - fitted) ** 2) / freedom))


def _against_fit(
    usable: tuple[Observation, ...],
    solid: Array,
    dwell: Array,
    best: FormFit,
    strong: tuple[float | None, ...],
) -> tuple[RunFit, ...]:
    """Return every run against the middle of the draws, leverages being those of the best form."""
    fitted = np.median(solid, axis=1)
    posterior = best.posterior
    weights = posterior.weights[:, 0]
    misses = solid_fraction_misses(posterior.measured[:, 0], fitted, weights, best.peak.leverage)
    broken = _strength_misses(usable, fitted, strong, weights)
    return tuple(
        RunFit(seen, float(dwell[i]), float(fitted[i]), misses[i], strong[i], broken.get(i))
        for i, seen in enumerate(usable)
    )


def _strength_misses(
    usable: tuple[Observation, ...], fitted: Array, strong: tuple[float | None, ...], weights: Array
) -> dict[int, Miss]:
    known = [i for i, seen in enumerate(usable) if seen.strength is not None and strong[i]]
    if not known:
        return {}
    misses = strength_misses(
        np.array([usable[i].strength for i in known], dtype=np.float64),
        np.array([strong[i] for i in known], dtype=np.float64),
        weights[known],
        fitted[known],
        np.array([usable[i].run.press == "production" for i in known]),
    )
    return dict(zip(known, misses, strict=True))
