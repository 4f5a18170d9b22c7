"""Every risk: absent from a study, and brought out by one change to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from scaleup.answers.functions import translate
from scaleup.calibration.fit import Fit
from scaleup.io.schema import read_as
from scaleup.io.study import read_study
from scaleup.model.run import Run
from scaleup.model.study import Study
from scaleup.transfer.risks import Risk
from scaleup.transfer.risks.registry import ORDER
from scaleup.wording import say

Change = Callable[..., Study]
EXAMPLES = Path(__file__).parents[2] / "examples"


def risks_of(study: Study, **asked: Any) -> dict[str, Risk]:
    return {item.code: item for item in reversed(translate(study, draws=200, **asked).risks)}


@pytest.fixture(scope="module")
def before(marram: Study) -> dict[str, Risk]:
    """Return the risks of the unchanged study, found once."""
    return risks_of(marram)


def test_the_strength_formula_is_asked_about_both_tablets(marram: Study) -> None:
    """Flat lab tablets; the production ones are convex, their wall 0.31 of the diameter."""
    assert "strength-formula-range" not in risks_of(marram)
    made = read_study(EXAMPLES / "marram", tooling="b-convex-10")
    told = risks_of(made)["strength-formula-range"]
    assert "round convex strength formula was not tested for the production tablet" in told.message
    assert "tested 0.1 to 0.3" in told.message
    shallow = replace(made, target=replace(made.target, weight=330.0))
    assert "strength-formula-range" not in risks_of(shallow)


@pytest.mark.parametrize(("share", "roller"), [(None, "main"), (0.15, "precompression")])
def test_the_rim_is_measured_where_the_powder_is_first_pressed(
    marram: Study, changed: Change, share: float | None, roller: str
) -> None:
    """The way in is longer than the way out: not half the time of contact tells it. Loose powder is
    met by the first of two rollers, which a smaller force sets further open.
    """
    study = changed(marram, tooling={"head_diameter": 10.5}, production={"precompression": share})
    translation = translate(study, draws=300)
    told = next(item for item in translation.risks if item.code == "contact-on-head-rim")
    point = translation.equivalent("pressure").point
    assert point is not None
    line, pulse = point.process, point.pulse
    loose = line.fit.powder.hardening.densification(np.zeros(line.fit.powder.draws))
    open_by = np.median(line.charge.separation(loose)[point.shown] - pulse.separation)
    if share is not None:
        assert pulse.pre_entry_opening is not None
        assert np.median(pulse.entry_opening) < np.median(pulse.pre_entry_opening) < open_by
        open_by = np.median(pulse.pre_entry_opening)
    assert 3.0 < open_by < 7.0
    assert f"{say(float(open_by), 'mm')} open, while the {roller} roller" in told.message


def test_marram_is_speed_sensitive_and_extrapolated(dunlin: Study, before: dict[str, Risk]) -> None:
    assert {"speed-sensitive-strength", "dwell-extrapolated", "no-feeder-shear"} <= set(before)
    assert "speed-sensitive-strength" not in risks_of(dunlin)


def test_the_published_material_is_named(dunlin: Study) -> None:
    item = risks_of(dunlin)["rate-borrowed"]
    assert "calcium phosphate" in item.evidence
    assert "Roberts & Rowe" in item.evidence


def test_runs_on_the_production_press_leave_no_dwell_to_extrapolate(
    marram: Study, before: dict[str, Risk]
) -> None:
    """The lab runs again with three of the production press at its asked speed added."""
    speed = marram.production.speed
    made = tuple(
        replace(run, name="P", press="production", hold=None, loading_rate=None, speed=speed)
        for run in marram.lab.runs
        if run.name == "M4"
    )
    study = replace(marram, lab=replace(marram.lab, runs=(*marram.lab.runs, *made)))
    assert "dwell-extrapolated" in before
    assert "dwell-extrapolated" not in risks_of(study)


def test_feeder_shear_is_not_warned_of_between_fed_presses(marram: Study, changed: Change) -> None:
    assert "no-feeder-shear" not in risks_of(changed(marram, lab_press={"feed": "forced"}))


def test_a_stated_dwell_that_geometry_denies_is_told(
    marram: Study, changed: Change, before: dict[str, Risk]
) -> None:
    from scaleup.model.press import Stated  # noqa: PLC0415

    stated = {"speed": "45 rpm", "dwell_time": "16 ms", "head_flat": "9.5 mm"}
    study = changed(marram, press={"stated": read_as(Stated, stated)})
    assert "stated-value-disagrees" not in before
    item = risks_of(study)["stated-value-disagrees"]
    assert "16 ms" in item.message
    assert "12.72 ms" in item.message


def test_a_thick_convex_tablet_is_outside_its_formula(sedge: Study, changed: Change) -> None:
    study = changed(sedge, runs=lambda run: replace(run, thickness=(run.thickness or 0.0) + 1.2,
                                                    in_die_thickness=None))  # fmt: skip
    assert "strength-formula-range" not in risks_of(sedge)
    assert "strength-formula-range" in risks_of(study)


@pytest.mark.parametrize(("share", "falls"), [(1.01, False), (1.04, False), (1.12, True)])
def test_weaker_tablets_at_one_pressure_are_scatter_not_capping(
    marram: Study, changed: Change, share: float, falls: bool
) -> None:
    """A second condition, 20 % weaker, a little or clearly above the 154 MPa of M4."""

    def second(run: Run) -> Run | None:
        if run.name == "M5":
            return replace(run, force=12.03e3 * share, breaking_force=135.0)
        return run if run.name in ("M1", "M2", "M3", "M4") else None

    risks = risks_of(changed(marram, runs=second))
    assert ("strength-falls-with-pressure" in risks) == falls
    if falls:
        risk = risks["strength-falls-with-pressure"]
        assert f"from 153 MPa to {12.03 * share / (np.pi * 25.0) * 1e3:.0f} MPa" in risk.message
        assert "Runs M4 and M5" in risk.evidence


def test_worst_first(sedge: Study) -> None:
    order = [ORDER[item.severity] for item in translate(sedge, draws=300).risks]
    assert order == sorted(order)
    assert order[0] == 0


def test_a_misfit_is_told_with_its_size(marram: Study, changed: Change) -> None:
    """Heckel's line alone does not bend as these runs do; single rows have no replicates to say."""
    line = changed(marram, blend={"hardening": "heckel"})
    lone = changed(line, runs=lambda run: replace(run, name=f"line {run.line}"))
    lone = replace(lone, lab=replace(lone.lab, reference="line 13"))
    assert "lack-of-fit" not in risks_of(lone)
    assert "lack-of-fit" not in risks_of(marram)
    assert "0.0049 of solid fraction" in risks_of(line)["lack-of-fit"].message


def test_hardening_forms_that_part_are_told_with_their_weights(
    marram: Study, changed: Change, before: dict[str, Risk]
) -> None:
    """Nine runs up to 9 kN leave all three forms open, and 286 MPa is far above them."""

    low = changed(marram, runs=lambda run: run if run.name in ("M1", "M2", "M3") else None)

    def asked(strength: float) -> Risk:
        study = replace(
            low,
            target=replace(low.target, strength=strength),
            lab=replace(low.lab, reference="M3"),
        )
        risks = translate(study, draws=600).risks
        return next(item for item in risks if item.code == "forms-disagree")

    assert asked(2.0).severity == "watch"
    found = asked(3.4)
    assert found.severity == "serious"
    assert "match): strength " in found.message
    assert str(found.evidence).count(" %") == 3
    assert "forms-disagree" not in before


def test_a_feeder_that_weakens_is_told_and_not_taken_for_rate(changed: Change) -> None:
    """Production breaking forces a quarter lower: the factor takes it up, the exponent nothing."""
    fescue = read_study(EXAMPLES / "fescue")

    def weaker(run: Run) -> Run:
        made = run.press == "production"
        return replace(run, breaking_force=(run.breaking_force or 0.0) * (0.75 if made else 1.0))

    plain, weak = (translate(each, draws=300) for each in (fescue, changed(fescue, runs=weaker)))
    assert isinstance(plain.fit, Fit)
    assert isinstance(weak.fit, Fit)
    assert np.array_equal(plain.fit.powder.rate_exponent, weak.fit.powder.rate_exponent)
    assert plain.fit.strength is not None
    assert weak.fit.strength is not None
    ratio = np.median(weak.fit.strength.feeder) / np.median(plain.fit.strength.feeder)
    assert ratio == pytest.approx(0.75, abs=0.02)
    found = {item.code: item for item in weak.risks}
    assert found["feeder-shifts-strength"].severity == "serious"
    assert "no-feeder-shear" not in found
    made = weak.equivalent("pressure").tablet.tensile_strength.value
    assert made is not None
    assert made < 0.85 * (plain.equivalent("pressure").tablet.tensile_strength.value or 0.0)
