"""A study of a DataFrame and two presses answers like one from a folder, and tells its faults."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from pint import UnitRegistry

import scaleup
from scaleup.errors import InputError
from scaleup.io.updated_study import write_updated_study
from scaleup.model.blend import Blend
from scaleup.model.run import Run
from scaleup.model.study import Study

EXAMPLES = Path(__file__).parents[2] / "examples"
UNITS: UnitRegistry[Any] = UnitRegistry()
# The least pint that is supported does not know numpy's word "copy", over which pandas trips as it
# makes a column of quantities.
of_quantities = pytest.mark.filterwarnings("ignore:__array__ implementation:DeprecationWarning")
PARTS = [
    ("microcrystalline cellulose", "68 %", "1.55 g/cm^3"),
    ("lactose monohydrate", 0.31, 1.54),
    ("magnesium stearate", "1 %", "1.09 g/cm^3"),
]
BLEND = {
    "component": [dict(zip(("name", "share", "true_density"), part, strict=True)) for part in PARTS]
}


@pytest.fixture
def frame() -> pd.DataFrame:
    table = pd.read_csv(EXAMPLES / "marram" / "runs.csv", comment="#")
    return table.assign(**{"loading rate [kN/s]": 5.0})


def made(runs: Any, **other: Any) -> Study:
    asked: dict[str, Any] = {
        "blend": 1.54,
        "lab": ("lab-hydraulic", "lab-flat-10"),
        "production": ("rotary-mid-19", "b-flat-10", "45 rpm"),
    }
    return scaleup.study_from(runs, **{**asked, **other})


def faults(runs: Any, **other: Any) -> str:
    with pytest.raises(InputError) as caught:
        made(runs, **other)
    return "\n".join(map(str, caught.value.faults))


def test_it_answers_like_the_study_of_the_folder(frame: pd.DataFrame) -> None:
    study = made(
        frame,
        blend=BLEND,
        production=("rotary-mid-19", "b-flat-10", 45.0, "15 %"),
        target={"strength": "2.0 MPa", "solid_fraction": {"min": "80 %", "max": 0.9},
                "confidence": 0.9},
        reference="M4",
    )  # fmt: skip
    folder = scaleup.read_study(EXAMPLES / "marram")
    ours = scaleup.translate(study, draws=250)
    theirs = scaleup.translate(folder, draws=250)
    assert ours.verdict.answer == theirs.verdict.answer
    for each in theirs.equivalents:
        assert ours.equivalent(each.match).settings == each.settings
        assert ours.equivalent(each.match).tablet == each.tablet
    assert [risk.code for risk in ours.risks] == [risk.code for risk in theirs.risks]
    assert set(study.inputs) < set(folder.inputs)  # the profiles, whose digests results tell


@of_quantities
def test_columns_of_quantities_are_the_same_runs(frame: pd.DataFrame) -> None:
    plain = made(frame)
    force: Any = [UNITS.Quantity(force, "kN") for force in frame["force [kN]"]]
    weight: Any = [UNITS.Quantity(weight / 1e3, "g") for weight in frame["weight [mg]"]]
    other = frame.drop(columns=["force [kN]", "weight [mg]"]).assign(force=force, weight=weight)
    study = made(other, blend=UNITS.Quantity("1540 kg/m^3"))
    for run, known in zip(study.lab.runs, plain.lab.runs, strict=True):
        assert run.force == pytest.approx(known.force, rel=1e-12)
        assert run.weight == pytest.approx(known.weight, rel=1e-12)
    assert study.blend.true_density == pytest.approx(1.54)


def test_runs_and_profiles_are_taken_as_they_are(frame: pd.DataFrame) -> None:
    folder = scaleup.read_study(EXAMPLES / "marram")
    press = replace(folder.production.press.profile, name="Own press")
    study = made(
        [replace(run, line=0) for run in folder.lab.runs],
        blend=Blend(stated_true_density=1.54),
        lab=(folder.lab.press, folder.lab.tooling.profile),
        production=(press, folder.production.tooling, 45.0),
    )
    assert [run.line for run in study.lab.runs] == list(range(1, 30))
    assert (study.production.press.id, study.production.press.shown) == ("Own press", "Own press")
    ours, theirs = (scaleup.Analysis(each, draws=250).speed() for each in (study, made(frame)))
    assert (ours.answer, ours.fastest) == (theirs.answer, theirs.fastest)


def test_presses_are_compared_without_a_folder(frame: pd.DataFrame) -> None:
    comparison = scaleup.compare(made(frame), ["rotary-mid-19"], draws=250)
    assert [each.production.press.id for each in comparison.candidates] == ["rotary-mid-19"]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"blend": 1540.0}, "blend.true_density: found 1540.0; allowed: 0.05 to 25 mg/mm^3"),
        ({"blend": "1.54"}, 'blend.true_density: found "1.54", a number without a unit'),
        ({"blend": UNITS.Quantity("3 mm")}, "blend.true_density: found 3 millimeter"),
        ({"blend": {"true_densty": 1}}, 'found the unknown key "true_densty"'),
        ({"target": {"strength": -2}}, "target.strength: found -2; allowed: above zero"),
        ({"target": {"confidence": 0.3}}, "target.confidence: found 30 %"),
        ({"target": 5}, "target: found 5; allowed: a table of keys"),
        ({"lab": "lab-hydraulic"}, 'lab: found "lab-hydraulic"; allowed: a press and its tooling'),
        ({"lab": ("lab-hydralic", "lab-flat-10")}, 'lab: found the unknown press "lab-hydralic"'),
        ({"lab": (5, "lab-flat-10")}, "lab: found 5; allowed: the id of a press, or its profile"),
        ({"lab": ("lab-hydraulic", None)}, "lab: found None; allowed: the id of tooling"),
        ({"production": ("rotary-mid-19", "b-flat-10")}, "a press, its tooling and a turret speed"),
        ({"production": ("lab-hydraulic", "b-flat-10", 45)}, "production: found lab-hydraulic, of"),
        ({"production": ("rotary-mid-19", "b-flat-10", "4 kN")}, "production.speed: found the uni"),
        ({"production": ("rotary-mid-19", "b-flat-10", 45, 2)}, "production.precompression: found"),
        (
            {"reference": "Z"},
            'lab.reference: found the unknown run "Z"; allowed: a lab run of',
        ),
        ({"name": ""}, 'name: found ""; allowed: a name of 1'),
    ],
)
def test_a_fault_names_its_argument(frame: pd.DataFrame, change: dict[str, Any], told: str) -> None:
    assert told in faults(frame, **change)


@of_quantities
def test_a_fault_of_a_run_names_row_and_column(frame: pd.DataFrame) -> None:
    frame.loc[2, "force [kN]"] = 6000.0
    assert "runs: row 3, column force: found 6000 kN" in faults(frame)
    assert "runs: column force: found no unit" in faults(
        frame.rename(columns={"force [kN]": "force"})
    )
    assert "runs: no column run" not in faults(frame.iloc[:0])
    assert "runs: found no rows" in faults(frame.iloc[:0])
    assert "runs: found 3; allowed: a DataFrame of runs, or runs" in faults(3)
    force: Any = [UNITS.Quantity(9, "kN")] * 28 + [9.0]
    mixed = frame.drop(columns="force [kN]").assign(force=force)
    assert "runs: row 29, column force: found 9.0; allowed: a force, with its unit" in faults(mixed)


def test_runs_made_in_python_are_held_to_the_bounds_of_a_table() -> None:
    runs = [Run("A", 8.0), Run("B", 8e3, thickness=390.0, hold=0.0), Run("C", None)]  # type: ignore[arg-type]
    told = faults(runs)
    assert "runs: row 1, column force: found 8.0 N; allowed: 10 to 1e+06 N" in told
    assert "runs: row 2, column thickness: found 390.0 mm; allowed: 0.1 to 50 mm" in told
    assert "runs: row 3, column force: found None; allowed: a number in N" in told
    assert "hold" not in told


def test_what_a_folder_would_be_refused_for_is_refused(frame: pd.DataFrame) -> None:
    told = faults(frame.assign(**{"speed [rpm]": 20.0}))
    assert "runs: rows 1 to 29, column speed: found a speed of 20 rpm; allowed: no speed" in told
    told = faults(frame.assign(run="A"))
    assert 'rows 1 to 29, column force: found the run name "A" for forces of' in told
    told = faults(frame, lab=("lab-eccentric", "lab-flat-10"))
    assert "runs: rows 1 to 29, column speed: found no speed" in told
    told = faults(frame.assign(record="x.csv"))
    assert "rows 1 to 29, column record: found the log x.csv; allowed: logs only of a study" in told


def test_a_log_lies_in_the_folder_given(tmp_path: Path) -> None:
    bracken = scaleup.read_study(EXAMPLES / "bracken")
    shutil.copytree(EXAMPLES / "bracken" / "records", tmp_path / "records")
    study = made(
        bracken.lab.runs,
        blend=bracken.blend,
        lab=(bracken.lab.press, bracken.lab.tooling),
        production=(bracken.production.press, bracken.production.tooling, 40.0),
        folder=tmp_path,
    )
    assert {name for name, _ in bracken.inputs if name.startswith("records/")} <= dict(
        study.inputs
    ).keys()


def test_a_study_without_a_folder_is_not_written_anew(frame: pd.DataFrame, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="a study made without a folder"):
        write_updated_study(made(frame), tmp_path / "new", "why")
    assert not (tmp_path / "new").exists()
