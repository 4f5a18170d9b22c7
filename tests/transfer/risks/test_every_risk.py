"""Every risk: its code, severity, effect and a number, from a study changed to bring it out."""

from __future__ import annotations

import ast
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from scaleup.model.press import Stated
from scaleup.model.ranges import Range
from scaleup.model.study import Study
from scaleup.sentence import Fact
from scaleup.transfer import risks
from scaleup.transfer.findings import Findings
from scaleup.transfer.outcomes import verdict_word
from scaleup.transfer.risks.registry import FINDERS, ORDER, Risk, all_risks
from tests.logged_production import Pressed
from tests.transfer.risks.changed_studies import (
    Brought,
    as_a_plant,
    capping_above_m4,
    capping_far_above,
    case_of,
    elongated,
    example,
    falling,
    feeder,
    fescue,
    few_forces,
    held_longer_weaker,
    in_die,
    logged,
    marram,
    on_a_soft_crank,
    only,
    relaxing_less,
    roller,
    runs,
    sedge,
    steeper,
    strength,
    times,
    weighed,
    window,
    with_defect,
)

NONE, STOPS, CHANGE, LACKS = "none", "stops", "needs a change", "lacks evidence"
STATED = {"speed": 45.0, "dwell_time": 0.016, "head_flat": 9.5}
in_kgf = runs(times("force", 1.0 / 9.80665))


def confirmed() -> Study:
    return in_kgf().confirmed(True)


BROUGHT = (
    # strength and solid fraction of the tablet
    Brought("solid-fraction-out-of-window", "watch", NONE, "outside", 0.25, 0.5,
            window(0.75, 0.837)),
    Brought("solid-fraction-out-of-window", "serious", NONE, "outside", 0.5, 0.7,
            window(0.808, 0.95)),
    Brought("strength-below-target", "serious", NONE, "met", 0.1, 0.2, strength(2.34)),
    Brought("strength-below-target", "severe", NONE, "met", 0.0, 0.1, strength(2.38)),
    Brought("strength-below-target", "severe", NONE, "target", 15.0, 15.0, elongated(360.0)),
    Brought("elastic-recovery", "watch", NONE, "recovery", 0.080, 0.085, runs(in_die(0.93))),
    Brought("elastic-recovery", "watch", NONE, "recovery", 0.095, 0.100, runs(in_die(0.918))),
    Brought("elastic-recovery", "serious", NONE, "recovery", 0.100, 0.105, runs(in_die(0.915))),
    Brought("ejection-not-checked", "watch", NONE, "runs_with_ejection", 1.0, 1.0,
            runs(lambda run: replace(run, ejection_force=300.0 if run.line == 14 else None))),
    Brought("ejection-stress", "watch", NONE, "stress", 3.0, 3.1,
            runs(times("ejection_force", 1.2))),
    Brought("ejection-stress", "watch", NONE, "stress", 4.9, 5.0,
            runs(times("ejection_force", 1.95))),
    Brought("ejection-stress", "serious", NONE, "stress", 5.0, 5.1,
            runs(times("ejection_force", 2.0))),
    Brought("ejection-over-limit", "severe", NONE, "force", 310.0, 320.0,
            marram(press={"ejection_limit": 310.0})),
    Brought("strength-formula-range", "watch", NONE, "wall", 0.30, 0.32,
            lambda: example("marram", tooling="b-convex-10")),
    Brought("strength-formula-range", "watch", NONE, "wall", 0.40, 0.42,
            sedge(runs=lambda run: replace(run, thickness=(run.thickness or 0.0) + 1.2,
                                           in_die_thickness=None))),
    # the pulse of the press
    Brought("pulse-conflicts", "watch", NONE, "above", 0.0129, 0.0132,
            logged("a little short", Pressed(clock=0.89))),
    Brought("pulse-conflicts", "watch", NONE, "above", 0.0106, 0.0109,
            logged("short", Pressed(clock=0.735))),
    Brought("pulse-conflicts", "serious", NONE, "above", 0.0103, 0.0106,
            logged("too short", Pressed(clock=0.72))),
    # speed, and how well its effect is known
    Brought("speed-sensitive-strength", "watch", NONE, "loss", 0.08, 0.10, runs(steeper(-0.4))),
    Brought("speed-sensitive-strength", "serious", NONE, "loss", 0.10, 0.11, runs(steeper(-0.25))),
    Brought("speed-sensitive-strength", "serious", NONE, "loss", 0.24, 0.25, runs(steeper(1.06))),
    Brought("speed-sensitive-strength", "severe", NONE, "loss", 0.25, 0.28, runs(steeper(1.2))),
    Brought("rate-assumed", "serious", NONE, "decades", 0.0, 0.1,
            runs(lambda run: run if run.hold == 1.0 else None)),
    Brought("rate-borrowed", "watch", NONE, "decades", 0.5, 1.0, lambda: example("dunlin")),
    Brought("dwell-extrapolated", "watch", NONE, "decades", 0.2, 0.3, marram(), 10.0),
    Brought("dwell-extrapolated", "watch", NONE, "decades", 1.95, 2.0,
            runs(lambda run: run if (run.hold or 0.0) >= 1.0 else None), 27.0),
    Brought("dwell-extrapolated", "serious", NONE, "decades", 2.0, 2.05,
            runs(lambda run: run if (run.hold or 0.0) >= 1.0 else None), 30.0),
    Brought("curve-depends-on-dwell", "serious", NONE, "factor", 1.2, 1.25,
            runs(held_longer_weaker(0.8))),
    Brought("curve-depends-on-dwell", "severe", STOPS, "factor", 1.25, 1.7,
            runs(held_longer_weaker(0.6))),
    # the lab runs and their fit
    Brought("forms-disagree", "watch", NONE, "highest", 2.3, 2.4, few_forces(1.2)),
    Brought("forms-disagree", "serious", NONE, "highest", 4.2, 4.4, few_forces(3.0)),
    Brought("lack-of-fit", "watch", NONE, "misfit", 0.0045, 0.0055,
            marram(blend={"hardening": "heckel"})),
    Brought("suspicious-run", "watch", NONE, "deviations", 20.0, 35.0,
            runs(lambda run: replace(run, breaking_force=15.0) if run.line == 14 else run)),
    Brought("suspect-run-decides", "severe", LACKS, "deviations", 20.0, 30.0,
            runs(lambda run: replace(run, breaking_force=20.0) if run.line == 24 else run,
                 target={"strength": 3.6})),
    Brought("pressure-beyond-tested", "watch", NONE, "beyond", 0.02, 0.03, strength(2.8)),
    Brought("pressure-beyond-tested", "watch", NONE, "beyond", 0.22, 0.25, strength(3.25)),
    Brought("pressure-beyond-tested", "serious", NONE, "beyond", 0.25, 0.30, strength(3.35)),
    Brought("strength-falls-with-pressure", "severe", STOPS, "drop", 0.12, 0.18,
            runs(capping_above_m4)),
    Brought("strength-falls-with-pressure", "serious", NONE, "drop", 0.12, 0.18,
            runs(capping_far_above, target={"strength": 1.0})),
    Brought("no-feeder-shear", "watch", NONE, "weaker", 0.065, 0.067, marram()),
    Brought("feeder-shifts-strength", "watch", NONE, "share", 0.90, 0.98,
            fescue(runs=feeder(1.0))),
    Brought("feeder-shifts-strength", "serious", NONE, "share", 0.88, 0.90,
            fescue(runs=feeder(0.95))),
    # production runs
    Brought("production-readings", "severe", LACKS, "size", 3.0, 12.0,
            as_a_plant(runs=weighed(1.06))),
    Brought("production-drift", "severe", LACKS, "change", -0.30, -0.10, falling(0.8)),
    Brought("defects-seen", "serious", NONE, "pressure", 140.0, 170.0,
            runs(with_defect("M4", "capping"))),
    Brought("relaxation-conflicts", "serious", NONE, "apart", 2.0, 100.0, relaxing_less),
    Brought("not-enough-runs", "severe", LACKS, "runs", 4.0, 4.0, runs(only("M4"))),
    Brought("strength-not-checked", "severe", LACKS, "runs_with_strength", 0.0, 0.0,
            runs(lambda run: replace(run, breaking_force=None))),
    Brought("units-doubtful", "severe", LACKS, "value", 0.2, 0.3, in_kgf),
    Brought("units-as-given", "serious", NONE, "value", 0.2, 0.3, confirmed),
    # press and tooling
    Brought("force-over-main-roller", "severe", NONE, "limit", 12.1e3, 12.1e3,
            roller(main_roller=12.1e3)),
    Brought("force-over-pre-roller", "severe", NONE, "limit", 1.9e3, 1.9e3,
            roller(pre_roller=1.9e3)),
    Brought("force-over-tip-rating", "severe", NONE, "force", 13.5e3, 14.5e3,
            marram(tooling={"tip_force_rating": 12.1e3})),
    Brought("tip-rating-not-checked", "serious", NONE, "force", 12e3, 12.1e3,
            marram(tooling={"tip_force_rating": None})),
    Brought("tip-rating-not-checked", "watch", NONE, "force", 12e3, 12.1e3,
            marram(lab_tooling={"tip_force_rating": None})),
    Brought("lab-force-over-limit", "severe", NONE, "force", 15.24e3, 15.24e3,
            marram(lab_press={"force_limit": 15.2e3})),
    Brought("lab-force-over-limit", "severe", NONE, "limit", 15.2e3, 15.2e3,
            marram(lab_tooling={"tip_force_rating": 15.2e3})),
    Brought("speed-outside-range", "severe", NONE, "nearest", 10.0, 10.0, marram(), 9.9),
    Brought("speed-outside-range", "severe", NONE, "nearest", 75.0, 75.0, marram(), 75.1),
    Brought("output-below-asked", "serious", NONE, "needed", 74.0, 75.0,
            marram(target={"output": 85e3})),
    Brought("output-below-asked", "severe", NONE, "needed", 75.0, 76.0,
            marram(target={"output": 86e3})),
    Brought("tooling-does-not-fit", "severe", STOPS, "standards_accepted", 1.0, 1.0,
            marram(tooling={"standard": "D"})),
    Brought("tooling-does-not-fit", "serious", NONE, "standards_accepted", 2.0, 2.0,
            marram(lab_tooling={"standard": "D"})),
    Brought("tips-differ", "watch", NONE, "lab_area", 80.0, 81.0,
            marram(lab_tooling={"diameter": 10.11})),
    Brought("stated-value-disagrees", "serious", NONE, "stated", 16.0, 16.0,
            marram(press={"stated": Stated(**STATED)})),
    Brought("profile-doubtful", "watch", NONE, "unusual_values", 1.0, 1.0,
            marram(press={"stiffness": 40e3})),
    Brought("deflection-not-included", "watch", NONE, "profiles_lacking_figures", 1.0, 1.0,
            marram(press={"stiffness": None})),
    Brought("fill-depth-outside-ranges", "severe", CHANGE, "depth", 16.0, 16.5,
            runs(times("fill_depth", 1.25))),
    Brought("fill-depth-near-range-end", "serious", NONE, "covered", 0.85, 0.90,
            marram(press={"fill": (Range(2.0, 14.0),)})),
    Brought("fill-depth-near-range-end", "watch", NONE, "covered", 0.90, 0.95,
            marram(press={"fill": (Range(2.0, 14.2),)})),
    Brought("short-feed-time", "serious", NONE, "time", 0.099, 0.100,
            marram(press={"feeder_arc": 0.47})),
    Brought("precompression-share", "watch", NONE, "share", 0.09, 0.09,
            marram(production={"precompression": 0.09})),
    Brought("precompression-share", "watch", NONE, "share", 0.31, 0.31,
            marram(production={"precompression": 0.31})),
    Brought("precompression-share", "watch", NONE, "share", 0.79, 0.79,
            marram(production={"precompression": 0.79})),
    Brought("precompression-share", "serious", NONE, "share", 0.81, 0.81,
            marram(production={"precompression": 0.81})),
    Brought("precompression-not-possible", "severe", CHANGE, "share", 0.15, 0.15,
            marram(press={"pre_roller": None})),
    Brought("contact-on-head-rim", "watch", NONE, "allowed", 3.0, 3.3,
            marram(tooling={"head_diameter": 15.0})),
    Brought("tips-meet", "severe", NONE, "gap", -0.06, 0.0,
            marram(press={"stiffness": 25e3}, target={"weight": 60.0})),
    Brought("tips-meet", "severe", NONE, "loaded", -1.0, 0.0, elongated(330.0)),
    Brought("lab-tips-meet", "serious", NONE, "into", 2.0, 2.5, on_a_soft_crank(2e3)),
)  # fmt: skip
"""Thresholds are held from both sides: a number a little below, and one a little above."""

Bare = Callable[[], Study]
ABSENT: tuple[tuple[str, Bare, float | None], ...] = (
    ("solid-fraction-out-of-window", marram(), None),
    ("strength-below-target", strength(2.1), None),
    ("elastic-recovery", runs(in_die(0.935)), None),
    ("ejection-stress", runs(times("ejection_force", 1.15)), None),
    ("ejection-over-limit", marram(press={"ejection_limit": 320.0}), None),
    ("pressure-beyond-tested", strength(2.6), None),
    ("feeder-shifts-strength", fescue(runs=feeder(1.1)), None),
    ("production-readings", as_a_plant(runs=weighed(1.01)), None),
    ("production-drift", falling(0.95), None),
    ("defects-seen", runs(with_defect("M4", "dust")), None),
    ("no-feeder-shear", marram(lab_press={"feed": "forced"}), None),
    ("lab-force-over-limit", marram(lab_press={"force_limit": 15.3e3}), None),
    ("speed-outside-range", marram(), 75.0),
    ("speed-outside-range", marram(), 10.0),
    ("output-below-asked", marram(target={"output": 51e3}), None),
    ("tips-differ", marram(lab_tooling={"diameter": 10.09}), None),
    ("fill-depth-near-range-end", marram(press={"fill": (Range(2.0, 14.5),)}), None),
    ("short-feed-time", marram(press={"feeder_arc": 0.48}), None),
    ("precompression-share", marram(production={"precompression": 0.11}), None),
    ("precompression-share", marram(production={"precompression": 0.29}), None),
    ("contact-on-head-rim", marram(tooling={"head_diameter": 16.0}), None),
    ("profile-doubtful", marram(press={"stiffness": 80e3}), None),
    ("tips-meet", marram(press={"stiffness": 400e3}, target={"weight": 60.0}), None),
    ("lab-tips-meet", on_a_soft_crank(4e3), None),
    ("pulse-conflicts", logged("nearly", Pressed(clock=0.91)), None),
    ("pulse-conflicts", logged("as it is", Pressed()), None),
)
"""Just outside what brings a risk out."""


def risks_of(study: Study, code: str, speed: float | None = None) -> list[Risk]:
    """Return the risks of a code, worst first, those that suspicious runs bring among them."""
    every = Findings(case_of(study, speed), verdict_word).risks
    return [item for item in every if item.code == code]


@pytest.mark.parametrize("brought", BROUGHT, ids=str)
def test_a_risk_has_its_severity_effect_and_number(brought: Brought) -> None:
    item = risks_of(brought.study(), brought.code, brought.speed)[0]
    assert (item.severity, item.effect) == (brought.severity, brought.effect)
    number = item.facts[brought.fact]
    assert isinstance(number, Fact)
    assert brought.least <= number.value <= brought.most
    assert item.message.endswith(".")
    assert item.evidence
    assert str(item.action).endswith(".")


@pytest.mark.parametrize(("code", "study", "speed"), ABSENT, ids=[each[0] for each in ABSENT])
def test_a_little_less_brings_no_risk(code: str, study: Bare, speed: float | None) -> None:
    assert code not in {item.code for item in all_risks(case_of(study(), speed))}


def test_marram_as_it_is_has_three() -> None:
    codes = [item.code for item in all_risks(case_of(example("marram")))]
    assert codes == ["speed-sensitive-strength", "dwell-extrapolated", "no-feeder-shear"]


def test_only_standing_finders_decide() -> None:
    """What a finder that is not asked for the short answer decided would never be heard."""
    deciding = {each.code for each in BROUGHT if each.effect != NONE}
    for brought in {each.code: each for each in BROUGHT if each.effect != NONE}.values():
        if brought.code == "suspect-run-decides":
            continue  # found by asking for the answer again, not by a finder
        case = case_of(brought.study(), brought.speed)
        for each in FINDERS:
            if case.fitted is not None or each.without_fit:
                effects = {item.effect for item in each.finder(case)}
                assert each.standing or effects <= {NONE}, each.finder.__name__
    assert {"units-doubtful", "not-enough-runs", "strength-not-checked"} <= deciding


def _written() -> tuple[set[str], set[str]]:
    """Return every code written out in the package, and the heads of those made up."""
    whole, heads = set(), set()
    folder = Path(str(risks.__file__)).parent
    for path in (*folder.glob("*.py"), folder.parent / "suspects.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Risk":
                code = node.args[0]
                if isinstance(code, ast.JoinedStr):
                    heads.add(str(ast.literal_eval(code.values[0])))
                else:
                    whole.add(str(ast.literal_eval(code)))
    return whole, heads


def test_an_effect_is_written_only_in_standing_finders() -> None:
    standing = {each.finder.__name__ for each in FINDERS if each.standing}
    folder = Path(str(risks.__file__)).parent
    for path in folder.glob("*.py"):
        for function in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            words = {node.arg for node in ast.walk(function) if isinstance(node, ast.keyword)}
            if isinstance(function, ast.FunctionDef) and {"effect", "in_doubt"} & words:
                assert function.name in standing


def test_no_code_is_missing_from_the_table() -> None:
    whole, heads = _written()
    codes = {each.code for each in BROUGHT}
    made_up = {code for code in codes if code.startswith(tuple(heads))}
    assert heads == {"force-over-", "rate-"}
    assert whole == codes - made_up
    assert made_up == {
        "force-over-main-roller", "force-over-tip-rating", "force-over-pre-roller",
        "rate-assumed", "rate-borrowed",
    }  # fmt: skip


def test_severities_are_those_that_order_the_list() -> None:
    assert {each.severity for each in BROUGHT} == set(ORDER)
