"""Contact time and strain rate of a study whose precompression alone is changed."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from scaleup.files.study import read_study
from scaleup.transfer.translation import translate

EXAMPLES = Path(__file__).parents[2] / "examples"
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
    """ms and 1/s at the lab's own pressure and 45 rpm, computed independently of this package."""
    study = tmp_path / "marram"
    shutil.copytree(EXAMPLES / "marram", study)
    (study / "presses").mkdir()
    (study / "presses" / "sixteen.toml").write_text(PRESS)
    text = (study / "study.toml").read_text().replace("rotary-mid-19", "sixteen")
    asked = f'precompression = "{share} %"' if share else ""
    (study / "study.toml").write_text(text.replace('precompression = "15 %"', asked))
    found = translate(read_study(study), draws=300).equivalent("pressure").settings
    assert found.contact_time.value == pytest.approx(contact / 1e3, rel=5e-3)
    assert found.strain_rate.value == pytest.approx(rate, rel=5e-3)


def test_precompression_as_high_as_the_main_force_has_an_answer(tmp_path: Path) -> None:
    study = tmp_path / "marram"
    shutil.copytree(EXAMPLES / "marram", study)
    text = (study / "study.toml").read_text()
    (study / "study.toml").write_text(text.replace('"15 %"', '"100 %"'))
    found = translate(read_study(study), draws=300).equivalent("pressure").settings
    assert found.contact_time.value is not None
