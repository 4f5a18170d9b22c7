"""One hardening form fitted to the runs of a study."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.also_fitted import AlsoFitted
from scaleup.calibration.form_weights import corrected_akaike
from scaleup.calibration.forms import Form
from scaleup.calibration.possible_curves import first_values, possible_sets
from scaleup.calibration.posterior import Posterior, powder_of
from scaleup.calibration.prior import ElasticPrior, RatePrior, elastic_prior
from scaleup.calibration.run_dwell import DwellOfRuns, PressedRuns
from scaleup.calibration.sampling import Peak, find_peak
from scaleup.powder.mixture import side_by_side

DESIGN_SETS = 240
NOMINAL_EXPONENT = 0.03
"""Rate exponent that a fit begins with, about the mean of the published materials."""
BESIDE_THE_FORM = 2
"""Parameters that every fit has besides those of its form: the exponent and the scatter."""


@dataclass(frozen=True)
class FormFit:
    """One form at its most likely parameters."""

    posterior: Posterior
    peak: Peak

    @property
    def form(self) -> Form:
        """Return the form fitted."""
        return self.posterior.form

    @property
    def criterion(self) -> float:
        """Return the corrected Akaike criterion at the peak."""
        likelihood = float(self.posterior.log_likelihood(self.peak.columns[None, :])[0])
        parameters = len(self.form.parameters) + BESIDE_THE_FORM
        return corrected_akaike(likelihood, parameters, len(self.posterior.observations))


@dataclass(frozen=True)
class FirstLook:
    """A form before its fit: first values of its columns, and the dwells around them."""

    form: Form
    start: Array
    elastic: ElasticPrior
    dwell: DwellOfRuns

    @property
    def decades(self) -> float:
        """Return the decades of effective dwell the runs span, at the nominal exponent."""
        dwells = self.dwell.at(self.start[None, :])
        return float(np.log10(dwells.max() / dwells.min()))


def first_looks(
    forms: Sequence[Form], runs: PressedRuns, density: float, rng: np.random.Generator
) -> list[FirstLook]:
    """Return the forms' first values for runs with a solid fraction."""
    usable = runs.observations
    middle = sorted(usable, key=lambda seen: seen.pressure)[len(usable) // 2]
    in_die = any(seen.in_die_solid_fraction is not None for seen in usable)
    elastic = elastic_prior(middle.pressure, middle.solid_fraction or 0.0, measured=in_die)
    pressure = np.array([seen.pressure for seen in usable])
    level = -np.log1p(-np.array([seen.solid_fraction for seen in usable], dtype=np.float64))
    end = (NOMINAL_EXPONENT, elastic.log_mean)
    starts = [np.array([*first_values(form, pressure, level), *end]) for form in forms]
    rooms = [np.array([*form.room, 0.0, elastic.log_spread]) for form in forms]
    designs = [
        possible_sets(form, start, _design(start, room, rng), pressure)
        for form, start, room in zip(forms, starts, rooms, strict=True)
    ]
    dwells = _dwells(runs, forms, designs, density)
    return [
        FirstLook(form, start, elastic, dwell)
        for form, start, dwell in zip(forms, starts, dwells, strict=True)
    ]


def fit_forms(
    looks: Sequence[FirstLook],
    runs: PressedRuns,
    rate: RatePrior,
    density: float,
    rng: np.random.Generator,
    also: AlsoFitted,
) -> list[FormFit]:
    """Return the fit of every form; dwells that took the solver are solved again at the peak."""
    fits = [
        _at_the_peak(
            Posterior(look.form, rate, look.elastic, look.dwell, also),
            np.array([*look.start, *also.start]),
        )
        for look in looks
    ]
    if not runs.moved:
        return fits
    pulses = [also.pulse(each.peak.columns[None, :])[0] for each in fits]
    pressures = np.array([seen.pressure for seen in runs.observations])
    designs = [
        possible_sets(
            look.form, columns, _design(columns, _around(each.peak, columns.size), rng), pressures
        )
        for look, each, columns in zip(looks, fits, pulses, strict=True)
    ]
    dwells = _dwells(runs, [look.form for look in looks], designs, density)
    return [
        _at_the_peak(replace(each.posterior, dwell=dwell), each.peak.columns)
        for each, dwell in zip(fits, dwells, strict=True)
    ]


def _at_the_peak(posterior: Posterior, start: Array) -> FormFit:
    return FormFit(posterior, find_peak(posterior, start))


def _around(peak: Peak, count: int) -> Array:
    """Return how far from a peak the dwells have to be known; m is spread evenly anyway."""
    spread: Array = np.sqrt(np.diag(peak.covariance))[:count] * 2.0
    spread[-2] = 0.0
    return spread


def _design(centre: Array, spread: Array, rng: np.random.Generator) -> Array:
    """Return parameter sets to solve dwells on, shape (sets, columns); m is spread evenly."""
    sets = centre + spread * np.clip(rng.standard_normal((DESIGN_SETS, centre.size)), -2.5, 2.5)
    sets[:, -2] = 0.0005 + 0.15 * (np.arange(DESIGN_SETS) + 0.5) / DESIGN_SETS
    return sets


def _dwells(
    runs: PressedRuns, forms: Sequence[Form], designs: Sequence[Array], density: float
) -> list[DwellOfRuns]:
    powders = [powder_of(form, design) for form, design in zip(forms, designs, strict=True)]
    return runs.dwells(designs, side_by_side(powders), density)
