"""Tips that would be set into each other without load: a limit of the machine."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scaleup.answers.functions import imitate, translate
from scaleup.answers.translation import Translation
from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing
from scaleup.io.library import find_press
from scaleup.io.study import read_study
from scaleup.model.run import Run
from scaleup.model.study import RunDefaults, Study
from scaleup.transfer.case import TransferCase, transfer_case
from tests.studies import LAW_ALONE, of_the_law, unchecked

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]


def study_with(folder: Path, stiffness: str, weight: str) -> Study:
    """Return a study on disk with this stiffness of its production press and this weight."""
    study = Path(
        shutil.copytree(ROOT / "examples" / "marram", folder / stiffness.split(maxsplit=1)[0])
    )
    text = (ROOT / "profiles" / "presses" / "rotary-mid-19.toml").read_text(encoding="utf-8")
    (study / "presses").mkdir()
    (study / "presses" / "mine.toml").write_text(text.replace("160 kN/mm", stiffness))
    file = study / "study.toml"
    case = file.read_text(encoding="utf-8").replace('"rotary-mid-19"', '"mine"')
    target = 'strength = "2.0 MPa"\n'
    assert target in case
    file.write_text(case.replace(target, f'{target}weight = "{weight}"\n'), encoding="utf-8")
    return read_study(study)


@pytest.fixture(scope="module")
def soft(tmp_path_factory: pytest.TempPathFactory) -> Translation:
    """Return a tablet of some 0.6 mm on a press that gives way by as much."""
    return translate(study_with(tmp_path_factory.mktemp("soft"), "18 kN/mm", "60 mg"), draws=200)


def test_tips_set_into_each_other_are_not_transferable(soft: Translation) -> None:
    match = soft.equivalent("pressure")
    assert (match.settings.tip_separation.value or 0.0) < 0.0
    assert "tip-separation" in {limit.code for limit in match.broken}
    assert not match.reachable
    assert soft.verdict.answer == "not transferable"
    assert "tip separation, set without load" in soft.verdict.reasons[0]
    risks = {item.code: item for item in soft.risks}
    assert risks["tips-meet"].severity == "severe"
    assert "presses/mine.toml has what is unusual: stiffness" in risks["profile-doubtful"].message


def test_a_stiff_press_makes_the_same_tablet(tmp_path: Path) -> None:
    study = replace(study_with(tmp_path, "400 kN/mm", "60 mg"), transfer=LAW_ALONE)
    stiff = translate(study, draws=200)
    assert stiff.verdict.answer != "not transferable"
    assert stiff.equivalent("pressure").broken == ()
    assert (stiff.equivalent("pressure").settings.tip_separation.value or 0.0) > 0.2
    assert not {"tips-meet", "profile-doubtful"} & {item.code for item in stiff.risks}


def asked_of(study: Study) -> TransferCase:
    return transfer_case(calibrated(study, Drawing(120, 1)), 45.0, 0.9)


@pytest.mark.parametrize("example", ["marram", "dunlin"])
def test_the_figure_is_that_of_the_solved_pulse_within_a_few_hundredths_of_a_mm(
    example: str,
) -> None:
    """Flat and cupped; peak and final state are taken to meet, which makes it a little small."""
    case = asked_of(of_the_law(example))
    for pressure in (case.reference.pressure, case.process.top):
        point = case.process.at(pressure, 45.0)
        off = point.tip_separation[point.shown] - point.pulse.separation
        assert np.max(np.abs(off)) < 0.04


def test_room_of_a_bound_of_zero_is_a_share_of_the_powder_s_height() -> None:
    case = asked_of(read_study(ROOT / "examples" / "marram"))
    (limit,) = [each for each in case.limits if each.code == "tip-separation"]
    point = case.process.at(150.0, 45.0)
    room = limit.room(point)
    assert room is not None
    assert room == pytest.approx(point.tip_separation / case.process.charge.solid_height)
    assert limit.bound == 0.0


def test_a_rigid_press_has_no_such_limit() -> None:
    study = read_study(ROOT / "examples" / "marram")
    press = study.production.press
    rigid = replace(press, profile=replace(press.profile, stiffness=None))
    tooling = study.production.tooling
    profile = replace(tooling.profile, barrel_diameter=None, punch_length=None, modulus=None)
    bare = replace(tooling, profile=profile)
    other = replace(study, production=replace(study.production, press=rigid, tooling=bare))
    assert "tip-separation" not in {each.code for each in asked_of(other).limits}


def on_press(study: Study, name: str, stiffness: float) -> Study:
    """Return a study whose lab runs were made on this press with this stiffness in N/mm.

    The softest is softer than a profile may be: what stands behind its check is tested.
    """
    press = find_press(name)
    press = replace(press, profile=unchecked(press.profile, stiffness=stiffness))
    speed = 40.0 if name == "lab-eccentric" else None

    def made(run: Run) -> Run:
        if run.press != "lab":
            return run
        return replace(run, speed=speed, hold=None, loading_rate=None)

    runs = tuple(made(run) for run in study.lab.runs)
    defaults = RunDefaults(loading_rate=None, hold=None, speed=None)
    return replace(study, lab=replace(study.lab, press=press, runs=runs, defaults=defaults))


def test_a_lab_press_that_moves_its_tips_cannot_set_them_into_each_other() -> None:
    """A soft frame under a driven force only gives way; a crank would need the separation."""
    study = read_study(ROOT / "examples" / "fescue")
    told = {}
    for name in ("lab-hydraulic", "lab-eccentric"):
        imitation = imitate(on_press(study, name, 2e3), run="P2", draws=200)
        told[name] = next(each for each in imitation.equivalents if each.match == "pressure").reason
    assert "into each other" in told["lab-eccentric"]
    assert "into each other" not in told["lab-hydraulic"]


def test_lab_runs_with_the_tips_into_each_other_are_a_risk() -> None:
    study = read_study(ROOT / "examples" / "marram")
    told = {
        stiffness: {
            item.code
            for item in translate(on_press(study, "lab-eccentric", stiffness), draws=200).risks
        }
        for stiffness in (2e3, 60e3)
    }
    assert "lab-tips-meet" in told[2e3]
    assert "lab-tips-meet" not in told[60e3]
