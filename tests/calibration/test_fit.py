"""What a fit takes, what it refuses, and what it makes of runs whose pulse has to be solved."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scaleup.arrays import Array
from scaleup.calibration.fit import Fit, NoFit, fit
from scaleup.calibration.observations import observe, sides
from scaleup.calibration.posterior import Posterior
from scaleup.calibration.sampling import Slopes
from scaleup.calibration.strength_curve import draw_ejection_line
from scaleup.io.library import find_press
from scaleup.io.study import read_study
from scaleup.model.run import Run
from scaleup.model.study import RunDefaults, Study
from scaleup.model.transfer_terms import SPREAD_OF_CURVATURE
from scaleup.powder.compression import compress
from scaleup.powder.stroke_solver import Squeeze, Trajectory, integrate

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def marram() -> Study:
    return read_study(EXAMPLES / "marram")


@pytest.fixture(scope="module")
def dunlin() -> Study:
    return read_study(EXAMPLES / "dunlin")


def only(study: Study, keep: Callable[[Run], bool]) -> Study:
    kept = tuple(run for run in study.lab.runs if keep(run))
    return replace(study, lab=replace(study.lab, runs=kept))


def lines(*wanted: int) -> Callable[[Run], bool]:
    return lambda run: run.line in wanted


def test_two_runs_are_too_few(marram: Study) -> None:
    fitted = fit(only(marram, lines(4, 16)), draws=200)
    assert isinstance(fitted, NoFit)
    assert len(fitted.reasons) == 1
    assert fitted.reasons[0].startswith("2 runs")


def test_one_pressure_is_no_curve(marram: Study) -> None:
    fitted = fit(only(marram, lambda run: run.name == "M4"), draws=200)
    assert isinstance(fitted, NoFit)
    assert "one pressure" in fitted.reasons[0]


def test_two_faults_are_two_reasons(marram: Study) -> None:
    fitted = fit(only(marram, lines(4, 5)), draws=200)
    assert isinstance(fitted, NoFit)
    assert len(fitted.reasons) == 2


def test_runs_without_thickness_do_not_count(marram: Study) -> None:
    bare = tuple(
        run if run.line in (4, 16) else replace(run, thickness=None) for run in marram.lab.runs
    )
    fitted = fit(replace(marram, lab=replace(marram.lab, runs=bare)), draws=200)
    assert isinstance(fitted, NoFit)
    assert fitted.reasons[0].startswith("2 runs")


def test_three_runs_at_two_pressures_are_a_fit(marram: Study) -> None:
    few = fit(only(marram, lines(4, 5, 16)), draws=400)
    many = fit(marram, draws=400)
    assert isinstance(few, Fit)
    assert isinstance(many, Fit)
    assert few.rate.evidence == "assumed"
    dwell, pressure = np.full(400, 0.005), np.full(400, 200.0)
    spread = [item.powder.solid_fraction_after(pressure, dwell).std() for item in (few, many)]
    assert spread[0] > 2.0 * spread[1]


def test_hold_times_a_decade_apart_measure_the_rate(marram: Study) -> None:
    short = fit(only(marram, lambda run: run.hold in (0.0, 1.0)), draws=300)
    long = fit(only(marram, lambda run: run.hold in (1.0, 60.0)), draws=300)
    assert isinstance(short, Fit)
    assert isinstance(long, Fit)
    assert long.decades > 1.0
    assert long.rate.evidence == "measured"
    assert short.decades < 1.5


def test_runs_that_must_be_solved_have_the_dwell_of_the_solver(marram: Study) -> None:
    """Dwells carried between solved parameter sets, against a pulse solved for the fit itself.

    The fit says how far off its carried dwells are; two such distances hold for the worst run.
    """
    runs = tuple(
        replace(run, hold=None, loading_rate=None, speed=20.0 if run.hold == 1.0 else 70.0)
        for run in marram.lab.runs
    )
    lab = replace(marram.lab, press=find_press("lab-eccentric"), runs=runs, defaults=RunDefaults())
    fitted = fit(replace(marram, lab=lab), draws=300)
    assert isinstance(fitted, Fit)
    assert fitted.dwell_error < 0.03
    assert fitted.decades == pytest.approx(np.log10(70.0 / 20.0), abs=0.25)
    for row in (fitted.runs[0], fitted.runs[12], fitted.runs[-1]):
        seen = row.observation
        pulse = compress(
            seen.side.press,
            fitted.powder,
            seen.side.tip.charge(seen.weight, marram.blend.true_density),
            np.full(300, seen.pressure),
            seen.setting,
        )
        off = np.log(row.effective_dwell / np.median(pulse.effective_dwell))
        assert abs(off) < 2.0 * fitted.dwell_error


def test_the_truth_behind_invented_runs_is_found_again(marram: Study) -> None:
    """Runs made from Y 140, A 0.8, m 0.045 by the closed line of the law, with little scatter.

    A steady rise at a rate r to F, a hold h and a release d have ``h + (F/r + d) m/(1+m)``.
    """
    rng = np.random.default_rng(11)
    area, density, m = np.pi * 25.0, marram.blend.true_density, 0.045
    runs = []
    for index, run in enumerate(marram.lab.runs):
        dwell = (run.hold or 0.0) + (run.force / 5e3 + 0.05) * m / (1.0 + m)
        q = (run.force / area / 140.0 * dwell**m) ** (1.0 / (1.0 + m))
        solid = (1.0 - np.exp(-0.8 - q)) * (1.0 + 5e-4 * rng.standard_normal())
        thickness = 400.0 / (density * area * solid)
        runs.append(replace(run, weight=400.0, thickness=float(thickness), name=f"run {index}"))
    lab = replace(marram.lab, runs=tuple(runs), reference=None)
    fitted = fit(replace(marram, lab=lab), draws=1000)
    assert isinstance(fitted, Fit)
    (_, y, _), (_, a, _) = fitted.powder.hardening.named()
    for drawn, truth in ((y, 140.0), (a, 0.8), (fitted.powder.rate_exponent, m)):
        assert abs(drawn.mean() - truth) < 2.5 * drawn.std()
        assert drawn.std() < 0.12 * truth
    assert fitted.solid_fraction_scatter < 1e-3


def test_rows_that_are_means_scatter_less_than_single_tablets(marram: Study) -> None:
    """The same rows, each the mean of nine tablets: one tablet scatters three times as much."""
    runs = tuple(replace(run, tablets=9) for run in marram.lab.runs)
    single = fit(marram, draws=400)
    nine = fit(replace(marram, lab=replace(marram.lab, runs=runs)), draws=400)
    assert isinstance(single, Fit)
    assert isinstance(nine, Fit)
    assert single.strength_scatter is not None
    assert nine.strength_scatter == pytest.approx(3.0 * single.strength_scatter)
    assert nine.solid_fraction_scatter == pytest.approx(3.0 * single.solid_fraction_scatter)


def test_two_production_runs_share_the_factor_between_the_curves() -> None:
    """Three figures of the line are shared out among the runs, one of them among the two alone."""
    fitted = fit(read_study(EXAMPLES / "fescue"), draws=300)
    assert isinstance(fitted, Fit)
    pulled = {
        row.observation.run.name: row.strength_miss.leverage
        for row in fitted.runs
        if row.strength_miss is not None
    }
    every = [row.strength_miss.leverage for row in fitted.runs if row.strength_miss is not None]
    assert sum(every) == pytest.approx(3.0)
    assert pulled["P1"] == pytest.approx(0.5, abs=0.02)
    assert pulled["P2"] == pytest.approx(0.5, abs=0.02)


def test_the_change_of_the_exponent_is_as_believed_where_the_runs_have_one_dwell(
    dunlin: Study,
) -> None:
    """25 % a decade: two decades below the middle dwell m is wider by half of itself."""
    found = fit(dunlin, draws=2000)
    assert isinstance(found, Fit)
    powder = found.powder
    assert np.median(powder.tested_dwell) == pytest.approx(found.dwell_span[0], rel=1e-2)
    there = powder.exponent_at(powder.middle_dwell / 100.0) / powder.rate_exponent
    assert np.median(there) == pytest.approx(1.0, abs=0.04)
    low, high = np.quantile(there, [0.16, 0.84])
    assert (high - low) / 2.0 == pytest.approx(0.5, rel=0.08)


def test_runs_at_three_dwells_inform_the_change_of_the_exponent(marram: Study) -> None:
    """Runs held 0, 1, 10 and 60 s leave less of the change open than was believed."""
    found = fit(marram, draws=2000)
    assert isinstance(found, Fit)
    assert found.powder.curvature.std() < 0.6 * SPREAD_OF_CURVATURE


def test_ejection_grows_with_pressure_as_the_runs_do() -> None:
    rng = np.random.default_rng(5)
    pressure = np.geomspace(60.0, 240.0, 60)
    stress = 0.05 * pressure**0.7 * np.exp(0.05 * rng.standard_normal(60))
    line = draw_ejection_line(pressure, stress, np.ones(60), 2000, rng)
    slope, intercept = np.polyfit(np.log(pressure), np.log(stress), 1)
    assert line.exponent.mean() == pytest.approx(slope, abs=0.01)
    at = line.stress(np.full(2000, 120.0))
    assert at.mean() == pytest.approx(np.exp(intercept) * 120.0**slope, rel=5e-3)
    assert at.std() / at.mean() == pytest.approx(0.05 / np.sqrt(60), rel=0.35)


def test_a_tablet_under_load_is_as_wide_as_its_die() -> None:
    """The measured diameter is the ejected tablet's and must not swell it inside the die."""
    study = read_study(EXAMPLES / "sedge")
    wider = replace(
        study, lab=replace(study.lab, runs=tuple(replace(r, diameter=10.1) for r in study.lab.runs))
    )
    plain, swollen = (observe(each, sides(each))[0] for each in (study, wider))
    assert swollen.in_die_solid_fraction == plain.in_die_solid_fraction
    assert swollen.solid_fraction == pytest.approx((plain.solid_fraction or 0.0) / 1.01**2)


def test_a_fit_asks_for_its_figures_seldom(monkeypatch: pytest.MonkeyPatch) -> None:
    """Solved are three forms at once, twice for each way of pressing; slopes come in one call."""
    solved: list[int] = []
    asked: list[int] = []

    def counted(squeeze: Squeeze, *rest: Array) -> Trajectory:
        solved.append(squeeze.powder.draws)
        return integrate(squeeze, *rest)

    plain = Posterior.solid_fractions

    def watched(posterior: Posterior, columns: Array) -> tuple[Array, Array]:
        asked.append(len(columns))
        return plain(posterior, columns)

    monkeypatch.setattr("scaleup.powder.compression.integrate", counted)
    monkeypatch.setattr(Posterior, "solid_fractions", watched)
    assert isinstance(fit(read_study(EXAMPLES / "fescue"), draws=200), Fit)
    ways = 2
    assert len(solved) <= 2 * ways
    assert len(asked) < 200


def test_a_peak_on_a_bound_has_slopes_from_within() -> None:
    """Steps to see a slope do not leave the range of the exponent; the other way is as good."""
    asked: list[Array] = []

    def bent(columns: Array, *_: float) -> Array:
        asked.append(columns)
        return np.vstack([np.exp(columns[:, 0]), columns[:, 1] ** 2])

    high = np.array([np.inf, 0.2])
    slopes = Slopes(bent, high)
    here = np.array([-1.5, 0.2])
    np.testing.assert_allclose(slopes.residuals(here, 1.0), [np.exp(-1.5), 0.04])
    found = slopes.jacobian(here, 1.0)
    np.testing.assert_allclose(found, np.diag([np.exp(-1.5), 0.4]), rtol=1e-6, atol=1e-9)
    assert len(asked) == 1
    assert np.max(asked[0][:, 1]) == 0.2
    slopes.jacobian(here, 2.0)
    assert len(asked) == 2
