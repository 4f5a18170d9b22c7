"""Which causes a trial allows: against numerical integration, and on simulated trials."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import multivariate_normal

from scaleup.answers.functions import learn
from scaleup.answers.trial.causes import BEFORE, ONE_RUN, ONE_RUN_SPREADS, SPREADS, causes
from scaleup.answers.trial.exponent_alone import exponent_alone
from scaleup.answers.trial.learning import Learned
from scaleup.answers.trial.plan import TrialPlan
from scaleup.answers.trial.run_means import RunMeans
from scaleup.model.study import Study
from tests.answers.trial.simulated_trial import Put, sheet


def invented_means(amount: dict[str, float], seed: int = 1) -> RunMeans:
    """Return the means of five runs at three speeds, moved by some causes."""
    rng = np.random.default_rng(seed)
    log_dwell = np.array([-3.0, -2.0, -4.2, -3.0, -3.0])
    place = np.linspace(-0.5, 0.5, 5)
    slope = np.array([0.10, 0.11, 0.09, 0.10, 0.10, 0.8, 0.9, 0.7, 0.8, 0.8])
    solid = np.array([0.84, 0.85, 0.83, 0.84, 0.84])
    middle = np.concatenate([solid, np.log(np.array([2.2, 2.5, 2.0, 2.2, 2.2]))])
    common = rng.standard_normal((2, 4000))
    drawn = middle[:, None] + slope[:, None] * 0.03 * common[0]
    drawn[5:] += 0.07 * common[1]
    means = RunMeans(
        names=("A", "B", "C", "D", "E"),
        strong=(0, 1, 2, 3, 4),
        measured=middle,
        drawn=drawn,
        noise=np.concatenate([np.full(5, 0.003), np.full(5, 0.03)]),
        slope=slope,
        log_dwell=np.tile(log_dwell, 2),
        place=np.tile(place, 2),
        exponent=0.03,
    )
    moved = sum((means.direction(code) * size for code, size in amount.items()), np.zeros(10))
    return replace(means, measured=middle + moved)


@pytest.mark.parametrize("code", sorted(SPREADS))
def test_a_cause_put_in_is_the_most_probable(code: str) -> None:
    size = 2.0 * SPREADS[code]
    found = causes(invented_means({code: size}), {})
    assert found[0].code == code
    assert found[0].probability > 0.5
    assert sum(each.probability for each in found) == pytest.approx(1.0)


def test_nothing_put_in_is_as_predicted() -> None:
    found = causes(invented_means({}), {})
    assert found[0].code == "as-predicted"
    assert found[0].probability > 0.7


def test_probabilities_are_those_of_numerical_integration() -> None:
    """Each cause by integrating the likelihood over its amount, with a library's density."""
    means = invented_means({"solid-fraction-reading": 0.02, "strength-drift": 0.05})
    covariance = np.cov(means.drawn) + np.diag(means.noise**2) + 1e-9 * np.eye(10)
    density = multivariate_normal(means.drawn.mean(axis=1), covariance)
    scale = density.logpdf(means.measured)

    def evidence(direction: np.ndarray, spread: float) -> float:
        def integrand(amount: float) -> float:
            moved = density.logpdf(means.measured - amount * direction) - scale
            return float(np.exp(moved - 0.5 * (amount / spread) ** 2) / spread / np.sqrt(2 * np.pi))

        peak = float(direction @ np.linalg.solve(covariance, means.residual)) / float(
            direction @ np.linalg.solve(covariance, direction)
        )
        ends = -8.0 * spread, 8.0 * spread
        return quad(integrand, *ends, points=[np.clip(peak, *ends)], limit=400)[0]

    share = (1.0 - BEFORE) / (len(SPREADS) + 1)
    weights = {"as-predicted": BEFORE}
    for code, spread in SPREADS.items():
        weights[code] = share * evidence(means.direction(code), spread)
    weights[ONE_RUN] = sum(
        share / 10 * evidence(row, ONE_RUN_SPREADS[int(at >= 5)])
        for at, row in enumerate(np.eye(10))
    )
    whole = sum(weights.values())
    for each in causes(means, {}):
        assert each.probability == pytest.approx(weights[each.code] / whole, rel=0.01, abs=1e-6)


def test_one_run_that_is_off_alone_is_named() -> None:
    means = invented_means({})
    measured = means.measured.copy()
    measured[2] += 0.05
    found = causes(replace(means, measured=measured), {})
    assert found[0].code == ONE_RUN
    assert "C solid fraction alone is off" in str(found[0].told)


def test_the_exponent_of_the_ladder_alone_is_that_put_in_whatever_the_gauge_reads() -> None:
    put = {"rate": 0.02, "force-gauge": 0.15}
    alone = exponent_alone(invented_means(put))
    assert alone.value == pytest.approx(0.05, abs=1e-9)
    assert (alone.low or 1.0) < 0.05 < (alone.high or 0.0)
    drifting = exponent_alone(invented_means({**put, "density-drift": 0.05}))
    assert drifting.value == pytest.approx(0.05, abs=1e-9)
    one_speed = replace(invented_means(put), log_dwell=np.full(10, -3.0))
    assert exponent_alone(one_speed).value is None


def learned_of(marram: Study, plan: TrialPlan, put: Put) -> Learned:
    return learn(marram, sheet(marram, plan, put), draws=400)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("put", "code", "size"),
    [
        (Put(balance=1.08), "solid-fraction-reading", 0.08),
        (Put(balance=0.94), "solid-fraction-reading", -0.06),
        (Put(drift=-0.25), "strength-drift", -0.22),
        (Put(feeder=0.62), "strength-factor", -0.38),
    ],
)
def test_the_cause_of_a_simulated_trial_is_named_with_its_size(
    marram: Study, plan: TrialPlan, put: Put, code: str, size: float
) -> None:
    found = learned_of(marram, plan, put).causes
    assert found[0].code == code
    assert found[0].size.value == pytest.approx(size, abs=0.06)
    assert found[0].check


@pytest.mark.slow
def test_what_cannot_be_told_apart_is_named_together(marram: Study, plan: TrialPlan) -> None:
    """A large exponent and a gauge both make looser and weaker tablets: both are told."""
    named = {each.code for each in learned_of(marram, plan, Put(rate=2.2)).causes if each.named}
    assert {"rate", "force-gauge"} & named
    assert "solid-fraction-reading" not in named


@pytest.mark.slow
def test_a_factor_within_what_was_believed_is_shown_all_the_same(
    marram: Study, plan: TrialPlan
) -> None:
    found = {each.code: each for each in learned_of(marram, plan, Put(feeder=0.8)).causes}
    assert found["as-predicted"].probability > 0.5
    factor = found["strength-factor"]
    assert factor.named
    assert factor.shown
    assert (factor.size.low or 0.0) < -0.2 < (factor.size.high or -1.0)


def test_capping_seen_is_a_cause_that_needs_no_inference(marram: Study, plan: TrialPlan) -> None:
    found = learned_of(marram, plan, Put(caps_above=60.0)).causes
    assert found[0].code == "defects"
    assert "capping in" in str(found[0].told)
    assert "75 rpm" in str(found[0].told)
    assert found[1].code == "as-predicted"  # the strength of capped tablets is no strength
