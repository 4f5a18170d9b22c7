"""What pictures are drawn from: pulses with their peak, curves of the fit, runs as measured."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from scaleup.answers.curves import over_pressure, pulses, strength_over_speed
from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing
from scaleup.io.study import read_study
from scaleup.transfer.case import TransferCase, transfer_case

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def case() -> TransferCase:
    study = read_study(EXAMPLES / "fescue")
    lab = calibrated(study, Drawing(300, 1))
    return transfer_case(lab, study.production.speed, 0.9)


def test_both_pulses_peak_at_the_labs_pressure(case: TransferCase) -> None:
    """The lab's takes loading at 5 kN/s, a hold of 1 s and the release; production's some ms."""
    (lab, lab_time, lab_pressure), (made, time, pressure) = pulses(case)
    assert lab == "lab"
    assert made == "production, 60 rpm"
    force = case.reference.pressure * np.pi * 25.0
    assert lab_time[-1] == pytest.approx(force / 5e3 + 1.0 + 0.05, rel=1e-6)
    assert lab_pressure.max() == pytest.approx(case.reference.pressure, rel=1e-3)
    assert pressure.max() == pytest.approx(case.reference.pressure, rel=5e-3)
    assert time[-1] < 0.05
    assert np.all(np.diff(time) > 0.0)


@pytest.mark.parametrize("figure", ["solid_fraction", "strength"])
def test_curves_are_the_fit_and_points_the_runs(case: TransferCase, figure: str) -> None:
    bands, points = over_pressure(case, figure)
    assert [seen.name for seen in points] == ["lab runs", "production runs"]
    assert [seen.x.size for seen in points] == [18, 2]
    pressure = case.reference.pressure
    lab = [float(np.interp(pressure, band.x, band.middle)) for _, band in bands]
    curve = case.process.fit.strength
    assert curve is not None
    point = case.process.at(pressure, case.speed)
    expected = {
        "solid_fraction": (case.lab_pulse.solid_fraction, point.solid_fraction),
        "strength": (curve.strength(case.lab_pulse.solid_fraction), point.strength),
    }[figure]
    for found, draws in zip(lab, expected, strict=True):
        assert draws is not None
        assert found == pytest.approx(np.median(draws), rel=3e-3)
    for _, band in bands:
        assert np.all(band.low < band.middle)
        assert np.all(band.middle < band.high)


def test_strength_over_speed_covers_the_range_of_the_press(case: TransferCase) -> None:
    band = strength_over_speed(case)
    assert band is not None
    assert (band.x[0], band.x[-1]) == (10.0, 75.0)
    assert np.all(np.diff(band.middle) < 0.0)
