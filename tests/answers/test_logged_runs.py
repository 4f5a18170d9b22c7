"""Runs that bring their log: the fit and the matches use the measured pulse."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scaleup.answers.functions import translate
from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing, Fit, fit
from scaleup.calibration.observations import observe, sides
from scaleup.errors import InputError
from scaleup.io.study import read_study
from scaleup.io.updated_study import write_updated_study
from scaleup.model.run import Run
from scaleup.model.study import Study
from scaleup.presses.recorded import RecordedPress
from scaleup.transfer.case import transfer_case
from tests.transfer.risks.changed_studies import relaxed_less

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(EXAMPLES / "bracken", tmp_path / "study"))


@pytest.fixture(scope="module")
def bracken() -> Study:
    return read_study(EXAMPLES / "bracken")


def change(folder: Path, name: str, old: str, new: str) -> None:
    text = (folder / name).read_text()
    assert old in text
    (folder / name).write_text(text.replace(old, new, 1))


def unlogged(run: Run) -> Run:
    return replace(run, record="", compression=None)


def test_a_logged_run_has_its_log_for_a_press(bracken: Study) -> None:
    seen = observe(bracken, sides(bracken))
    assert all(isinstance(each.side.press, RecordedPress) for each in seen)
    for each in seen:
        assert each.logged is not None
        assert each.logged.peak == pytest.approx(each.run.force, rel=0.01)
        assert each.logged.time.size <= 420
        assert each.in_die_solid_fraction is not None
        assert each.solid_fraction is not None
        # Squeezed it is denser than ejected, by the few per cent it springs back.
        ratio = each.in_die_solid_fraction / each.solid_fraction
        assert 1.01 < ratio < 1.08


def test_a_force_that_decays_has_a_shorter_dwell_than_one_that_is_held(bracken: Study) -> None:
    """The same runs without their logs count the nominal hold of 20 s at full force."""
    plain = replace(bracken.lab, runs=tuple(map(unlogged, bracken.lab.runs)))
    measured, assumed = fit(bracken, draws=300), fit(replace(bracken, lab=plain), draws=300)
    assert isinstance(measured, Fit)
    assert isinstance(assumed, Fit)
    assert measured.dwell_span[1] < 2.0
    assert assumed.dwell_span[1] > 15.0
    assert measured.elastic_measured
    assert not assumed.elastic_measured


def test_thinning_leaves_the_dwell(bracken: Study) -> None:
    """Against the log itself, sample by sample, in the power that counts only the top."""
    seen = next(each for each in observe(bracken, sides(bracken)) if each.run.name == "B6")
    assert seen.logged is not None
    log = np.loadtxt(EXAMPLES / "bracken" / "records" / "B6.csv", delimiter=",", skiprows=2)
    first = log[log[:, 0] < 26.0]
    share = (first[:, 1] * 1e3 - 12.0).clip(0.0) / seen.logged.peak
    thin = np.interp(first[:, 0], seen.logged.time, seen.logged.force) / seen.logged.peak
    for exponent in (0.02, 0.05, 0.1):
        whole, thinner = (float(np.sum(each ** (1.0 / exponent))) for each in (share, thin))
        assert thinner == pytest.approx(whole, rel=0.02)


def test_translation_takes_the_measured_lab_pulse(bracken: Study) -> None:
    lab = calibrated(bracken, Drawing(300, 1))
    case = transfer_case(lab, 45.0, 0.9)
    dwell = float(np.median(case.lab_pulse.pulse.effective_dwell))
    assert 0.1 < dwell < 0.8
    assert translate(bracken, draws=300).fit is not None


def test_a_log_of_another_force_is_refused(folder: Path) -> None:
    change(folder, "runs.csv", "B3,12.03", "B9,10.03")
    study = read_study(folder)
    with pytest.raises(InputError, match=r"line 7, force: found 10.03 kN where the log"):
        fit(study, draws=300)


def test_faults_of_the_columns(folder: Path) -> None:
    change(folder, "runs.csv", "records/B1.csv,1", "records/B1.csv,7")
    with pytest.raises(InputError, match="found compression 7; allowed: 1 to 2, as many as there"):
        fit(read_study(folder), draws=300)
    change(folder, "runs.csv", "records/B1.csv,7", "records/B1.csv,")
    with pytest.raises(InputError, match="found 2 compressions; allowed: one, or the number of"):
        fit(read_study(folder), draws=300)
    change(folder, "runs.csv", "records/B1.csv,", "../B1.csv,1")
    with pytest.raises(InputError, match=r'line 3, column record: found "../B1.csv", which leads'):
        read_study(folder)
    change(folder, "runs.csv", "../B1.csv,1", "records/none.csv,1")
    with pytest.raises(InputError, match=r"none\.csv"):
        read_study(folder)


def test_logs_count_as_inputs_and_go_with_an_updated_study(folder: Path, tmp_path: Path) -> None:
    study = read_study(folder)
    assert "records/B6.csv" in dict(study.inputs)
    write_updated_study(study, tmp_path / "new", "again")
    again = read_study(tmp_path / "new")
    assert [run.record for run in again.lab.runs] == [run.record for run in study.lab.runs]
    assert [run.compression for run in again.lab.runs] == [r.compression for r in study.lab.runs]
    one, other = fit(study, draws=300), fit(again, draws=300)
    assert isinstance(one, Fit)
    assert isinstance(other, Fit)
    np.testing.assert_allclose(other.powder.rate_exponent, one.powder.rate_exponent, rtol=1e-6)


def test_holds_that_relax_otherwise_are_a_risk(folder: Path) -> None:
    """Every logged force made to fall half as fast: they no longer agree with the fit."""
    for path in (folder / "records").glob("B*.csv"):
        relaxed_less(path)
    translation = translate(read_study(folder), draws=400)
    risks = {item.code: item for item in translation.risks}
    assert "relaxation-conflicts" in risks
    assert (
        "Held forces relax as with a rate exponent of 0.0" in risks["relaxation-conflicts"].message
    )
