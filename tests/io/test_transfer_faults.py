"""What a study says of the way to the plant and cannot mean: one clear fault each."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from scaleup.answers.analysis import Analysis
from scaleup.errors import Fault, FieldFault, InputError
from scaleup.io.library import find_press
from scaleup.io.study import read_study
from scaleup.model.press import Feeder, RotaryProfile
from tests.studies import EXAMPLES


@pytest.fixture
def marram(tmp_path: Path) -> Path:
    """Return a copy of an example study."""
    return Path(shutil.copytree(EXAMPLES / "marram", tmp_path / "marram"))


def stating(folder: Path, lines: str) -> Path:
    """Return a study whose table ``[transfer]`` has these lines."""
    file = folder / "study.toml"
    file.write_text(f"{file.read_text(encoding='utf-8')}\n{lines}\n", encoding="utf-8")
    return folder


def with_column(folder: Path, heading: str, line: int, value: str) -> Path:
    """Return a study whose run table has another column, filled on one line."""
    file = folder / "runs.csv"
    rows = file.read_text(encoding="utf-8").splitlines()
    for index, row in enumerate(rows):
        if not row.startswith("#"):
            last = heading if row.startswith("run,") else value if index + 1 == line else ""
            rows[index] = f"{row},{last}"
    file.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return folder


def only_fault(folder: Path) -> Fault:
    with pytest.raises(InputError) as caught:
        read_study(folder)
    (fault,) = caught.value.faults
    return fault


def test_an_unknown_term_is_told_with_those_there_are(marram: Path) -> None:
    fault = only_fault(stating(marram, '[transfer]\noff = ["lots"]'))
    assert fault.where.startswith("transfer.off")
    assert "lots" in fault.found
    assert all(name in fault.allowed for name in ("curvature", "gauges", "lot", "readings"))


def test_a_spread_of_nothing_is_refused(marram: Path) -> None:
    fault = only_fault(stating(marram, '[transfer]\nshear_spread = "5 %"'))
    assert fault.where == "transfer.shear_spread"
    assert fault.found == "shear_spread without shear"
    assert fault.allowed == "both, or neither"


def test_a_gauge_ratio_that_lacks_is_refused(marram: Path) -> None:
    fault = only_fault(stating(marram, '[transfer]\ngauge_ratio_accuracy = "1 %"'))
    assert (fault.where, fault.found) == (
        "transfer.gauge_ratio_accuracy",
        "gauge_ratio_accuracy without gauge_ratio",
    )


def test_a_volume_is_no_mass(marram: Path) -> None:
    stated = '[transfer.lab_blender]\nvolume = "5 kg"\nheadspace = "50 %"'
    fault = only_fault(stating(marram, stated))
    assert fault.where == "transfer.lab_blender.volume"
    assert "kg" in fault.found
    assert "volume" in fault.allowed


def test_a_volume_in_litres_is_taken(marram: Path) -> None:
    stated = '[transfer.lab_blender]\nvolume = "5 L"\nheadspace = "50 %"\nrevolutions = 200'
    blender = read_study(stating(marram, stated)).transfer.lab_blender
    assert blender is not None
    assert blender.volume == pytest.approx(5e6)


LINE = 5
"""Of the run table: a run at 6.03 kN."""


def test_more_below_than_above_names_its_line_and_column(marram: Path) -> None:
    fault = only_fault(with_column(marram, "lower punch force [kN]", LINE, "6.40"))
    assert (fault.file, fault.where) == ("runs.csv", f"line {LINE}, column lower punch force")
    assert fault.found == "6.4 kN under a force of 6.03 kN"
    assert "upper punch" in fault.allowed
    assert fault.mend


def test_as_much_below_as_above_is_no_fault(marram: Path) -> None:
    study = read_study(with_column(marram, "lower punch force [kN]", LINE, "6.03"))
    assert study.lab.runs[1].lower_punch_force == pytest.approx(6030.0)


def test_paddles_of_a_press_that_is_not_force_fed_are_refused() -> None:
    press = find_press("rotary-mid-19").profile
    assert isinstance(press, RotaryProfile)
    feeder = Feeder(hold_up=5e5, paddle_diameter=150.0, paddle_speed=40.0)
    assert replace(press, feeder=feeder).feeder == feeder
    with pytest.raises(FieldFault) as caught:
        replace(press, feed="gravity", feeder=feeder)
    (fault,) = caught.value.faults
    assert (fault.where, fault.found) == ("feeder", 'the table feeder with feed = "gravity"')


def test_blenders_that_no_run_makes_use_of_are_told(marram: Path) -> None:
    lines = '[transfer]\nlab_blender = { volume = "2 L", headspace = "50 %", revolutions = 100 }'
    case = Analysis(read_study(stating(marram, lines)), draws=200).case()
    (shear,) = [term for term in case.process.plant.terms if term.name == "shear"]
    assert shear.grade == "assumed"
    assert "blenders and feeder as stated count once runs" in str(shear.told)
