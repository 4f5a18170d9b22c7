"""Which form the runs prefer, what a study can fix, and how single runs are judged."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import get_args

import numpy as np
import pytest
from scipy.optimize import curve_fit
from scipy.stats import t as student

from scaleup.arrays import Array
from scaleup.calibration.fit import Fit, fit
from scaleup.calibration.form_fit import first_looks
from scaleup.calibration.form_weights import akaike_weights, corrected_akaike, shares_of
from scaleup.calibration.forms import FORMS, Form
from scaleup.calibration.observations import observe, side_of, sides
from scaleup.calibration.posterior import Posterior
from scaleup.calibration.prior import exponent_of, rate_prior
from scaleup.calibration.run_dwell import PressedRuns
from scaleup.calibration.run_fit import deleted
from scaleup.io.materials import materials
from scaleup.io.study import read_study
from scaleup.model.blend import Blend
from scaleup.model.blend import Hardening as Fixed
from scaleup.model.checked import annotations_of
from scaleup.model.run import Run
from scaleup.model.study import Study
from scaleup.powder.compression import compress
from scaleup.powder.hardening import Hardening, Heckel, Kawakita, KuentzLeuenberger
from scaleup.powder.law import Powder
from scaleup.powder.rate import effective_dwell
from scaleup.presses.press import Setting
from scaleup.presses.pulse_shapes import ForcePulse
from tests.studies import ONE_EXPONENT

EXAMPLES = Path(__file__).parents[2] / "examples"
ONE = np.ones(1)
TRUTHS: dict[str, Hardening] = {
    "Heckel": Heckel(130.0 * ONE, 0.7 * ONE),
    "Kuentz-Leuenberger": KuentzLeuenberger(130.0 * ONE, 0.45 * ONE),
    "Kawakita": Kawakita(60.0 * ONE, 0.55 * ONE),
}


@pytest.fixture(scope="module")
def marram() -> Study:
    return read_study(EXAMPLES / "marram")


def pressed(study: Study, truth: Hardening, scatter: float, elastic: float | None = None) -> Study:
    """Return a study whose runs follow one form: four forces from 3 to 20 kN, two holds.

    With an elastic constant in MPa the tablets are measured in the die as well.
    """
    powder = Powder(truth, 0.03 * ONE, (elastic or 500.0) * ONE, 0.0 * ONE, 0.0 * ONE)
    lab, rng = side_of(study.lab), np.random.default_rng(8)
    runs = []
    for line, (force, hold) in enumerate(
        (force, hold) for force in (3e3, 6e3, 11e3, 20e3) for hold in (0.0, 20.0) for _ in range(2)
    ):
        setting = Setting(hold=hold, loading_rate=5e3)
        charge = lab.tip.charge(400.0, study.blend.true_density)
        pulse = compress(lab.press, powder, charge, force / lab.tip.area * ONE, setting)
        solid = float(powder.solid_fraction(pulse.static_pressure)[0])
        solid += scatter * rng.standard_normal()
        height = 400.0 / study.blend.true_density / lab.tip.area / solid
        runs.append(
            Run(f"R{force:.0f}{hold:.0f}", force, hold=hold, loading_rate=5e3, weight=400.0,
                thickness=height, line=line,
                in_die_thickness=float(pulse.in_die[0]) if elastic else None)
        )  # fmt: skip
    return replace(study, lab=replace(study.lab, runs=tuple(runs), reference=None))


def fitted(study: Study, draws: int = 400) -> Fit:
    found = fit(study, draws=draws)
    assert isinstance(found, Fit)
    return found


def normal_of(residuals: Array) -> float:
    """Return the logarithm of the normal density that residuals stand for, but for a constant."""
    return -0.5 * float(np.sum(residuals**2))


def squares_behind(log_likelihood: float, count: int, usual: float) -> float:
    """Return the sum of squared misses that a Student likelihood of so many runs was made of."""
    return float(np.exp(-2.0 * log_likelihood / (count + 3.0))) - 3.0 * usual**2


@pytest.mark.parametrize("form", FORMS.values(), ids=FORMS)
def test_the_residuals_are_those_of_the_density(marram: Study, form: Form) -> None:
    """Two routes to the misses and the beliefs: least squares for the peak, the density drawn."""
    study = pressed(marram, TRUTHS["Heckel"], 0.001, elastic=450.0)
    runs = [replace(run, tablets=1 + line % 3) for line, run in enumerate(study.lab.runs)]
    study = replace(study, lab=replace(study.lab, runs=tuple(runs)))
    usable = observe(study, sides(study))
    rate, count = rate_prior(study, measured=True), len(usable)
    rng, density = np.random.default_rng(1), study.blend.true_density
    (look,) = first_looks([form], PressedRuns.of(usable), density, rng)
    both = Posterior(form, rate, look.elastic, look.dwell)
    without = tuple(replace(seen, in_die_solid_fraction=None) for seen in usable)
    alone = Posterior(form, rate, look.elastic, replace(look.dwell, observations=without))
    beliefs = []
    for shift in (0.0, 0.07):
        columns = look.start + shift
        residuals = both.residuals(columns[None], 1.0, 1.0)[:, 0]
        ejected, in_die, believed = np.split(residuals, [count, 2 * count])
        plain = float(alone.log_likelihood(columns[None])[0])
        rest = float(both.log_likelihood(columns[None])[0]) - plain
        assert np.sum(ejected**2) == pytest.approx(squares_behind(plain, count, 0.006), rel=1e-6)
        assert np.sum(in_die**2) == pytest.approx(squares_behind(rest, count, 0.01), rel=1e-6)
        scaled = both.residuals(columns[None], 0.5, 0.25)[:, 0]
        np.testing.assert_allclose(scaled[:count], 2.0 * ejected)
        np.testing.assert_allclose(scaled[count : 2 * count], 4.0 * in_die)
        belief = both.log_density(columns[None]) - both.log_likelihood(columns[None])
        beliefs.append((normal_of(believed), float(belief[0])))
    (there, density_there), (here, density_here) = beliefs
    assert here - there == pytest.approx(density_here - density_there, rel=1e-9)


def test_thickness_in_the_die_measures_the_elastic_constant(marram: Study) -> None:
    for truth in (300.0, 700.0):
        calibration = fitted(pressed(marram, TRUTHS["Heckel"], 0.001, elastic=truth))
        assert calibration.elastic_measured
        assert np.mean(calibration.powder.elastic) == pytest.approx(truth, rel=0.1)
        assert 0.005 < np.std(np.log(calibration.powder.elastic)) < 0.1
    unseen = fitted(pressed(marram, TRUTHS["Heckel"], 0.001))
    assert not unseen.elastic_measured
    assert np.std(np.log(unseen.powder.elastic)) > 0.2


@pytest.mark.parametrize("name", TRUTHS)
def test_the_form_that_made_the_runs_is_preferred(marram: Study, name: str) -> None:
    calibration = fitted(pressed(marram, TRUTHS[name], 0.001))
    assert calibration.forms[0].name == name
    assert calibration.forms[0].weight > 0.9
    assert calibration.powder.rate_exponent.mean() == pytest.approx(0.03, abs=0.004)


def test_with_much_scatter_no_form_is_ruled_out(marram: Study) -> None:
    calibration = fitted(pressed(marram, TRUTHS["Kuentz-Leuenberger"], 0.02), 1000)
    assert max(each.weight for each in calibration.forms) < 0.9
    assert sum(each.weight for each in calibration.forms) == pytest.approx(1.0)
    for each in calibration.forms:
        size = each.draws.stop - each.draws.start
        assert size == pytest.approx(1000 * each.weight, abs=6)


def test_averaging_widens_a_prediction_far_from_the_runs(marram: Study) -> None:
    """At 4 kN and 400 MPa the forms part; the average holds what each of them says."""
    study = pressed(marram, TRUTHS["Kuentz-Leuenberger"], 0.02)
    kept = tuple(run for run in study.lab.runs if run.force < 15e3)
    study = replace(study, lab=replace(study.lab, runs=kept))

    def spread(form: Fixed) -> float:
        calibration = fitted(replace(study, blend=replace(study.blend, hardening=form)), 1500)
        solid = calibration.powder.solid_fraction_after(np.full(1500, 400.0), np.full(1500, 1.0))
        return float(solid.std())

    assert spread(None) > min(spread("heckel"), spread("kawakita"))


def test_a_study_can_fix_every_form_there_is() -> None:
    optional = annotations_of(Blend)["hardening"]
    named = get_args(get_args(optional)[0])
    assert set(named) == set(FORMS)


@pytest.mark.parametrize("form", ["heckel", "kuentz-leuenberger", "kawakita"])
def test_a_form_fixed_in_the_study_is_the_only_one(marram: Study, form: Fixed) -> None:
    calibration = fitted(replace(marram, blend=replace(marram.blend, hardening=form)))
    assert [each.name.lower() for each in calibration.forms] == [form]
    assert calibration.forms[0].weight == 1.0


def test_the_corrected_criterion_is_the_printed_one() -> None:
    """Hurvich & Tsai's correction: k = 3, n = 10 adds 2*3*4/6 = 4 to Akaike's own."""
    assert corrected_akaike(-7.0, 3, 10) == pytest.approx(14.0 + 6.0 + 4.0)
    assert corrected_akaike(-7.0, 3, 4) == pytest.approx(14.0 + 6.0)
    weights = akaike_weights(np.array([3.0, 5.0]))
    assert weights[0] / weights[1] == pytest.approx(np.exp(1.0))


@pytest.mark.parametrize("draws", [200, 333, 4000])
def test_shares_use_every_draw(draws: int) -> None:
    shares = shares_of(np.array([0.501, 0.33, 0.169]), draws)
    assert sum(shares) == draws
    assert shares_of(np.array([0.999, 0.0005, 0.0005]), draws) == [draws, 0, 0]


STANDARD_ERRORS = (("marram", 4e-3), ("sedge", 4e-3))


@pytest.mark.parametrize(("name", "within"), STANDARD_ERRORS)
def test_standard_errors_agree_with_a_general_purpose_fit(name: str, within: float) -> None:
    """scipy's curve_fit on the same runs: Kawakita's form with the rate law, written out here.

    Its errors are scaled from the scatter of the runs alone to the spread of Student's t when
    three runs of the usual scatter, 0.006, are believed beside them, as the fit does.
    """
    study = replace(read_study(EXAMPLES / name), transfer=ONE_EXPONENT)
    study = replace(study, blend=replace(study.blend, hardening="kawakita"))
    calibration = fitted(study, 4000)
    seen = [item for item in observe(study, sides(study)) if item.solid_fraction is not None]
    pressure = np.array([item.pressure for item in seen])
    measured = np.array([item.solid_fraction for item in seen], dtype=float)

    def model(_: Array, log_scale: float, log_rest: float, m: float) -> Array:
        dwells = []
        for item in seen:
            pulse = item.side.press.motion(item.run.force, item.setting)
            assert isinstance(pulse, ForcePulse)
            dwells.append(float(effective_dwell(pulse.time, pulse.share(), m)))
        scale = np.exp(log_scale)
        state = scale * (pressure / scale * np.array(dwells) ** m) ** (1.0 / (1.0 + m))
        porosity: Array = np.exp(-np.exp(log_rest)) / (1.0 + state / scale)
        return 1.0 - porosity

    start = (np.log(60.0), np.log(0.5), 0.03)
    values, covariance = curve_fit(model, pressure, measured, start)
    squares = float(np.sum((measured - model(pressure, *values)) ** 2))
    own, believed = squares / (len(seen) - 3), (squares + 3 * 0.006**2) / (len(seen) + 3 - 3 - 2)
    errors = np.sqrt(np.diag(covariance) * believed / own)
    drawn = calibration.powder.rate_exponent
    assert drawn.mean() == pytest.approx(values[2], abs=0.3 * errors[2])
    assert drawn.std() == pytest.approx(errors[2], rel=0.08)
    hardening = calibration.powder.hardening
    assert isinstance(hardening, Kawakita)
    curve = hardening.densification(np.full(4000, 150.0))
    point = float(np.log1p(150.0 / np.exp(values[0])) + np.exp(values[1]))
    assert curve.mean() == pytest.approx(point, abs=within)


def deleted_by_hand(x: Array, y: Array, usual: float) -> list[float]:
    """Return for each point its distance from a line through all others, in deviations."""
    found = []
    for left_out in range(y.size):
        kept = np.arange(y.size) != left_out
        terms = np.column_stack([np.ones(kept.sum()), x[kept]])
        line, *_ = np.linalg.lstsq(terms, y[kept], rcond=None)
        rest = y[kept] - terms @ line
        scatter = (3.0 * usual**2 + rest @ rest) / (3.0 + y.size - 3)
        here = np.array([1.0, x[left_out]])
        spread = scatter * (1.0 + here @ np.linalg.inv(terms.T @ terms) @ here)
        found.append(float((y[left_out] - here @ line) / np.sqrt(spread)))
    return found


def test_a_deleted_residual_is_the_miss_of_a_line_through_the_others() -> None:
    rng = np.random.default_rng(2)
    x, y = np.linspace(0.7, 0.9, 9), rng.standard_normal(9) * 0.01
    y[3] += 0.09
    terms = np.column_stack([np.ones(9), x])
    hat = terms @ np.linalg.pinv(terms)
    misses = deleted(y - hat @ y, np.diag(hat), 0.006)
    by_hand = deleted_by_hand(x, y, 0.006)
    assert [each.deviations for each in misses] == pytest.approx(by_hand, rel=1e-9)
    chance = 9 * 2 * student.sf(abs(by_hand[3]), 3 + 9 - 3)
    assert misses[3].chance == pytest.approx(chance)
    assert [each.suspicious for each in misses] == [number == 3 for number in range(9)]


def test_lawful_runs_are_seldom_suspicious() -> None:
    """At most one set in twenty, by Bonferroni's bound; the scatter is the usual one."""
    rng = np.random.default_rng(11)
    terms = np.column_stack([np.ones(16), np.linspace(0.0, 1.0, 16)])
    hat = terms @ np.linalg.pinv(terms)
    alarms = 0
    for _ in range(400):
        y = 0.006 * rng.standard_normal(16)
        alarms += any(each.suspicious for each in deleted(y - hat @ y, np.diag(hat), 0.006))
    assert 4 <= alarms <= 32


def test_an_assumed_exponent_is_one_of_the_published_materials(marram: Study) -> None:
    """Its density has a mode at every published exponent and none between the far apart ones."""
    prior = rate_prior(marram, measured=False)
    bare = replace(marram, blend=Blend(stated_true_density=1.5))
    prior = rate_prior(bare, measured=False)
    assert prior.evidence == "assumed"
    exponents = np.array([exponent_of(each) for each in materials()])
    assert prior.mean == pytest.approx(exponents.mean())
    assert prior.spread == pytest.approx(exponents.std(), rel=0.15)
    grid = np.linspace(0.0, 0.1, 20_001)
    density = np.exp(prior.log_density(grid))
    density /= density.sum()
    share = float(density[grid < 0.01].sum())
    assert share == pytest.approx(4.0 / 13.0, abs=0.06)
    assert np.isneginf(prior.log_density(np.array([-1e-6, 0.1001]))).all()


def normal(mean: float, spread: float) -> Callable[[Array], Array]:
    def density(m: Array) -> Array:
        value: Array = np.exp(-0.5 * ((m - mean) / spread) ** 2)
        return value

    return density


def test_a_borrowed_exponent_is_a_normal_one_cut_off_at_zero(marram: Study) -> None:
    named = replace(marram, blend=replace(marram.blend, rate_material="maize starch"))
    prior = rate_prior(named, measured=False)
    published = next(exponent_of(each) for each in materials() if each.name == "maize starch")
    grid = np.linspace(0.001, 0.19, 50)
    expected = normal(published, 0.25 * published)(grid)
    found = np.exp(prior.log_density(grid) - prior.log_density(np.array([published])))
    assert found == pytest.approx(expected, rel=1e-9)
