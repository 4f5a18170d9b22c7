"""Risks of speed: how speed-sensitive the powder is, and how well that is known."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from scaleup.model.estimate import BAND
from scaleup.sentence import Fact, Sentence
from scaleup.transfer.case import TransferCase
from scaleup.transfer.risks.registry import Risk, Severity, risk

PRESS_HARDER = (
    "Press harder (see the solid-fraction match), or confirm with runs at short and long holds."
)
PRESS_OR_SLOWER = (
    "Press harder (see the solid-fraction match), run slower, or confirm with runs at short and "
    "long holds."
)
LOSS_SERIOUS, LOSS_SEVERE = 0.10, 0.25
"""Share of strength lost at equal pressure (this project's judgement)."""


@risk()
def strength_loss(case: TransferCase) -> Iterator[Risk]:
    """Strength lost at the lab's pressure because the pulse is shorter, all else left aside."""
    here, curve = case.at_lab_pressure_by_the_law, case.fit.strength
    if curve is None:
        return
    before = curve.strength(case.lab_pulse.solid_fraction)
    loss = 1.0 - curve.strength(here.solid_fraction) / before
    low, middle, high = np.quantile(loss, [(1 - BAND) / 2, 0.5, (1 + BAND) / 2])
    if high < LOSS_SERIOUS:
        return
    severity: Severity = "watch"
    if middle >= LOSS_SERIOUS:
        severity = "severe" if middle >= LOSS_SEVERE else "serious"
    ratio = np.median(case.lab_pulse.pulse.effective_dwell / here.effective_dwell)
    yield Risk(
        "speed-sensitive-strength",
        severity,
        Sentence(
            "At the lab's pressure and {speed} tablets lose {loss:%} of their strength ({low:%} to "
            "{high:%}).",
            speed=Fact(case.speed, "rpm"),
            loss=middle,
            low=low,
            high=high,
        ),
        Sentence(
            "Effective dwell is {shorter:2} times shorter than in the lab; rate exponent "
            "{rate_exponent:.3f}.",
            shorter=float(ratio),
            rate_exponent=float(np.median(case.fit.powder.rate_exponent)),
        ),
        PRESS_OR_SLOWER if case.slower_is_stronger else PRESS_HARDER,
        float(middle),
    )


@risk()
def evidence_grade(case: TransferCase) -> Iterator[Risk]:
    """A rate exponent that the runs did not measure."""
    if case.fit.rate.evidence == "measured":
        return
    rate = case.fit.rate
    severity: Severity = "serious" if rate.evidence == "assumed" else "watch"
    yield Risk(
        f"rate-{rate.evidence}",
        severity,
        Sentence(
            "The rate exponent is {rate_evidence}, not measured on this blend.",
            rate_evidence=rate.evidence,
        ),
        Sentence(
            "Source: {source}. The runs span {decades:.1f} decades of effective dwell; one decade "
            "is needed to measure it.",
            source=rate.source,
            decades=case.fit.decades,
        ),
        "Press the same force with holds a hundred times apart, or at the slowest and fastest "
        "stroke the lab press has.",
        case.fit.rate.spread,
        about="rate exponent",
    )


@risk()
def extrapolated_dwell(case: TransferCase) -> Iterator[Risk]:
    """Production pulses shorter than any the lab pressed."""
    here = case.at_lab_pressure
    decades = float(np.median(case.fit.powder.decades_beyond(here.effective_dwell)))
    if decades < 0.1:
        return
    severity: Severity = "serious" if decades > 2.0 else "watch"
    low, high = np.quantile(case.fit.powder.curvature, [(1 - BAND) / 2, (1 + BAND) / 2])
    yield Risk(
        "dwell-extrapolated",
        severity,
        Sentence(
            "The production pulse is {decades:.1f} decades shorter than the shortest tested.",
            decades=decades,
        ),
        Sentence(
            "Effective dwell {dwell} against {shortest} of the shortest run; the rate exponent may "
            "change by {low:%} to {high:%} of itself for each decade, which the bands contain.",
            low=low,
            high=high,
            dwell=Fact(float(np.median(here.effective_dwell)), "s"),
            shortest=Fact(case.fit.dwell_span[0], "s"),
        ),
        "Press lab runs with the fastest loading and no hold; plan the first trial run at the "
        "slowest turret speed.",
        decades,
    )


@risk(standing=True)
def strength_curve_depends_on_dwell(case: TransferCase) -> Iterator[Risk]:
    """Strength against solid fraction that differs with dwell, tested on the runs."""
    test = case.fit.strength_across_dwell
    if test is None or test.probability >= 0.05:
        return
    span = np.median(case.at_lab_pressure.effective_dwell) / np.exp(test.middle_log_dwell)
    ratio = float(span**test.slope)
    severe = abs(ratio - 1.0) > LOSS_SEVERE
    yield Risk(
        "curve-depends-on-dwell",
        "severe" if severe else "serious",
        Sentence(
            "Strength against solid fraction is not one curve across dwell: at equal solid "
            "fraction strength changes by {change:%} for each decade of dwell.",
            change=10.0**test.slope - 1.0,
        ),
        Sentence(
            "F test on {runs} runs, p = {probability:.2g}; carried on to production it is a factor "
            "of {factor:.2f}, which the bands do not contain.",
            runs=test.runs,
            probability=test.probability,
            factor=ratio,
        ),
        "Do not rely on the solid-fraction match; let the trial decide, and look for lamination.",
        abs(ratio - 1.0),
        effect="stops" if severe else "none",
    )
