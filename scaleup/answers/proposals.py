"""What to press next: how much each run the lab press can make would narrow the prediction.

Every draw of the fit says what a proposed run would measure and what production would give, and so
by how much measuring one would narrow the other (`scaleup.answers.expected_narrowing`). Solid
fraction informs the densification, and breaking force only what the strength curve leaves open
once the densification is given, as in the fit itself. That a refit would let go of a borrowed
exponent once the runs measure it is left out: the narrowing is then overstated by a few per cent.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from scaleup.answers.expected_narrowing import narrowing, variance_left
from scaleup.arrays import Array
from scaleup.calibration.fit import Fit
from scaleup.calibration.observations import Side, side_of
from scaleup.powder.compression import Pulse, compress
from scaleup.presses.press import Setting
from scaleup.sentence import Sentence, Words
from scaleup.short_repr import short_repr
from scaleup.transfer.case import TransferCase
from scaleup.transfer.feasible import needed_pressure
from scaleup.transfer.lab_settings import LabSetting, lab_settings
from scaleup.transfer.matches import compensating_pressure

TABLETS = 3
"""Replicates of every proposal."""
FORCES = 5
BELOW_TESTED, ABOVE_NEEDED = 0.75, 1.15
"""Shares of the lowest force tested and of the highest tested or needed that are proposed."""
DENSEST = 0.98
"""Solid fraction above which nothing is proposed."""
WORTH = 0.10
"""A run that narrows no band by this share is not worth pressing (this project's judgement)."""


@dataclass(frozen=True)
class Proposal:
    """One lab condition, and by which share it would narrow the 90 % bands."""

    force: float
    """N."""
    setting: Setting
    tablets: int
    strength: float | None
    """Of the production strength at the lab's pressure; None without a strength curve."""
    needed_force: float
    """Of the force needed in production."""
    measures_rate: bool
    """Whether the runs would then span a decade of dwell where they do not yet."""
    condition: str = ""
    """On what condition the press can make it; empty if profile or runs show that it can."""

    @property
    def worth(self) -> float:
        """Return the mean of what it narrows."""
        parts = [self.needed_force] if self.strength is None else [self.strength, self.needed_force]
        return float(np.mean(parts))


@short_repr
@dataclass(frozen=True)
class Proposals:
    """The proposals, best first, and what none of them can narrow."""

    best: tuple[Proposal, ...]
    needed: Array
    """Main pressure in MPa needed in production, for each draw."""
    reason: Words
    """Why nothing is worth pressing; empty if something is."""
    beyond_the_lab: float
    """Share of the variance of the needed force that no condition of the lab press tells: it lies
    between lab and plant, or beyond the shortest dwell of the lab press."""
    needed_by: str
    """Which match the needed force is of."""


def proposals(case: TransferCase) -> Proposals:
    """Return what to press next on the lab press of a question."""
    lab = side_of(case.study.lab)
    needed, match = _needed(case)
    candidates = list(_candidates(case, lab, float(np.median(needed))))
    if not candidates:
        reason = "every condition the lab press can make leaves next to no pores"
        return Proposals((), needed, reason, 0.0, match)
    whole = _Predicted(case, np.log(needed))
    features = _features([each.solid_fraction for each in candidates], whole)
    weighed = [_weighed(whole, features, each) for each in candidates]
    return Proposals(
        best=_best_of_each_setting(weighed),
        needed=needed,
        reason=_nothing_worth(weighed),
        beyond_the_lab=_beyond(whole, [each.solid_fraction for each in candidates]),
        needed_by=match,
    )


def _needed(case: TransferCase) -> tuple[Array, str]:
    """Return the production pressure each draw needs, and by which match."""
    if case.target is not None and case.process.fit.strength is not None:
        needed = needed_pressure(case.process, case.speed, case.target)
        if np.all(np.isfinite(needed)) and np.ptp(needed) > 0.0:
            return needed, "strength"
    return compensating_pressure(case), "solid-fraction"


@dataclass(frozen=True)
class _Candidate:
    force: float
    able: LabSetting
    pulse: Pulse
    solid_fraction: Array


def _candidates(case: TransferCase, lab: Side, needed: float) -> Iterable[_Candidate]:
    """Yield the conditions the lab press can make, within its limit, its tips and the powder."""
    fit, study = case.process.fit, case.study
    tested = [run.force for run in study.lab.lab_runs]
    top = ABOVE_NEEDED * max(*tested, needed * lab.tip.area)
    rating = study.lab.tooling.profile.tip_force_rating
    top = min(top, study.lab.press.profile.greatest_force, rating or np.inf)
    low = min(BELOW_TESTED * min(tested), top)
    charge = lab.tip.charge(case.reference.weight or case.process.charge.weight,
                            study.blend.true_density)  # fmt: skip
    for able in lab_settings(study.lab):
        for force in np.geomspace(low, top, FORCES):
            pressure = np.full(fit.powder.draws, float(force) / lab.tip.area)
            pulse = compress(lab.press, fit.powder, charge, pressure, able.setting, tolerance=1e-3)
            solid = fit.powder.solid_fraction(pulse.static_pressure)
            if np.median(solid) < DENSEST:
                yield _Candidate(float(force), able, pulse, solid)


@dataclass(frozen=True)
class _Predicted:
    """What production is predicted to give: of every draw, with all that lies between."""

    case: TransferCase
    log_needed: Array
    """ln of the pressure needed."""

    @property
    def solid_fraction(self) -> Array:
        """Return the solid fraction at the lab's pressure, by the law alone."""
        return self.case.at_lab_pressure_by_the_law.solid_fraction

    @property
    def log_strength(self) -> Array | None:
        """Return ln(strength) at the lab's pressure."""
        strength = self.case.at_lab_pressure.strength
        return None if strength is None else np.log(strength)


def _features(solid: list[Array], whole: _Predicted) -> Array:
    """Return what spans the densification of the draws, shape (draws, features)."""
    return _spanned([*solid, whole.solid_fraction])


def _spanned(solid: list[Array]) -> Array:
    """Return what spans some solid fractions of the draws, shape (draws, features)."""
    every = np.column_stack(solid)
    every = every - every.mean(axis=0)
    left, sizes, _ = np.linalg.svd(every, full_matrices=False)
    kept = left[:, sizes > 1e-6 * sizes[0]][:, :8]
    return np.column_stack([np.ones(len(kept)), kept, kept[:, :3] ** 2])


def _weighed(whole: _Predicted, features: Array, candidate: _Candidate) -> Proposal:
    """Return by how much one condition would narrow the bands."""
    fit = whole.case.process.fit
    pulse = candidate.pulse
    solid = fit.powder.solid_fraction_after(pulse.peak_pressure, pulse.effective_dwell)
    now = [whole.log_needed]
    if whole.log_strength is not None:
        now.append(whole.log_strength)
    measures = fit.rate.evidence != "measured" and _spans_a_decade(fit, candidate)
    given = [_without(each, features) for each in now]
    left = _after_solid_fraction(
        [each - rest for each, rest in zip(now, given, strict=True)],
        solid,
        fit,
    )
    open_part = _after_strength(given, features, solid, fit)
    narrowed = [
        narrowing(float(np.var(before)), a + b)
        for a, b, before in zip(left, open_part, now, strict=True)
    ]
    return Proposal(
        candidate.force,
        candidate.able.setting,
        TABLETS,
        narrowed[1] if len(narrowed) > 1 else None,
        narrowed[0],
        measures,
        candidate.able.condition,
    )


def _without(values: Array, features: Array) -> Array:
    """Return what of the values does not follow from the densification, shape (draws,)."""
    coefficients, *_ = np.linalg.lstsq(features, values, rcond=None)
    rest: Array = values - features @ coefficients
    return rest


def _after_solid_fraction(wanted: list[Array], solid: Array, fit: Fit) -> list[float]:
    """Return the variances left of what follows from the densification."""
    noise = fit.solid_fraction_scatter**2 / TABLETS
    return [variance_left(each, solid[None], noise) for each in wanted]


def _after_strength(given: list[Array], features: Array, solid: Array, fit: Fit) -> list[float]:
    """Return the variances left of what the strength curve leaves open."""
    if fit.strength is None or fit.strength_scatter is None:
        return [float(np.var(each)) for each in given]
    measured = _without(np.log(fit.strength.strength(solid)), features)
    noise = fit.strength_scatter**2 / TABLETS
    return [variance_left(each, measured[None], noise) for each in given]


def _spans_a_decade(fit: Fit, candidate: _Candidate) -> bool:
    dwell = float(np.median(candidate.pulse.effective_dwell))
    low, high = fit.dwell_span
    return float(np.log10(max(high, dwell) / min(low, dwell))) >= 1.0


def _best_of_each_setting(weighed: list[Proposal]) -> tuple[Proposal, ...]:
    """Return the best force of every setting, best first."""
    best: dict[Setting, Proposal] = {}
    for each in weighed:
        if each.setting not in best or each.worth > best[each.setting].worth:
            best[each.setting] = each
    return tuple(sorted(best.values(), key=lambda each: -each.worth))


def _nothing_worth(weighed: list[Proposal]) -> Words:
    best = max(max(each.strength or 0.0, each.needed_force) for each in weighed)
    if best >= WORTH:
        return ""
    return Sentence(
        "no condition the lab press can make narrows a band by more than {most:%}",
        most=max(best, 0.0),
    )


def _beyond(whole: _Predicted, solid: list[Array]) -> float:
    """Return the share of the variance of the needed force that all lab conditions leave.

    It lies in how the rate exponent changes towards the production dwell.
    """
    case, needed = whole.case, whole.log_needed
    powder = case.process.fit.powder
    bend = np.log(powder.weakening(case.at_lab_pressure_by_the_law.effective_dwell))
    noise = case.process.fit.solid_fraction_scatter**2 / TABLETS
    left = variance_left(bend, np.array(solid), noise)
    return float(np.clip(left / max(float(np.var(needed)), 1e-300), 0.0, 1.0))
