"""What a study says of the way to the plant and cannot mean: one clear fault each."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from scaleup.errors import Fault, InputError
from scaleup.io.study import read_study
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
