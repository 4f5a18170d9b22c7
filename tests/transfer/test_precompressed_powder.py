"""Contact time and strain rate of a study whose precompression alone is changed."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from scaleup.answers.functions import translate
from scaleup.io.study import read_study

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parents[2] / "examples"
DRAWS = 300
PRESS = """\
format = "scaleup press 1"
kind = "rotary"
name = "Sixteen stations"
description = "Invented for this test."
accepts = ["B"]
feed = "forced"
stations = 16
pitch_circle = "290 mm"
roller_spacing = "70 deg"
speed = { min = "10 rpm", max = "75 rpm" }
stiffness = "160 kN/mm"

[main_roller]
radius = "100 mm"
force_limit = "80 kN"

[pre_roller]
radius = "90 mm"
force_limit = "20 kN"
"""


@pytest.mark.parametrize(
    ("share", "contact", "rate"), [(0, 61.4, 24.0), (15, 47.5, 22.5), (80, 33.3, 10.1)]
)
def test_the_main_roller_meets_what_precompression_left(
    tmp_path: Path, share: int, contact: float, rate: float
) -> None:
    """ms and 1/s at the lab's own pressure and 45 rpm, computed independently of this package.

    To half a unit of the last digit, and to twice the error that the middle of so few draws has.
    """
    study = tmp_path / "marram"
    shutil.copytree(EXAMPLES / "marram", study)
    (study / "presses").mkdir()
    (study / "presses" / "sixteen.toml").write_text(PRESS)
    text = (study / "study.toml").read_text().replace("rotary-mid-19", "sixteen")
    asked = f'precompression = "{share} %"' if share else ""
    (study / "study.toml").write_text(text.replace('precompression = "15 %"', asked))
    found = translate(read_study(study), draws=DRAWS).equivalent("pressure").settings
    for figure, expected in ((found.contact_time, contact / 1e3), (found.strain_rate, rate)):
        assert figure.low is not None
        assert figure.high is not None
        deviation = (figure.high - figure.low) / (2.0 * 1.645)
        error = 2.0 * 1.25 * deviation / DRAWS**0.5
        assert figure.value == pytest.approx(expected, abs=5e-3 * expected + error)
        assert error < 0.02 * expected


def test_precompression_as_high_as_the_main_force_has_an_answer(tmp_path: Path) -> None:
    study = tmp_path / "marram"
    shutil.copytree(EXAMPLES / "marram", study)
    text = (study / "study.toml").read_text()
    (study / "study.toml").write_text(text.replace('"15 %"', '"100 %"'))
    found = translate(read_study(study), draws=DRAWS).equivalent("pressure").settings
    assert found.contact_time.value is not None
