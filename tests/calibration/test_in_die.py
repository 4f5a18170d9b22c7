"""The elastic constant from in-die thickness, measured on tablets that the slow twin pressed."""

from __future__ import annotations

from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest

from scaleup.calibration.fit import Fit, fit
from scaleup.calibration.observations import side_of
from scaleup.io.study import read_study
from scaleup.model.run import Run
from scaleup.model.study import Study
from scaleup.presses.eccentric import EccentricPress

pytestmark = pytest.mark.slow

STUDY = """\
format = "scaleup study 1"
name = "Pressed by the twin"
description = ""
[blend]
true_density = "1.55 g/cm^3"
hardening = "heckel"
[lab]
press = "lab-eccentric"
tooling = "lab-flat-10"
runs = "runs.csv"
[production]
press = "rotary-mid-19"
tooling = "b-flat-10"
speed = "45 rpm"
[target]
solid_fraction = { min = "80 %", max = "90 %" }
confidence = "90 %"
"""
LAW = (120.0, 0.6, 0.05, 450.0)
"""Y in MPa, A, m and K in MPa of the twin's powder."""
WEIGHT = 400.0
TIMES = 12
"""How often every tablet stands in the table, so that belief has little to say."""


@pytest.fixture(scope="module")
def eccentric(tmp_path_factory: pytest.TempPathFactory) -> Study:
    """Return a study on an eccentric press, its one run a stand-in."""
    folder = tmp_path_factory.mktemp("eccentric")
    (folder / "study.toml").write_text(STUDY)
    (folder / "runs.csv").write_text("run,force [kN],speed [rpm]\nE1,10,40\n")
    return read_study(folder)


def pressed_by(twin: ModuleType, study: Study, gap: float, speed: float) -> Run:
    """Return the run of one tablet, the tips set to a gap in mm without load."""
    side = side_of(study.lab)
    press, area = side.press, side.tip.area
    assert isinstance(press, EccentricPress)
    charge = twin.Charge(WEIGHT, 1.55, area)
    motion = twin.eccentric(press.crank_radius, press.link_length, speed)
    pulse = twin.compress(motion, twin.Powder(*LAW), charge, gap, 1.0 / press.compliance)
    moments = zip(pulse.time, pulse.pressure, strict=True)
    apart = [gap + motion.opening(t) + p * area * press.compliance for t, p in moments]
    return Run(
        f"E{gap:g}-{speed:g}", pulse.peak_pressure * area, speed=speed, weight=WEIGHT,
        thickness=float(charge.separation(LAW[1] + pulse.densification)),
        in_die_thickness=min(apart),
    )  # fmt: skip


@pytest.fixture(scope="module")
def made(eccentric: Study, radau_twin: ModuleType) -> Study:
    gaps_and_speeds = ((4.1, 20.0), (3.8, 80.0), (3.6, 20.0), (3.4, 80.0))
    tablets = [pressed_by(radau_twin, eccentric, *each) for each in gaps_and_speeds]
    runs = tuple(replace(run, line=line) for line, run in enumerate(TIMES * tablets, 2))
    return replace(eccentric, lab=replace(eccentric.lab, runs=runs, reference=None))


def test_the_elastic_constant_is_found_again(made: Study) -> None:
    """Without scatter nothing but the belief in K is between the fit and the truth."""
    fitted = fit(made, draws=300)
    assert isinstance(fitted, Fit)
    assert fitted.elastic_measured
    assert np.median(fitted.powder.elastic) == pytest.approx(LAW[3], rel=0.01)
