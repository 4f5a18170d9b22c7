"""The worlds of simulated trials: the powder by closed forms, sheets by what was changed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import exp1

from scaleup.answers.analysis import Analysis
from scaleup.arrays import Array
from scaleup.io.trial_sheet.reading import SheetRow
from tests.benchmarks import trial_powder, trial_worlds
from tests.benchmarks.calibration import PRODUCTION, Condition, Design, lab_side, production_side
from tests.benchmarks.plant_worlds import Between
from tests.benchmarks.trial_powder import (
    Flow,
    Powder,
    between_rollers,
    drifting,
    under_force,
)
from tests.benchmarks.trial_worlds import (
    EXPONENT,
    EXPONENT_RATIO,
    HELD,
    KINDS,
    Kind,
    Planned,
    World,
    _flat_time,
    _usual_hold,
    drawn_study,
    filled_sheet,
    meets,
    next_lot,
    rollers,
)
from tests.benchmarks.trials import Cause, Outcome, one_trial, table

PLAIN = Powder(Flow(0.03), loose=0.6, closing=30.0, power=1.0, modulus=4000.0)
MADE = production_side("rotary-mid-19", 45.0)
BY_CAUSE = {kind.cause: kind for kind in KINDS}


def held(flow: Flow, pressure: float, time: float, steps: int = 2000) -> float:
    """Return ln y after a time in s under a pressure that is constant, from 1 MPa."""
    times = np.concatenate([[0.0], np.geomspace(1e-12, time, steps)])[:, None]
    always = np.full_like(times, pressure)
    return float(under_force(replace(PLAIN, flow=flow), np.zeros(1), times, always)[0])


@pytest.mark.parametrize("slow", [0.015, 0.03, 0.06])
@pytest.mark.parametrize("time", [0.01, 1.0, 30.0])
def test_a_constant_pressure_densifies_by_the_exponential_integral(
    slow: float, time: float
) -> None:
    """With u = P/y: du/dt = -u e^((u-1)/w), so E1(u/w) - E1(u_0/w) = t e^(-1/w).

    The steps are of first order: half as long, they miss by half as much.
    """

    def miss(u: float) -> float:
        return float(np.log(exp1(u / slow) - exp1(120.0 / slow)) + 1.0 / slow - np.log(time))

    exact = np.log(120.0 / float(brentq(miss, 0.4, 3.0)))
    coarse, fine = (held(Flow(slow), 120.0, time, steps) for steps in (1000, 2000))
    assert fine == pytest.approx(exact, abs=1e-3)
    assert 2.0 * fine - coarse == pytest.approx(exact, abs=2e-6)


def test_a_powder_that_hardly_minds_time_yields_at_the_pressure() -> None:
    stiff = replace(PLAIN, flow=Flow(1e-4))
    main, _ = rollers(MADE)
    peak, speed = np.array([60.0, 150.0, 300.0]), np.array([10.0, 45.0, 75.0])
    state = between_rollers(stiff, main, np.zeros(3), speed, peak, np.full(3, 3.3))
    assert np.exp(state) == pytest.approx(peak, rel=2e-3)


def test_the_peak_of_a_pulse_is_the_one_asked_for_and_slower_is_denser() -> None:
    main, _ = rollers(MADE)
    speed, peak = np.array([10.0, 30.0, 75.0]), np.full(3, 150.0)
    state = between_rollers(PLAIN, main, np.zeros(3), speed, peak, np.full(3, 3.3))
    assert np.all(np.diff(state) < 0.0)
    # In the flat's time and in that of the whole pulse, d(ln y)/d(ln t) lies about the exponent.
    seen = -np.diff(state) / np.diff(np.log(speed))
    assert seen == pytest.approx(PLAIN.flow.exponent(0.015), rel=0.08)


def test_the_pulse_of_the_rollers_is_that_of_a_punch_head() -> None:
    main, pre = rollers(MADE)
    assert pre is not None
    assert pre.roller_radius == 88.0
    for rise in (0.1, 1.0, 3.0):
        angle = main.angle(np.array(rise))
        assert float(main.rise(angle)) == pytest.approx(rise)
        assert angle > main.flat_angle
    assert float(main.rise(np.array(0.9 * main.flat_angle))) == 0.0
    # A flat of 9.5 mm on a circle of 317 mm that turns 45 times a minute.
    assert _flat_time(MADE) == pytest.approx(9.5 / (np.pi * 317.0 * 0.75), rel=1e-3)


@pytest.mark.slow
@pytest.mark.parametrize("design", HELD)
@pytest.mark.parametrize("press", PRODUCTION)
@pytest.mark.parametrize("ratio", EXPONENT_RATIO)
def test_a_drifting_exponent_is_so_many_times_the_lab_s(
    design: Design, press: tuple[str, float], ratio: float
) -> None:
    """By holds that are integrated, not by the formula that the second process was chosen by."""
    made = production_side(*press)
    lab, plant = _usual_hold(design), _flat_time(made)
    for slow in EXPONENT:
        flow = drifting(slow, ratio, lab, plant)
        seen = []
        for dwell in (lab, plant):
            ends = [held(flow, 150.0, share * dwell) for share in (0.9, 1.1)]
            seen.append((ends[1] - ends[0]) / np.log(1.1 / 0.9))
        assert seen[1] / seen[0] == pytest.approx(ratio, rel=0.02)
        assert seen[0] == pytest.approx(Flow(slow).exponent(lab), rel=0.15)


@pytest.mark.slow
def test_the_grids_of_pulses_are_fine_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    """Against grids three times as fine, on both presses: below the noise of ten tablets."""

    def pressed() -> Array:
        conditions = [Condition(9e3, 0.0, 5e3), Condition(9e3, 30.0, 5e3)]
        lab = world().in_lab(lab_side("lab-hydraulic"), np.full(2, 9e3), conditions)
        read, speed = np.array([100.0, 250.0]), np.array([20.0, 60.0])
        pre, weight = np.array([0.0, 0.2]), np.full(2, 400.0)
        return np.concatenate([lab, world().in_plant(MADE, read, speed, pre, weight)])

    usual, near = pressed(), np.geomspace(1e-6, 1.0, 900)
    ramp = np.concatenate([np.geomspace(1e-3, 0.5, 200), 1.0 - 0.5 * near[-2::-1], [1.0]])
    monkeypatch.setattr(trial_worlds, "RAMP", ramp)
    monkeypatch.setattr(trial_worlds, "HOLD", np.concatenate([[0.0], near]))
    monkeypatch.setattr(trial_worlds, "RELEASE", near)
    monkeypatch.setattr(trial_powder, "RISE", (1.0 - np.linspace(0.0, 1.0, 1200)) ** 1.5)
    monkeypatch.setattr(trial_powder, "FLAT", np.linspace(-1.0, 1.0, 480)[1:])
    monkeypatch.setattr(trial_powder, "AFTER", np.linspace(1.0, 2.5, 90)[1:])
    assert usual == pytest.approx(pressed(), abs=1.5e-4)


def world(kind: str = "as-predicted", **changes: object) -> World:
    """Return a world of one powder with nothing between lab and plant."""
    plain = World(BY_CAUSE[kind], PLAIN, 9.0, 8.0, None, Between())
    return replace(plain, **changes)  # type: ignore[arg-type]


def sheet_of(of: World, speeds: tuple[float, ...] = (45.0, 20.0, 60.0, 45.0)) -> list[SheetRow]:
    """Return the sheet of a trial at 12 kN, its noise always the same."""
    planned = [Planned({}, 12e3, speed, 0.0, 10, 480.0 * turn) for turn, speed in enumerate(speeds)]
    return list(filled_sheet(of, MADE, planned, np.random.default_rng(1)))


def column(rows: list[SheetRow], name: str) -> Array:
    return np.array([row.number(name) for row in rows], dtype=float)


def test_a_feeder_acts_on_strength_alone_and_a_drifting_one_with_time() -> None:
    plain = sheet_of(world())
    weak = sheet_of(world("strength-factor", feeder=0.8))
    drifts = sheet_of(world("strength-drift", feeder=0.8, drifts=True))
    breaking = column(plain, "breaking force")
    assert column(weak, "breaking force") / breaking == pytest.approx(0.8)
    share = column(drifts, "elapsed") / column(drifts, "elapsed")[-1]
    assert np.all(np.diff(share) > 0.0)
    assert column(drifts, "breaking force") / breaking == pytest.approx(1.0 - 0.2 * share)
    for rows in (weak, drifts):
        assert np.array_equal(column(rows, "thickness"), column(plain, "thickness"))


def test_a_balance_is_off_in_what_is_read_and_a_gauge_in_what_is_pressed() -> None:
    plain, light = sheet_of(world()), sheet_of(world("solid-fraction-reading", balance=0.93))
    assert column(light, "weight") / column(plain, "weight") == pytest.approx(0.93)
    for name in ("thickness", "breaking force"):
        assert np.array_equal(column(light, name), column(plain, name))
    more = sheet_of(world("force-gauge", gauge=1.1))
    assert np.all(column(more, "thickness") < column(plain, "thickness"))
    assert np.all(column(more, "breaking force") > column(plain, "breaking force"))


def test_tablets_cap_above_a_speed_alone() -> None:
    plain, capped = sheet_of(world()), sheet_of(world("defects", caps_above=50.0, capped_loss=0.4))
    ratio = column(capped, "breaking force") / column(plain, "breaking force")
    assert ratio == pytest.approx([1.0, 1.0, 0.6, 1.0])
    assert [row.text("capping") for row in capped] == ["no", "no", "yes", "no"]
    assert {row.text("lamination") for row in capped} == {"no"}


@pytest.mark.slow
def test_a_next_batch_is_asked_for_strength_where_the_feeder_is_at_its_worst() -> None:
    study, _ = drawn_study(KINDS[0], np.random.default_rng(1))
    pressure, speed = np.array([150.0, 150.0]), np.array([45.0, 60.0])
    solid = world().in_plant(MADE, pressure, speed, np.zeros(2), np.full(2, 400.0))
    just = float(world().made(solid, speed, 1.0).min()) * 0.85
    window = replace(study.target.solid_fraction, min=0.7, max=0.95)
    target = replace(study.target, strength=just, solid_fraction=window)
    asked = replace(study, production=MADE, target=target)
    assert meets(world(), asked, pressure, speed).all()
    assert not meets(world("strength-drift", feeder=0.7, drifts=True), asked, pressure, speed).any()
    assert list(meets(world("defects", caps_above=50.0), asked, pressure, speed)) == [True, False]
    dense = replace(asked, target=replace(target, solid_fraction=replace(window, min=0.94)))
    assert not meets(world(), dense, pressure, speed).any()


def test_the_next_lot_is_another_one_read_right() -> None:
    off = world("force-gauge", gauge=1.1, balance=0.93)
    lot = next_lot(off, np.random.default_rng(1))
    assert (lot.gauge, lot.balance) == (1.0, 1.0)
    assert lot.between.lot_strength != off.between.lot_strength
    assert next_lot(off, np.random.default_rng(1), gauge_mended=False).gauge == 1.1


@pytest.mark.parametrize("seed", range(4))
def test_the_program_s_forecast_of_another_law_is_decent(seed: int) -> None:
    """Where nothing but the law lies between: the lab's own pressure at the asked speed."""
    study, drawn = drawn_study(BY_CAUSE["as-predicted"], np.random.default_rng([seed, 0]))
    case = Analysis(study, draws=300).case()
    pressure, speed = np.array([case.reference.pressure]), np.array([case.speed])
    weight = np.full(1, 400.0)
    solid = drawn.in_plant(study.production, pressure, speed, np.zeros(1), weight)
    strength = drawn.made(solid, speed, 1.0)
    point = case.at_lab_pressure
    assert point.strength is not None
    assert float(np.median(point.solid_fraction)) == pytest.approx(float(solid[0]), abs=0.02)
    low, high = np.quantile(point.strength, [0.01, 0.99])
    assert low < float(strength[0]) < high


def test_lab_runs_follow_hold_and_force() -> None:
    conditions = [
        Condition(9e3, 0.0, 5e3), Condition(9e3, 1.0, 5e3), Condition(9e3, 30.0, 5e3),
        Condition(12e3, 1.0, 5e3),
    ]  # fmt: skip
    forces = np.array([each.force for each in conditions])
    solid = world().in_lab(lab_side("lab-hydraulic"), forces, conditions)
    assert solid[0] < solid[1] < solid[2]
    assert solid[3] > solid[1]
    porosity = 1.0 - solid
    y = PLAIN.closing * (PLAIN.loose / porosity - 1.0)
    exponent = np.log(y[2] / y[1]) / np.log(30.0)
    assert exponent == pytest.approx(PLAIN.flow.exponent(np.sqrt(30.0)), rel=0.15)


def outcome(kind: str, *causes: tuple[str, float, bool], **more: object) -> Outcome:
    told = tuple(Cause(*each) for each in causes)
    plain = Outcome(BY_CAUSE[kind], 1, 0, 0, "transferable", "transferable", right=True)
    return replace(plain, causes=told, **more)  # type: ignore[arg-type]


def test_the_table_counts_causes_and_verdicts() -> None:
    rows = table(
        [
            outcome("rate", ("rate", 0.6, True), ("force-gauge", 0.3, True)),
            outcome("rate", ("force-gauge", 0.6, True), ("rate", 0.3, True), right=False),
            outcome("rate", ("force-gauge", 0.6, False), ("rate", 0.3, False),
                    verdict="not enough evidence", right=None),
            outcome("as-predicted", ("as-predicted", 0.9, True),
                    verdict="transferable with changes"),
        ]
    ).splitlines()  # fmt: skip
    cells = [[cell.strip() for cell in row.strip("|").split("|")] for row in rows[2:]]
    assert cells == [
        ["as predicted", "1", "1", "1", "1.0", "0", "0 of 0", "1 of 1", "0 of 0", "0"],
        [BY_CAUSE["rate"].name, "3", "1", "2", "1.3", "1", "1 of 2", "0 of 0", "0 of 0",
         "1"],
        ["all", "4", "2", "3", "1.2", "1", "1 of 2", "1 of 1", "0 of 0", "1"],
    ]  # fmt: skip


@pytest.mark.slow
def test_a_trial_is_the_same_by_its_seed() -> None:
    kind: Kind = BY_CAUSE["defects"]
    one, two = (one_trial(kind, 3, draws=200) for _ in range(2))
    assert one == two
    assert one.named[0] == "defects"
