"""One hardening form fitted to the runs of a study."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.dwell_surface import DwellOfRuns, dwell_of_runs
from scaleup.calibration.form_weights import corrected_akaike
from scaleup.calibration.forms import Form
from scaleup.calibration.observations import Observation
from scaleup.calibration.posterior import Posterior, powder_of
from scaleup.calibration.prior import ElasticPrior, RatePrior, elastic_prior
from scaleup.calibration.sampling import Peak, find_peak

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


def first_look(
    form: Form, usable: tuple[Observation, ...], density: float, rng: np.random.Generator
) -> FirstLook:
    """Return a form's first values for runs with a solid fraction."""
    middle = sorted(usable, key=lambda seen: seen.pressure)[len(usable) // 2]
    in_die = any(seen.in_die_solid_fraction is not None for seen in usable)
    elastic = elastic_prior(middle.pressure, middle.solid_fraction or 0.0, measured=in_die)
    pressure = np.array([seen.pressure for seen in usable])
    level = -np.log1p(-np.array([seen.solid_fraction for seen in usable], dtype=np.float64))
    start = np.array([*form.start(pressure, level), NOMINAL_EXPONENT, elastic.log_mean])
    room = np.array([*form.room, 0.0, elastic.log_spread])
    dwell = _dwells(usable, _design(start, room, rng), form, density)
    return FirstLook(form, start, elastic, dwell)


def fit_form(look: FirstLook, rate: RatePrior, density: float, rng: np.random.Generator) -> FormFit:
    """Return the fit of one form; dwells that take a solved pulse are solved again at the peak."""
    posterior = Posterior(look.form, rate, look.elastic, look.dwell)
    peak = find_peak(posterior, look.start)
    if look.dwell.surfaces:
        spread = np.sqrt(np.diag(peak.covariance)) * 2.0
        spread[-2] = 0.0
        design = _design(peak.columns, spread, rng)
        dwell = _dwells(look.dwell.observations, design, look.form, density)
        posterior = Posterior(look.form, rate, look.elastic, dwell)
        peak = find_peak(posterior, peak.columns)
    return FormFit(posterior, peak)


def _design(centre: Array, spread: Array, rng: np.random.Generator) -> Array:
    """Return parameter sets to solve dwells on, shape (sets, columns); m is spread evenly."""
    sets = centre + spread * np.clip(rng.standard_normal((DESIGN_SETS, centre.size)), -2.5, 2.5)
    sets[:, -2] = 0.0005 + 0.15 * (np.arange(DESIGN_SETS) + 0.5) / DESIGN_SETS
    return sets


def _dwells(
    usable: tuple[Observation, ...], design: Array, form: Form, density: float
) -> DwellOfRuns:
    return dwell_of_runs(usable, design, partial(powder_of, form), density)
