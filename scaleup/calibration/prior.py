"""What is believed before the runs are seen, each with its source and its grade."""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np
from scipy.special import ndtr

from scaleup.arrays import Array
from scaleup.io.materials import Material, material, materials
from scaleup.model.study import Study
from scaleup.powder.rate import rate_exponent
from scaleup.short_repr import short_repr

TABLE_UPPER = 0.1
"""Bound of the rate exponent where only the published spread is known."""
UPPER = 0.2
"""Bound of the rate exponent where runs or a named material speak."""
BORROWED_SPREAD, BORROWED_LEAST = 0.25, 0.004
"""Share and least value of the spread around a published value (this project's judgement)."""
COMPOSED_SPREAD, COMPOSED_LEAST = 0.5, 0.008
"""The same for a volume-weighted composition, which is weaker evidence."""
MEASURED_WIDENING = 2.0
"""How much wider than the published spread the prior is where runs are to decide."""
RECOVERY = (0.02, 0.04, 0.08)
"""Axial elastic recovery, low, middle and high: a range from memory."""
DENSEST = 0.995


@short_repr
@dataclass(frozen=True)
class RatePrior:
    """What is believed of the rate exponent, cut off at 0 and at an upper bound.

    A normal distribution, or several side by side with equal weight: the exponent is one of theirs.
    """

    parts: tuple[tuple[float, float], ...]
    """Mean and standard deviation of each normal distribution."""
    upper: float
    evidence: str
    source: str

    @property
    def mean(self) -> float:
        """Return the mean, the cut-off left aside."""
        return float(np.mean([mean for mean, _ in self.parts]))

    @property
    def spread(self) -> float:
        """Return the standard deviation, the cut-off left aside."""
        means, spreads = np.array(self.parts).T
        return float(np.sqrt(np.mean(spreads**2) + np.var(means)))

    def log_density(self, m: Array) -> Array:
        """Return the logarithm of the density but for a constant, minus infinity outside."""
        inside = (m >= 0.0) & (m <= self.upper)
        each = [
            -0.5 * ((m - mean) / spread) ** 2 - log(spread * self._kept(mean, spread))
            for mean, spread in self.parts
        ]
        return np.where(inside, np.logaddexp.reduce(each, axis=0), -np.inf)

    def _kept(self, mean: float, spread: float) -> float:
        """Return the share of a normal distribution between the bounds."""
        return float(ndtr((self.upper - mean) / spread) - ndtr(-mean / spread))


def exponent_of(material: Material) -> float:
    """Return the rate exponent of a published strain-rate sensitivity."""
    return float(
        rate_exponent(material.sensitivity, material.slow, material.fast, material.relative_to)
    )


def published_spread() -> tuple[float, float]:
    """Return mean and standard deviation of the rate exponents of the published table."""
    exponents = np.array([exponent_of(item) for item in materials()])
    return float(exponents.mean()), float(exponents.std(ddof=1))


def rate_prior(study: Study, measured: bool) -> RatePrior:
    """Return the prior of the rate exponent and the grade of evidence it stands for.

    `measured` says that the runs themselves span at least a decade of effective dwell; the prior
    is then only the published spread, widened so that the runs decide.
    """
    mean, spread = published_spread()
    if measured:
        wide = ((mean, MEASURED_WIDENING * spread),)
        return RatePrior(wide, UPPER, "measured", "runs at different dwell")
    named = study.blend.rate_material
    if named is not None:
        entry = material(named)
        borrowed = exponent_of(entry)
        part = (borrowed, _borrowed_width(borrowed))
        return RatePrior((part,), UPPER, "borrowed", f"{entry.name}: {entry.source}")
    composed = _composed(study)
    if composed is not None:
        width = max(COMPOSED_SPREAD * composed[0], COMPOSED_LEAST)
        return RatePrior(((composed[0], width),), UPPER, "borrowed", composed[1])
    source = f"one of {len(materials())} published materials, not known which"
    exponents = [exponent_of(item) for item in materials()]
    parts = tuple((each, _borrowed_width(each)) for each in exponents)
    return RatePrior(parts, TABLE_UPPER, "assumed", source)


def _borrowed_width(exponent: float) -> float:
    return max(BORROWED_SPREAD * exponent, BORROWED_LEAST)


def _composed(study: Study) -> tuple[float, str] | None:
    """Return the volume-weighted rate exponent of a blend whose components are mostly named.

    Weighted by volume because the rate acts where the powder is; a component without a material
    is left out, and the composition is not used if those are a fifth of the volume or more.
    """
    parts = [
        (part.share / part.true_density, exponent_of(material(part.material)), part.material)
        for part in study.blend.components
        if part.material is not None and part.true_density is not None
    ]
    volumes = [
        part.share / part.true_density for part in study.blend.components if part.true_density
    ]
    named = sum(volume for volume, _, _ in parts)
    if not parts or len(volumes) < len(study.blend.components) or named < 0.8 * sum(volumes):
        return None
    mean = sum(volume * exponent for volume, exponent, _ in parts) / named
    names = ", ".join(name for _, _, name in parts)
    return mean, f"volume-weighted composition ({names}), weaker than one named material"


@dataclass(frozen=True)
class ElasticPrior:
    """A normal distribution of ln K, K in MPa."""

    log_mean: float
    log_spread: float
    bound: float = np.inf
    """How many spreads from the mean a powder may be; a range is not left without evidence."""

    def log_density(self, log_elastic: Array) -> Array:
        """Return the logarithm of the density but for a constant, minus infinity outside."""
        off = np.abs(log_elastic - self.log_mean) / self.log_spread
        return np.where(off <= self.bound, -0.5 * off**2, -np.inf)


def elastic_prior(
    pressure: float, solid_fraction: float, *, measured: bool = False
) -> ElasticPrior:
    """Return the prior of K that a usual elastic recovery gives at a pressure in MPa.

    ``K = P / ln((1 - SF)/(1 - SF (1 + ER)))`` with axial recovery ER; the range of ER stands for
    95 % of powders and is not left unless in-die thickness was `measured`.
    """
    low, middle, high = (log(pressure / _sprung(solid_fraction, share)) for share in RECOVERY)
    spread = max((low - high) / (2.0 * 1.96), 0.1)
    return ElasticPrior(middle, spread, np.inf if measured else 1.96)


def _sprung(solid_fraction: float, recovery: float) -> float:
    """Return how much D falls while a tablet springs back; at least what a loose one does.

    Under load no tablet is taken to be denser than 0.995, which a tablet with hardly a pore left
    already is.
    """
    under_load = min(solid_fraction * (1.0 + recovery), DENSEST)
    return max(log(max((1.0 - solid_fraction) / (1.0 - under_load), 1.0)), recovery)
