"""Every risk: absent from a study, and brought out by one change to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from scaleup.files.run_table import Run
from scaleup.files.study import Study
from scaleup.transfer.risks import Risk
from scaleup.transfer.risks.registry import ORDER
from scaleup.transfer.translation import translate

Change = Callable[..., Study]


def risks_of(study: Study, **asked: Any) -> dict[str, Risk]:
    return {item.code: item for item in reversed(translate(study, draws=300, **asked).risks)}


def weaker_when_long(run: Run) -> Run:
    factor = 0.6 if (run.hold or 0.0) >= 10.0 else 1.0
    return replace(run, breaking_force=(run.breaking_force or 0.0) * factor)


def one_outlier(run: Run) -> Run:
    return replace(run, breaking_force=15.0) if run.line == 14 else run


def falling(run: Run) -> Run:
    top = run.name in ("M5", "M9", "M10")
    return replace(run, breaking_force=90.0) if top else run


def thin_in_die(run: Run) -> Run:
    return replace(run, in_die_thickness=(run.thickness or 0.0) * 0.88)


CHANGES: dict[str, dict[str, Any]] = {
    "tip-rating-not-checked": {"tooling": {"tip_force_rating": None}},
    "force-over-tip-rating": {"tooling": {"tip_force_rating": 11e3}},
    "force-over-main-roller": {"production": {}, "main": 11e3},
    "speed-outside-range": {"production": {"speed": 90.0}},
    "pressure-beyond-tested": {"target": {"strength": 3.4}},
    "strength-falls-with-pressure": {"runs": falling},
    "solid-fraction-out-of-window": {"window": (0.60, 0.80)},
    "strength-below-target": {"target": {"strength": 2.6}},
    "elastic-recovery": {"runs": thin_in_die},
    "ejection-stress": {
        "runs": lambda run: replace(run, ejection_force=3.0 * (run.ejection_force or 0.0))
    },
    "ejection-not-checked": {"runs": lambda run: replace(run, ejection_force=None)},
    "ejection-over-limit": {"press": {"ejection_limit": 200.0}},
    "precompression-share": {"production": {"precompression": 0.5}},
    "precompression-not-possible": {"press": {"pre_roller": None}},
    "fill-depth-outside-ranges": {
        "runs": lambda run: replace(run, fill_depth=(run.fill_depth or 0.0) * 2.0)
    },
    "short-feed-time": {"press": {"feeder_arc": 0.2}},
    "curve-depends-on-dwell": {"runs": weaker_when_long},
    "suspicious-run": {"runs": one_outlier},
    "tooling-does-not-fit": {"tooling": {"standard": "D"}},
    "tips-differ": {"lab_tooling": {"diameter": 11.0}},
    "deflection-not-included": {"press": {"stiffness": None}},
    "contact-on-head-rim": {"tooling": {"head_diameter": 10.5}},
    "lab-force-over-limit": {"lab_press": {"force_limit": 14e3}},
    "strength-not-checked": {"runs": lambda run: replace(run, breaking_force=None)},
    "not-enough-runs": {"runs": lambda run: run if run.name == "M4" else None},
    "rate-assumed": {"runs": lambda run: run if run.hold == 1.0 else None},
}


@pytest.mark.parametrize("code", CHANGES)
def test_a_change_brings_the_risk_out(marram: Study, changed: Change, code: str) -> None:
    asked = dict(CHANGES[code])
    window, main = asked.pop("window", None), asked.pop("main", None)
    if window is not None:
        old = marram.target.solid_fraction
        asked["target"] = {
            "solid_fraction": old.model_copy(update=dict(zip(("min", "max"), window, strict=True)))
        }
    if main is not None:
        roller = marram.production.press.model.main_roller
        asked["press"] = {"main_roller": roller.model_copy(update={"force_limit": main})}
    assert code not in risks_of(marram)
    found = risks_of(changed(marram, **asked))
    assert code in found
    item = found[code]
    assert item.severity in ORDER
    assert item.message.endswith(".")
    assert item.evidence
    assert item.action


def test_marram_is_speed_sensitive_and_extrapolated(marram: Study, dunlin: Study) -> None:
    found = risks_of(marram)
    assert {"speed-sensitive-strength", "dwell-extrapolated", "no-feeder-shear"} <= set(found)
    assert "speed-sensitive-strength" not in risks_of(dunlin)


def test_the_published_material_is_named(dunlin: Study) -> None:
    item = risks_of(dunlin)["rate-borrowed"]
    assert "calcium phosphate" in item.evidence
    assert "Roberts & Rowe" in item.evidence


def test_feeder_shear_is_not_warned_of_between_fed_presses(marram: Study, changed: Change) -> None:
    assert "no-feeder-shear" not in risks_of(changed(marram, lab_press={"feed": "forced"}))


def test_a_stated_dwell_that_geometry_denies_is_told(marram: Study, changed: Change) -> None:
    from scaleup.files.press_profiles import Stated  # noqa: PLC0415

    stated = {"speed": "45 rpm", "dwell_time": "16 ms", "head_flat": "9.5 mm"}
    study = changed(marram, press={"stated": Stated.model_validate(stated)})
    item = risks_of(study)["stated-value-disagrees"]
    assert "16 ms" in item.message
    assert "13.91 ms" in item.message


def test_a_thick_convex_tablet_is_outside_its_formula(sedge: Study, changed: Change) -> None:
    study = changed(sedge, runs=lambda run: replace(run, thickness=(run.thickness or 0.0) + 1.2,
                                                    in_die_thickness=None))  # fmt: skip
    assert "strength-formula-range" not in risks_of(sedge)
    assert "strength-formula-range" in risks_of(study)


def test_worst_first(sedge: Study) -> None:
    order = [ORDER[item.severity] for item in translate(sedge, draws=300).risks]
    assert order == sorted(order)
    assert order[0] == 0


def test_a_misfit_is_told_with_its_size(marram: Study) -> None:
    item = risks_of(marram)["lack-of-fit"]
    assert "0.0050 of solid fraction" in item.message
