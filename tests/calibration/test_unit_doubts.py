"""Slips of a unit are caught where the data can tell, and no plausible powder is doubted."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from scaleup.calibration.jumps import jumps
from scaleup.calibration.observations import observe, sides
from scaleup.calibration.plausibility import figures, numbers_of, outside
from scaleup.calibration.published_spans import SPANS
from scaleup.calibration.unit_doubts import doubts
from scaleup.calibration.unit_slips import slips
from scaleup.errors import InputError
from scaleup.io.starter import write_starter
from scaleup.io.study import read_study
from scaleup.model.run import Run
from scaleup.model.study import Study

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = ("marram", "dunlin", "sedge", "fescue", "bracken")
FORCES = ("force", "breaking_force", "ejection_force")

SLIPS = {
    "kgf under N": (("force",), 1 / 9.80665),
    "lbf under N": (("force",), 1 / 4.448),
    "lb under kg": (("force",), 1 / 2.205),
    "daN under N": (("force",), 1 / 10),
    "N under kgf": (("force",), 9.80665),
    "N under lbf": (("force",), 4.448),
    "kN under N": (("force",), 1 / 1000),
    "every force, kgf under N": (FORCES, 1 / 9.80665),
    "every force, lbf under N": (FORCES, 1 / 4.448),
    "breaking force, kp under N": (("breaking_force",), 1 / 9.80665),
    "breaking force, N under kp": (("breaking_force",), 9.80665),
    "breaking force, lbf under N": (("breaking_force",), 1 / 4.448),
    "breaking force, kN under N": (("breaking_force",), 1 / 1000),
    "ejection force, kgf under N": (("ejection_force",), 1 / 9.80665),
    "ejection force, N under kgf": (("ejection_force",), 9.80665),
    "ejection force, kN under N": (("ejection_force",), 1 / 1000),
    "thickness, mm under in": (("thickness",), 25.4),
    "thickness, in under mm": (("thickness",), 1 / 25.4),
    "thickness, cm under mm": (("thickness",), 1 / 10),
    "weight, g under mg": (("weight",), 1 / 1000),
    "weight, mg under g": (("weight",), 1000),
    "fill depth, cm under mm": (("fill_depth",), 1 / 10),
    "fill depth, in under mm": (("fill_depth",), 1 / 25.4),
    "hold, min under s": (("hold",), 1 / 60),
    "hold, s under min": (("hold",), 60),
    "hold, s under ms": (("hold",), 1 / 1000),
}
"""Slip: what is scaled, and by what."""

UNTOLD = {
    ("lb under kg", "marram"), ("lb under kg", "dunlin"), ("lb under kg", "sedge"),
    ("lb under kg", "fescue"),
    ("lbf under N", "dunlin"),
    ("every force, lbf under N", "dunlin"), ("every force, lbf under N", "fescue"),
    ("breaking force, N under kp", "sedge"),
    ("breaking force, lbf under N", "marram"), ("breaking force, lbf under N", "dunlin"),
    ("breaking force, lbf under N", "sedge"), ("breaking force, lbf under N", "fescue"),
    ("breaking force, lbf under N", "bracken"),
    ("ejection force, kgf under N", "marram"), ("ejection force, kgf under N", "sedge"),
    ("ejection force, kgf under N", "fescue"),
    ("hold, min under s", "sedge"),
}  # fmt: skip
"""What the data cannot tell: the figures are then those of another powder that exists."""


def slipped(study: Study, fields: tuple[str, ...], ratio: float) -> Study:
    def wrong(run: Run) -> Run:
        values = {name: getattr(run, name) for name in fields}
        return replace(run, **{name: each and each * ratio for name, each in values.items()})

    return replace(study, lab=replace(study.lab, runs=tuple(map(wrong, study.lab.runs))))


def found_out(study: Study) -> str:
    """Return what is said of a study: a fault, or a doubt; nothing if nothing is."""
    try:
        seen = observe(study, sides(study))
    except InputError as error:
        return str(error)
    return " ".join(str(each.message) for each in doubts(study, seen, study.lab.reference or ""))


@pytest.fixture(scope="module")
def studies() -> dict[str, Study]:
    return {name: read_study(EXAMPLES / name) for name in NAMES}


@pytest.mark.parametrize("name", NAMES)
def test_no_example_is_doubted(studies: dict[str, Study], name: str) -> None:
    assert found_out(studies[name]) == ""


def test_the_study_to_start_from_is_not_doubted(tmp_path: Path) -> None:
    write_starter(tmp_path / "study")
    assert found_out(read_study(tmp_path / "study")) == ""


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_slips_are_found_out_where_the_data_can_tell(studies: dict[str, Study], name: str) -> None:
    """Every slip by every example; what cannot be told is listed, and is not told by accident."""
    study = studies[name]
    passed = set()
    for slip, (fields, ratio) in SLIPS.items():
        wrong = slipped(study, fields, ratio)
        if wrong != study and not found_out(wrong):
            passed.add((slip, name))
    assert passed == {each for each in UNTOLD if each[1] == name}


@pytest.mark.parametrize(
    ("slip", "name", "column", "ratio"),
    [
        ("kgf under N", "marram", "force", 9.807),
        ("kgf under N", "dunlin", "force", 9.807),
        ("kgf under N", "sedge", "force", 9.807),
        ("kgf under N", "fescue", "force", 9.807),
        ("lbf under N", "marram", "force", 4.448),
        ("every force, kgf under N", "marram", "every force", 9.807),
        ("breaking force, kp under N", "bracken", "breaking force", 9.807),
        ("breaking force, N under kp", "marram", "breaking force", 1 / 9.807),
        ("breaking force, kN under N", "fescue", "breaking force", 1000.0),
        ("ejection force, N under kgf", "sedge", "ejection force", 1 / 9.807),
        ("fill depth, in under mm", "marram", "fill depth", 25.4),
        ("hold, min under s", "fescue", "hold", 60.0),
    ],
)
def test_the_slip_that_was_made_is_among_those_named(
    studies: dict[str, Study], slip: str, name: str, column: str, ratio: float
) -> None:
    wrong = slipped(studies[name], *SLIPS[slip])
    numbers = numbers_of(wrong, observe(wrong, sides(wrong)), wrong.lab.reference or "")
    named = [(each.column, each.ratio) for each in slips(numbers)[:3]]
    assert any(name == column and other == pytest.approx(ratio) for name, other in named)


def test_what_is_told_of_a_slip(studies: dict[str, Study]) -> None:
    wrong = slipped(studies["fescue"], ("breaking_force",), 1 / 9.80665)
    assert found_out(wrong) == (
        "Units in doubt: the strength of the reference over the target is 0.126; usual is, with "
        "room, 0.165 to 10. Every figure would be usual with column breaking force of runs.csv "
        "9.807 times as large (kgf taken for N, or tf for kN) or 10 times as large (daN taken for "
        "N) or 4.448 times as large (lbf taken for N)."
    )


def powder(study: Study, scale: float, start: float, solid: float, exponent: float) -> Study:
    """Return marram with the tablets of another powder: a Heckel line, and its strengths."""

    def made(run: Run) -> Run:
        pressure = run.force / (np.pi * 25.0)
        share = 1.0 - np.exp(-start - pressure / scale)
        thickness = 400.0 / (study.blend.true_density * share * np.pi * 25.0)
        strength = solid * np.exp(-exponent * (1.0 - share))
        breaking = strength * np.pi * 10.0 * thickness / 2.0
        pushed = 0.02 * run.force
        return replace(
            run, weight=400.0, thickness=thickness, breaking_force=breaking,
            ejection_force=pushed,
        )  # fmt: skip

    lab = replace(study.lab, runs=tuple(made(run) for run in study.lab.runs))
    return replace(study, lab=lab)


SOFT_TO_HARD = [(45.0, 0.6), (60.0, 0.8), (90.0, 0.6), (150.0, 0.9), (300.0, 0.7), (600.0, 0.7),
                (950.0, 0.8)]  # fmt: skip
"""Yield pressure in MPa and intercept, from soft plastic polymers to an anhydrous phosphate."""
WEAK_TO_STRONG = [(1.5, 5.0), (6.0, 7.0), (15.0, 10.0), (25.0, 8.0)]
"""Strength in MPa at no porosity, and the exponent."""


def test_no_plausible_powder_is_doubted(studies: dict[str, Study]) -> None:
    """Those with 0.2 to 8 MPa at 100 MPa, which published materials have (from memory)."""
    marram = studies["marram"]
    untargeted = replace(marram.target, strength=None)
    study = replace(marram, target=untargeted)
    tried = 0
    for (scale, start), (solid, exponent) in product(SOFT_TO_HARD, WEAK_TO_STRONG):
        at_hundred = solid * np.exp(-exponent * np.exp(-start - 100.0 / scale))
        if not 0.2 <= at_hundred <= 8.0:
            continue
        tried += 1
        assert found_out(powder(study, scale, start, solid, exponent)) == "", (scale, solid)
    assert tried >= 15


def test_each_figure_has_a_span_with_its_source(studies: dict[str, Study]) -> None:
    for span in SPANS.values():
        assert span.low < span.high
        assert span.room >= 1.0
        assert span.source
    marram = studies["marram"]
    found = {each.code for each in figures(numbers_of(marram, observe(marram, sides(marram))))}
    assert {"yield", "strength", "solid-strength", "ejection-share", "fill"} <= found


@pytest.mark.parametrize(
    ("scaled", "code"),
    [
        ({"solid": 1 / 2.5}, "solid-fraction-lowest"),
        ({"pressure": 20.0}, "pressure"),
        ({"strength": 40.0}, "strength"),
        ({"ejection_stress": 100.0}, "ejection-stress"),
        ({"fill": 4.0}, "fill"),
        ({"hold": 0.01}, "shortest-hold"),
        ({"hold": 100.0}, "longest-hold"),
        ({"rise": 100.0}, "rise"),
        ({"target": 0.1}, "target"),
        ({"true_density": 5.0}, "true-density"),
    ],
)
def test_each_figure_is_doubted_beyond_its_span(
    studies: dict[str, Study], scaled: dict[str, float], code: str
) -> None:
    marram = studies["marram"]
    numbers = numbers_of(marram, observe(marram, sides(marram)), "M4")
    wrong = {name: getattr(numbers, name) * by for name, by in scaled.items()}
    assert code in {each.code for each in outside(replace(numbers, **wrong))}


@pytest.mark.parametrize(
    ("field", "lines", "ratio", "column", "named"),
    [
        ("breaking_force", range(15, 16), 1 / 9.80665, "breaking force", 9.807),
        ("breaking_force", range(20, 26), 9.80665, "breaking force", 1 / 9.807),
        ("force", range(18, 24), 1 / 4.448, "force", 4.448),
        ("ejection_force", range(12, 21), 1 / 9.80665, "ejection force", 9.807),
        ("fill_depth", range(22, 33), 1 / 25.4, "fill depth", 25.4),
    ],
)
def test_rows_that_step_by_a_unit_are_named(
    studies: dict[str, Study], field: str, lines: range, ratio: float, column: str, named: float
) -> None:
    def stepped(run: Run) -> Run:
        value = getattr(run, field)
        if run.line not in lines or value is None:
            return run
        return replace(run, **{field: value * ratio, "name": f"{run.name}x"})

    marram = studies["marram"]
    runs = tuple(map(stepped, marram.lab.runs))
    wrong = replace(marram, lab=replace(marram.lab, runs=runs))
    (found,) = jumps(observe(wrong, sides(wrong)))
    assert found.column == column
    assert found.ratio == pytest.approx(named) or found.ratio == pytest.approx(
        10.0 if named > 1.0 else 0.1
    )
    measured = {run.line for run in runs if getattr(run, field) is not None}
    assert set(found.lines) == measured & set(lines)
    assert f"column {column} of runs.csv, line" in found_out(wrong)


def test_rows_made_differently_are_no_step(studies: dict[str, Study]) -> None:
    """A tablet that caps and breaks at half its force, and one pressed far harder."""
    marram = studies["marram"]
    runs = tuple(
        replace(run, breaking_force=0.5 * run.breaking_force)
        if run.line == 12 and run.breaking_force
        else run
        for run in marram.lab.runs
    )
    weak = replace(marram, lab=replace(marram.lab, runs=runs))
    assert found_out(weak) == ""
