"""The operating window: every cell, its centre, its edges by name."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scaleup.answers.functions import operating_window, plan_trial
from scaleup.answers.trial.centre import settable
from scaleup.answers.window import Grid, Window, grid_of
from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing
from scaleup.io.study import read_study
from scaleup.model.study import Study
from scaleup.transfer.case import TransferCase, transfer_case
from scaleup.transfer.limits import broken, share_within
from scaleup.transfer.window_centre import Centre

pytestmark = pytest.mark.slow

Change = Callable[..., Study]
EXAMPLES = Path(__file__).parents[2] / "examples"


def asked_of(study: Study, draws: int = 200) -> TransferCase:
    lab = calibrated(study, Drawing(draws, 1))
    return transfer_case(lab, study.production.speed, study.target.confidence)


@pytest.fixture(scope="module")
def tight(marram: Study) -> Study:
    """Return a study whose window is cut off on every side by a limit of the tablet or the tips."""
    target = replace(marram.target, strength=2.35)
    made = marram.production
    tooling = replace(made.tooling.profile, tip_force_rating=14e3)
    return replace(
        marram,
        target=target,
        production=replace(made, tooling=replace(made.tooling, profile=tooling)),
    )


@pytest.fixture(scope="module")
def window(tight: Study) -> Window:
    return operating_window(tight, cells=(24, 20), draws=300)


def centre_of(window: Window) -> Centre:
    assert window.centre is not None
    return window.centre


def grid(window: Window) -> Grid:
    assert window.grid is not None
    return window.grid


@pytest.mark.parametrize("name", ["marram", "fescue"])
def test_the_map_is_every_cell_asked_alone(name: str) -> None:
    """The block of cells against one operating point at a time; fescue draws several forms."""
    case = asked_of(read_study(EXAMPLES / name))
    speeds, forces = np.array([15.0, 48.0, 70.0]), np.array([6e3, 9e3, 10.5e3, 22e3])
    found = grid_of(case, speeds, forces)
    area = case.process.charge.tip_area
    for row, force in enumerate(forces):
        for column, speed in enumerate(speeds):
            point = case.process.at(np.full(200, force / area), float(speed))
            assert found.together[row, column] == share_within(case.limits, point)
            for index, limit in enumerate(case.limits):
                assert found.shares[index, row, column] == limit.holds(point).mean()
    assert found.together.max() > 0.9
    assert found.together.min() < 0.1


def test_a_map_in_blocks_is_the_map_at_once(marram: Study, monkeypatch: pytest.MonkeyPatch) -> None:
    case = asked_of(marram)
    speeds, forces = np.linspace(10.0, 75.0, 5), np.geomspace(5e3, 25e3, 13)
    whole = grid_of(case, speeds, forces)
    monkeypatch.setattr("scaleup.answers.window.BLOCK", 800)
    parts = grid_of(case, speeds, forces)
    assert np.array_equal(whole.shares, parts.shares)
    assert np.array_equal(whole.together, parts.together)


def test_together_is_never_more_than_the_worst_limit(window: Window) -> None:
    cells = grid(window)
    assert np.all(cells.together <= cells.shares.min(axis=0) + 1e-12)
    inside = cells.inside(0.9)
    assert inside.any()
    assert not inside.all()


def test_the_map_reaches_beyond_the_window_in_force(window: Window) -> None:
    inside = np.max(grid(window).inside(0.9), axis=1)
    assert not inside[0]
    assert not inside[-1]


def test_the_edges_are_where_their_limits_fail(tight: Study, window: Window) -> None:
    case, centre = asked_of(tight, 300), centre_of(window)
    area = case.process.charge.tip_area
    pressure = float(centre.set_point.pressure.value or 0.0)
    edges = {edge.towards: edge for edge in centre.edges}
    assert edges["more force"].limit == "tip force"
    assert edges["more force"].at == pytest.approx(14e3, rel=1e-3)
    assert edges["less force"].limit == "tensile strength"
    assert edges["slower"].limit == "the slowest speed of the press"
    for towards, inside, outside in (("less force", 1.005, 0.995), ("more force", 0.995, 1.005)):
        edge = edges[towards].at / area
        assert broken(case.limits, case.process.at(edge * inside, centre.speed), 0.9) == []
        failed = broken(case.limits, case.process.at(edge * outside, centre.speed), 0.9)
        assert failed[0].label == edges[towards].limit
    assert edges["less force"].at < pressure * area < edges["more force"].at


def test_the_margin_is_a_box_that_just_fits(tight: Study, window: Window) -> None:
    case, centre = asked_of(tight, 300), centre_of(window)
    pressure, room = float(centre.set_point.pressure.value or 0.0), 1.0 / (1.0 - centre.margin)
    assert centre.margin > 0.01

    def fails(by: float) -> bool:
        low, high = case.process.map.speeds
        return any(
            not low <= centre.speed * turn <= high
            or broken(case.limits, case.process.at(pressure * force, centre.speed * turn), 0.9)
            for force in (by, 1.0 / by)
            for turn in (by, 1.0 / by)
        )

    assert not fails(room * 0.999)
    assert fails(room * 1.002)


def test_no_other_cell_has_a_larger_margin(tight: Study, window: Window) -> None:
    """Tried on every inside cell of a coarser map, margins found by widening step by step."""
    case, found = asked_of(tight, 300), grid(window)
    best = 0.0
    low, high = case.process.map.speeds
    for row, column in zip(*np.nonzero(found.inside(0.9)), strict=True):
        pressure = float(found.forces[row]) / case.process.charge.tip_area
        speed, by = float(found.speeds[column]), 1.0
        while all(
            low <= speed * turn <= high
            and not broken(case.limits, case.process.at(pressure * force, speed * turn), 0.9)
            for force in (by, 1.0 / by)
            for turn in (by, 1.0 / by)
        ):
            by *= 1.01
        best = max(best, by / 1.01 - 1.0)
    assert centre_of(window).margin > best - 0.02


def test_the_middle_at_the_asked_speed_is_inside(tight: Study, window: Window) -> None:
    assert window.at_speed is not None
    assert window.at_speed.speed == 45.0
    assert window.at_speed.set_point.broken(0.9) == ()
    assert window.at_speed.margin <= centre_of(window).margin + 1e-6


def test_without_a_window_the_limits_in_the_way_are_named(sedge: Study) -> None:
    window = operating_window(sedge, cells=(8, 8), draws=200)
    assert window.centre is None
    assert "tensile strength" in window.reasons[0]
    assert any("capping" in reason for reason in window.reasons)


def test_a_window_narrower_than_a_cell_is_found(marram: Study, changed: Change) -> None:
    """Ejection and strength leave a ribbon of forces between two rows of a coarse map."""
    study = changed(marram, target={"strength": 2.4}, press={"ejection_limit": 312.0})
    least, most = kept_between(study)
    assert 1.0 < most / least < 1.02
    window = operating_window(study, cells=(6, 4), draws=300)
    assert not grid(window).inside(0.9).any()
    assert "narrower than a cell" in window.reasons[0]
    centre = centre_of(window)
    assert centre.set_point.broken(0.9) == ()
    assert centre.margin > 0.0


def kept_between(study: Study) -> tuple[float, float]:
    """Return the ends of the pressures that hold at the slowest speed, by trying every one."""
    case = transfer_case(calibrated(study, Drawing(300, 1)), 45.0, 0.9)
    slowest = study.production.press.profile.speed.min
    kept = [
        pressure
        for pressure in np.geomspace(80.0, 250.0, 1500)
        if not broken(case.limits, case.process.at(float(pressure), slowest), 0.9)
    ]
    return kept[0], kept[-1]


def test_runs_without_a_fit_give_no_map(marram: Study, changed: Change) -> None:
    two = changed(marram, runs=lambda run: run if run.line in (4, 16) else None)
    two = replace(two, lab=replace(two.lab, reference=None))
    window = operating_window(two, draws=200)
    assert window.grid is None
    assert window.reasons[0].startswith("Nothing about the powder can be predicted: 2 runs")


def test_a_centre_above_every_tested_pressure_says_so(marram: Study) -> None:
    centre = centre_of(operating_window(marram, cells=(12, 12), draws=200))
    highest = max(run.force for run in marram.lab.runs) / (np.pi * 25.0)
    assert centre.tested == pytest.approx(highest, rel=1e-3)
    dialled = float(centre.set_point.pressure.value or 0.0)
    assert centre.beyond_tested == pytest.approx(max(dialled / highest - 1.0, 0.0), rel=1e-2)


def test_the_middle_at_the_asked_speed_is_between_its_edges(marram: Study) -> None:
    window = operating_window(marram, cells=(4, 60), draws=200)
    assert window.at_speed is not None
    edges = {edge.towards: edge.at for edge in window.at_speed.edges}
    force = window.at_speed.set_point.force.value
    middle = float(np.sqrt(edges["less force"] * edges["more force"]))
    assert force == pytest.approx(middle, rel=0.03)


def test_the_map_s_cells_do_not_move_the_centre(tight: Study) -> None:
    few, many = (
        centre_of(operating_window(tight, cells=cells, draws=300)) for cells in ((8, 6), (40, 31))
    )
    assert few.speed == many.speed
    assert few.set_point.pressure == many.set_point.pressure
    assert few.margin == many.margin


def test_the_trial_s_centre_is_the_middle_that_the_window_tells(marram: Study) -> None:
    window = replace(marram.target.solid_fraction, max=0.85)
    target = replace(marram.target, strength=1.2, solid_fraction=window)
    weak = replace(marram, target=target)  # so that the middle lies below the tested pressures
    point = operating_window(weak, cells=(8, 6), draws=300).at_speed
    assert point is not None
    force = settable(point.set_point.force.value or 0.0)
    assert plan_trial(weak, draws=300).runs[0].rung.force == force
