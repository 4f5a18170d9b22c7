"""The fit against independent routes: a grid, ordinary least squares, simulated false alarms."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scaleup.arrays import Array
from scaleup.calibration.fit import Fit, fit
from scaleup.calibration.lack_of_fit import lack_of_fit
from scaleup.calibration.prior import elastic_prior, published_spread, rate_prior
from scaleup.calibration.strength_across_dwell import dwell_term_test
from scaleup.calibration.strength_curve import STRENGTH_BELIEF, draw_lines
from scaleup.io.schema import read_as
from scaleup.io.study import read_study
from scaleup.model.blend import Blend, Component
from scaleup.model.study import Study
from scaleup.powder.rate import effective_dwell
from scaleup.presses.pulse_shapes import ForcePulse
from tests.studies import ONE_EXPONENT

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def marram() -> Study:
    return replace(read_study(EXAMPLES / "marram"), transfer=ONE_EXPONENT)


@pytest.fixture(scope="module", params=[1, 5], ids=["every run", "every fifth run"])
def fitted(request: pytest.FixtureRequest, marram: Study) -> Fit:
    some = replace(
        marram,
        lab=replace(marram.lab, runs=marram.lab.runs[:: request.param]),
        blend=replace(marram.blend, hardening="heckel"),
    )
    found = fit(some, draws=4000, seed=2)
    assert isinstance(found, Fit)
    assert found.rate.evidence == "measured"
    return found


def around(values: Array, count: int) -> Array:
    """Return a grid that covers what was drawn and a good deal more."""
    return np.linspace(
        values.mean() - 6.0 * values.std(), values.mean() + 6.0 * values.std(), count
    )


def test_draws_agree_with_integration_on_a_grid(fitted: Fit) -> None:
    """The same posterior of (ln Y, A, m) summed on a grid, written out here from its definition.

    K has no part in ejected solid fractions, so it integrates out.
    """
    seen = [row.observation for row in fitted.runs]
    pressure = np.array([item.pressure for item in seen])
    measured = np.array([item.solid_fraction for item in seen], dtype=float)
    mean, spread = published_spread()
    drawn_form = fitted.powder.hardening.named()
    log_y = around(np.log(drawn_form[0][1]), 81)
    intercept = around(drawn_form[1][1], 81)
    exponent = around(fitted.powder.rate_exponent, 81)
    exponent = exponent[(exponent > 0.0) & (exponent <= 0.2)]
    log_dwell = np.empty((len(seen), exponent.size))
    for row, item in enumerate(seen):
        pulse = item.side.press.motion(item.run.force, item.setting)
        assert isinstance(pulse, ForcePulse)
        log_dwell[row] = np.log(effective_dwell(pulse.time, pulse.share(), exponent))
    density = np.empty((exponent.size, log_y.size, intercept.size))
    for k, m in enumerate(exponent):
        load = np.log(pressure) + m * log_dwell[:, k]
        q = np.exp((load[:, None] - log_y[None, :]) / (1.0 + m))
        solid = 1.0 - np.exp(-(q[:, :, None] + intercept))
        squares = np.sum((measured[:, None, None] - solid) ** 2, axis=0)
        density[k] = (
            -0.5 * (len(seen) + 3.0) * np.log(3.0 * 0.006**2 + squares)
            - 0.5 * ((log_y[:, None] - np.log(120.0)) / 1.0) ** 2
            - 0.5 * ((intercept - 0.6) / 0.5) ** 2
            - 0.5 * ((m - mean) / (2.0 * spread)) ** 2
        )
    weight = np.exp(density - density.max())
    weight /= weight.sum()

    def moments(values: Array, axes: tuple[int, int]) -> tuple[float, float]:
        share = weight.sum(axis=axes)
        centre = float(share @ values)
        return centre, float(np.sqrt(share @ (values - centre) ** 2))

    hardening = fitted.powder.hardening.named()
    drawn = {
        "m": fitted.powder.rate_exponent,
        "log_y": np.log(hardening[0][1]),
        "A": hardening[1][1],
    }
    grid = {
        "m": moments(exponent, (1, 2)),
        "log_y": moments(log_y, (0, 2)),
        "A": moments(intercept, (0, 1)),
    }
    for name, (centre, deviation) in grid.items():
        assert drawn[name].mean() == pytest.approx(centre, abs=0.12 * deviation), name
        assert drawn[name].std() == pytest.approx(deviation, rel=0.08), name
    assert fitted.effective_draws > 2000


def test_a_line_with_plenty_of_data_is_ordinary_least_squares() -> None:
    rng = np.random.default_rng(4)
    x = rng.uniform(-0.3, -0.1, 400)
    y = 2.0 + 8.0 * x + 0.1 * rng.standard_normal(400)
    rows = np.repeat(x[:, None], 4000, axis=1)
    terms = np.stack([np.ones_like(rows), rows])
    (a, c), scatter = draw_lines(terms, y, np.ones(400), STRENGTH_BELIEF, rng)
    slope, intercept = np.polyfit(x, y, 1)
    residual = y - intercept - slope * x
    error = np.sqrt(np.sum(residual**2) / 398 / np.sum((x - x.mean()) ** 2))
    assert c.mean() == pytest.approx(slope, rel=0.01)
    assert a.mean() == pytest.approx(intercept, rel=0.01)
    assert c.std() == pytest.approx(error, rel=0.06)
    assert np.median(scatter) == pytest.approx(0.1, rel=0.08)
    assert np.corrcoef(a, c)[0, 1] > 0.9


def test_the_prior_reproduces_the_published_spread() -> None:
    """Roberts & Rowe 1985, 13 materials: mean 0.032, standard deviation 0.031."""
    mean, spread = published_spread()
    assert round(mean, 3) == 0.032
    assert round(spread, 3) == 0.031


def test_elastic_recovery_gives_back_its_range() -> None:
    belief = elastic_prior(150.0, 0.85)
    for deviations, recovery in ((0.0, 0.04), (1.96, 0.02), (-1.96, 0.08)):
        elastic = np.exp(belief.log_mean + deviations * belief.log_spread)
        in_die = 1.0 - 0.15 * np.exp(-150.0 / elastic)
        assert in_die / 0.85 - 1.0 == pytest.approx(recovery, rel=0.15)


def composed(study: Study, *parts: tuple[str, str | None]) -> Study:
    tables = tuple(
        read_as(
            Component,
            {"name": name, "share": share, "true_density": "1.5 g/cm^3", "material": name_of}
            if name_of
            else {"name": name, "share": share, "true_density": "1.5 g/cm^3"},
        )
        for index, (share, name_of) in enumerate(parts)
        for name in [f"part {index}"]
    )
    return replace(study, blend=Blend(stated_true_density=1.5, components=tables))


def test_a_composition_is_weighted_and_weaker(marram: Study) -> None:
    half = composed(
        marram, ("50 %", "lactose alpha-monohydrate"), ("50 %", "microcrystalline cellulose")
    )
    prior = rate_prior(half, measured=False)
    assert prior.evidence == "borrowed"
    assert prior.mean == pytest.approx((0.01939 + 0.05405) / 2.0, abs=2e-5)
    one = replace(
        marram, blend=Blend(stated_true_density=1.5, rate_material="microcrystalline cellulose")
    )
    assert prior.spread > rate_prior(one, measured=False).spread
    mostly_unknown = composed(marram, ("70 %", None), ("30 %", "lactose alpha-monohydrate"))
    assert rate_prior(mostly_unknown, measured=False).evidence == "assumed"
    assert rate_prior(mostly_unknown, measured=True).evidence == "measured"


LAB = np.empty((24, 0))
"""No run was made on another press."""


def simulated(rng: np.random.Generator, slope: float) -> tuple[Array, Array, Array]:
    solid = rng.uniform(0.72, 0.88, 24)
    dwell = 10.0 ** rng.uniform(-2.0, 1.0, 24)
    noise = 0.06 * rng.standard_normal(24)
    return solid, np.exp(2.0 - 9.0 * (1.0 - solid) + slope * np.log(dwell) + noise), dwell


def test_a_dwell_effect_is_found_and_seldom_where_there_is_none() -> None:
    rng = np.random.default_rng(9)
    alarms = 0
    for _ in range(300):
        test = dwell_term_test(*simulated(rng, 0.0), LAB)
        assert test is not None
        alarms += test.probability < 0.05
    assert 4 <= alarms <= 28
    term = dwell_term_test(*simulated(rng, -0.05), LAB)
    assert term is not None
    assert term.probability < 0.01
    assert term.slope == pytest.approx(-0.05, abs=0.02)
    solid, strength, dwell = simulated(rng, 0.0)
    assert dwell_term_test(solid, strength, np.full_like(dwell, 0.1), LAB) is None


def test_a_shift_of_production_tablets_is_no_dwell_effect() -> None:
    """Eight production runs at short dwell and a fifth weaker: the shift is theirs, not dwell's."""
    rng = np.random.default_rng(21)
    produced = np.arange(24) < 8
    shift = produced[:, None].astype(np.float64)
    alarms = 0
    for _ in range(200):
        solid, strength, dwell = simulated(rng, 0.0)
        dwell = np.where(produced, 0.005, dwell)
        test = dwell_term_test(solid, np.where(produced, 0.8, 1.0) * strength, dwell, shift)
        assert test is not None
        alarms += test.probability < 0.05
    assert alarms <= 20


def test_a_bent_curve_is_no_dwell_effect() -> None:
    """Long holds only at both ends of the densities, where a straight line lies above a bend."""
    rng = np.random.default_rng(12)
    solid = np.linspace(0.68, 0.9, 24)
    off = solid - solid.mean()
    alarms = 0
    for _ in range(200):
        dwell = 10.0 ** (-1.0 + 150.0 * off**2 + 0.3 * rng.standard_normal(24))
        noise = 0.06 * rng.standard_normal(24)
        test = dwell_term_test(solid, np.exp(0.5 + 9.0 * off - 40.0 * off**2 + noise), dwell, LAB)
        assert test is not None
        alarms += test.probability < 0.05
    assert alarms <= 20


def test_lack_of_fit_needs_replicates_and_finds_a_bend() -> None:
    rng = np.random.default_rng(3)
    names = tuple(name for name in "abcdef" for _ in range(3))
    level = np.repeat(np.linspace(0.7, 0.9, 6), 3)
    noise = 0.003 * rng.standard_normal(18)
    straight = lack_of_fit(names, level + noise, level)
    bend = 0.01 * np.repeat([-1.0, 1.0, 1.0, -1.0, -1.0, 1.0], 3)
    bent = lack_of_fit(names, level + noise + bend, level)
    assert straight is not None
    assert bent is not None
    assert straight.probability > 0.05
    assert bent.probability < 1e-4
    assert bent.misfit == pytest.approx(0.01, rel=0.2)
    assert lack_of_fit(tuple("abcdef"), level[::3], level[::3]) is None
