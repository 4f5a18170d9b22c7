"""The fit of a study: its powder in draws, and what the runs say about the fit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.evidence.dwell_surface import DwellOfRuns, dwell_of_runs
from scaleup.evidence.forms import HECKEL, Form
from scaleup.evidence.lack_of_fit import LackOfFit, lack_of_fit
from scaleup.evidence.observations import Observation, observe, sides, with_solid_fraction
from scaleup.evidence.one_curve import OneCurveTest, one_curve_test
from scaleup.evidence.posterior import Posterior, powder_of
from scaleup.evidence.prior import RatePrior, elastic_prior, rate_prior
from scaleup.evidence.sampling import Sample, draw, find_peak
from scaleup.evidence.strength_curve import (
    EjectionLine,
    StrengthCurve,
    draw_ejection_line,
    draw_strength_curve,
)
from scaleup.files.study import Study
from scaleup.powder.law import Powder

LEAST_RUNS = 3
APART = 1.1
"""Two pressures this far apart, as a ratio, count as different."""
DRIFT_PER_DECADE = 0.25
"""How much the rate exponent may differ, as a share for each decade of dwell beyond the runs
(one standard deviation): this project's judgement."""
DESIGN_SETS = 240
NOMINAL_EXPONENT = 0.03


@dataclass(frozen=True)
class Drawing:
    """How to draw: the number of draws and the seed that makes them repeatable."""

    draws: int = 4000
    seed: int = 1


@dataclass(frozen=True)
class RunFit:
    """One run against the fit."""

    observation: Observation
    effective_dwell: float
    """s, at the middle of the draws."""
    solid_fraction: float
    """Of the fit, at the middle of the draws."""
    solid_fraction_residual: float
    """Measured less fitted, in units of its standard deviation."""
    strength: float | None
    """MPa, of the fit."""
    strength_residual: float | None
    """ln(measured/fitted), in units of its standard deviation."""


@dataclass(frozen=True)
class Fit:
    """A fitted powder; everything drawn has shape (draws,) and the draws belong together."""

    form: str
    powder: Powder
    strength: StrengthCurve | None
    ejection: EjectionLine | None
    rate: RatePrior
    runs: tuple[RunFit, ...]
    dwell_span: tuple[float, float]
    """Shortest and longest effective dwell of the runs in s, at the middle of the draws."""
    decades: float
    """Decades of effective dwell the runs span, at the mean published rate exponent."""
    solid_fraction_scatter: float
    strength_scatter: float | None
    elastic_measured: bool
    effective_draws: float
    dwell_error: float
    """Largest error of an interpolated ln(effective dwell) of a run."""
    one_curve: OneCurveTest | None
    lack_of_fit: LackOfFit | None


@dataclass(frozen=True)
class NoFit:
    """Why the runs allow no fit, one reason each."""

    reasons: tuple[str, ...]


def fit(study: Study, *, draws: int = 4000, seed: int = 1) -> Fit | NoFit:
    """Return the powder fitted to all runs of a study, or why the runs allow no fit.

    Raises
    ------
    InputError
        If runs contradict each other, or the tooling cannot work on the press.
    """
    return fit_study(study, observe(study, sides(study)), Drawing(draws, seed))


def fit_study(study: Study, observations: tuple[Observation, ...], drawing: Drawing) -> Fit | NoFit:
    """Return the fit of a study's runs, or the reasons why there can be none."""
    usable = with_solid_fraction(observations)
    reasons = _reasons_against(usable)
    if reasons:
        return NoFit(reasons)
    rng = np.random.default_rng(drawing.seed)
    density = study.blend.true_density
    posterior, sample, decades = _sampled(study, usable, density, drawing, rng)
    powder = _with_drift(posterior, sample.columns, rng)
    solid, _ = posterior.solid_fractions(sample.columns)
    strength, strength_scatter, strong = _strength(usable, solid, rng)
    dwells = posterior.dwell.at(sample.columns)
    middle = np.median(dwells, axis=1)
    return Fit(
        form=posterior.form.name,
        powder=powder,
        strength=strength,
        ejection=_ejection(observations, drawing.draws, rng),
        rate=posterior.rate,
        runs=_against_fit(usable, solid, middle, strength, strength_scatter),
        decades=decades,
        dwell_span=(float(middle.min()), float(middle.max())),
        solid_fraction_scatter=_scatter(posterior.measured[:, 0], np.median(solid, axis=1)),
        strength_scatter=strength_scatter if strong else None,
        elastic_measured=any(seen.in_die_solid_fraction is not None for seen in usable),
        effective_draws=sample.effective,
        dwell_error=posterior.dwell.error,
        one_curve=_one_curve(usable, middle),
        lack_of_fit=lack_of_fit(
            tuple(f"{seen.run.press} {seen.run.name}" for seen in usable),
            posterior.measured[:, 0],
            np.median(solid, axis=1),
        ),
    )


def _one_curve(usable: tuple[Observation, ...], dwell: Array) -> OneCurveTest | None:
    strong = [i for i, seen in enumerate(usable) if seen.strength is not None]
    solid = np.array([usable[i].solid_fraction for i in strong], dtype=np.float64)
    strength = np.array([usable[i].strength for i in strong], dtype=np.float64)
    return one_curve_test(solid, strength, dwell[strong])


def _reasons_against(usable: tuple[Observation, ...]) -> tuple[str, ...]:
    reasons = []
    if len(usable) < LEAST_RUNS:
        reasons.append(
            f"{len(usable)} runs with weight and thickness, and so a solid fraction; "
            f"a fit takes at least {LEAST_RUNS}"
        )
    pressures = [seen.pressure for seen in usable]
    if usable and max(pressures) < APART * min(pressures):
        reasons.append(
            "all runs at one pressure; a densification curve takes two at least 10 % apart"
        )
    return tuple(reasons)


def _sampled(
    study: Study,
    usable: tuple[Observation, ...],
    density: float,
    drawing: Drawing,
    rng: np.random.Generator,
) -> tuple[Posterior, Sample, float]:
    """Return posterior, draws and decades of dwell.

    Dwell surfaces are solved around the first parameter set, then again around the peak.
    """
    form = HECKEL
    middle = sorted(usable, key=lambda seen: seen.pressure)[len(usable) // 2]
    in_die = any(seen.in_die_solid_fraction is not None for seen in usable)
    elastic = elastic_prior(middle.pressure, middle.solid_fraction or 0.0, measured=in_die)
    start = _start(usable, elastic.log_mean)
    design = _design(start, np.array([0.4, 0.15, 0.0, elastic.log_spread]), rng)
    dwell = _dwells(usable, design, form, density)
    decades = _decades(dwell, start)
    rate = rate_prior(study, measured=decades >= 1.0)
    posterior = Posterior(form, rate, elastic, dwell)
    peak = find_peak(posterior, start)
    if dwell.surfaces:
        spread = np.sqrt(np.diag(peak.covariance)) * 2.0
        spread[-2] = 0.0
        dwell = _dwells(usable, _design(peak.columns, spread, rng), form, density)
        posterior = Posterior(form, rate, elastic, dwell)
        peak = find_peak(posterior, peak.columns)
    return posterior, draw(posterior, peak, drawing.draws, rng), decades


def _start(usable: tuple[Observation, ...], log_elastic: float) -> Array:
    """Return a first parameter set: a straight line through the runs in Heckel's variable."""
    pressure = np.array([seen.pressure for seen in usable])
    level = -np.log1p(-np.array([seen.solid_fraction for seen in usable], dtype=np.float64))
    slope, intercept = np.polyfit(pressure, level, 1)
    slope = max(float(slope), 1e-3)
    return np.array([-np.log(slope), float(intercept), NOMINAL_EXPONENT, log_elastic])


def _design(centre: Array, spread: Array, rng: np.random.Generator) -> Array:
    """Return parameter sets to solve dwells on, shape (sets, columns); m is spread evenly."""
    sets = centre + spread * np.clip(rng.standard_normal((DESIGN_SETS, centre.size)), -2.5, 2.5)
    sets[:, -2] = 0.0005 + 0.15 * (np.arange(DESIGN_SETS) + 0.5) / DESIGN_SETS
    return sets


def _dwells(
    usable: tuple[Observation, ...], design: Array, form: Form, density: float
) -> DwellOfRuns:
    return dwell_of_runs(usable, design, lambda columns: powder_of(form, columns), density)


def _decades(dwell: DwellOfRuns, start: Array) -> float:
    dwells = dwell.at(start[None, :])
    return float(np.log10(dwells.max() / dwells.min()))


def _with_drift(posterior: Posterior, columns: Array, rng: np.random.Generator) -> Powder:
    plain = powder_of(posterior.form, columns)
    return Powder(
        plain.hardening,
        plain.rate_exponent,
        plain.elastic,
        tested_dwell=posterior.dwell.at(columns).min(axis=0),
        drift=DRIFT_PER_DECADE * rng.standard_normal(len(columns)),
    )


def _strength(
    usable: tuple[Observation, ...], solid: Array, rng: np.random.Generator
) -> tuple[StrengthCurve | None, float, bool]:
    """Return the strength curve if three runs at two solid fractions have a strength."""
    strong = [i for i, seen in enumerate(usable) if seen.strength is not None]
    pressures = [usable[i].pressure for i in strong]
    if len(strong) < LEAST_RUNS or max(pressures) < APART * min(pressures):
        return None, 0.0, False
    measured = np.array([usable[i].strength for i in strong], dtype=np.float64)
    tablets = np.array([float(usable[i].run.tablets) for i in strong])
    curve, scatter = draw_strength_curve(solid[strong], measured, tablets / tablets.mean(), rng)
    return curve, float(np.median(scatter)), True


def _ejection(
    observations: tuple[Observation, ...], draws: int, rng: np.random.Generator
) -> EjectionLine | None:
    pushed = [seen for seen in observations if seen.ejection_stress is not None]
    if len(pushed) < 2:
        return None
    pressure = np.array([seen.pressure for seen in pushed])
    stress = np.array([seen.ejection_stress for seen in pushed], dtype=np.float64)
    tablets = np.array([float(seen.run.tablets) for seen in pushed])
    return draw_ejection_line(pressure, stress, tablets / tablets.mean(), draws, rng)


def _scatter(measured: Array, fitted: Array) -> float:
    freedom = max(measured.size - 3, 1)
    return float(np.sqrt(np.sum((measured - fitted) ** 2) / freedom))


def _against_fit(
    usable: tuple[Observation, ...],
    solid: Array,
    dwell: Array,
    curve: StrengthCurve | None,
    strength_scatter: float,
) -> tuple[RunFit, ...]:
    fitted = np.median(solid, axis=1)
    measured = np.array([seen.solid_fraction for seen in usable], dtype=np.float64)
    spread = max(_scatter(measured, fitted), 1e-4)
    rows = []
    for index, seen in enumerate(usable):
        strong = None if curve is None else float(np.median(curve.strength(solid[index])))
        miss = None
        if strong is not None and seen.strength is not None:
            miss = float(np.log(seen.strength / strong)) / strength_scatter
        residual = float(measured[index] - fitted[index]) / spread
        rows.append(RunFit(seen, float(dwell[index]), float(fitted[index]), residual, strong, miss))
    return tuple(rows)
