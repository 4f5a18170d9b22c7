"""The operating window: at which speeds and forces every limit holds with the asked confidence."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from numbers import Real

import numpy as np

from scaleup.answers.assumed import Assumed
from scaleup.arrays import Array
from scaleup.calibration.arguments import shown
from scaleup.calibration.fit import Drawing, Fit, NoFit
from scaleup.errors import Fault, InputError
from scaleup.io.given import Number, in_unit
from scaleup.model.study import ProductionSide, Study
from scaleup.model.target import LARGEST_MARGIN
from scaleup.sentence import Fact, Sentence, Words
from scaleup.short_repr import short_repr
from scaleup.shown import Drawn
from scaleup.transfer.case import TransferCase
from scaleup.transfer.fastest_speed import Fastest, FeasibleSpeed
from scaleup.transfer.findings import Findings
from scaleup.transfer.limits import Limit
from scaleup.transfer.margins import closest
from scaleup.transfer.recommended import Recommended, recommended
from scaleup.transfer.verdict import CAUTION
from scaleup.transfer.window_centre import Centre, centre_at, margin_at, middle_pressure
from scaleup.wording import percent

COARSE = 20
"""Cells each way of the first look, which finds where the window lies."""
BLOCK = 2_000_000
"""Figures computed at a time, so that memory stays bounded."""
AROUND = 1.25
"""How far beyond the window, as a ratio of forces, the map reaches."""
NARROW = "The window is narrower than a cell of the map, which shows none of it."
SPEEDS_TRIED, REFINEMENTS = 9, 6
"""Speeds at which the largest margin is looked for, and halvings of their step."""
FORCE_STEP = 0.04
"""Share by which the force of the largest margin may be off the middle, to begin with."""


@short_repr
@dataclass(frozen=True)
class Grid:
    """Every cell of the map; arrays over forces and speeds have shape (forces, speeds)."""

    speeds: Array
    """rpm, rising."""
    forces: Array
    """Main force in N, rising."""
    limits: tuple[Limit, ...]
    shares: Array
    """Share of the draws that keep each limit, shape (limits, forces, speeds)."""
    together: Array
    """Share of the draws that keep every limit at once."""

    def inside(self, confidence: float) -> Array:
        """Return which cells keep each limit with a confidence."""
        kept: Array = np.all(self.shares >= confidence, axis=0)
        return kept

    def worst(self) -> Array:
        """Return the position of the limit that fewest draws keep in each cell."""
        worst: Array = np.argmin(self.shares, axis=0)
        return worst


@short_repr
@dataclass(frozen=True)
class Window(Drawn):
    """The operating window of a study on one production press.

    Examples
    --------
    >>> import scaleup
    >>> analysis = scaleup.Analysis(scaleup.read_study("examples/marram"), draws=200)
    >>> found = analysis.window((8, 6))
    >>> found.to_frame().shape, found.recommended is not None
    ((48, 6), True)
    """

    study: Study
    production: ProductionSide
    speed: float
    confidence: float
    drawing: Drawing
    fit: Fit | NoFit
    grid: Grid | None
    """None where the runs allow no fit."""
    recommended: Recommended | None
    """The point to run at; None if there is no window."""
    centre: Centre | None
    """The point with the largest margin; None if there is no window."""
    at_speed: Centre | None
    """The middle of the forces that hold at the asked speed."""
    fastest: Fastest
    """The fastest speed that holds, whatever the margin there."""
    reasons: tuple[Words, ...]
    """Why there is no window, or no map, and what stands against any point of it."""
    assumed: tuple[Assumed, ...] = ()
    """What no input states and the program supplied."""
    caution: str = CAUTION


def check_margin(margin: Number) -> float:
    """Return a margin, the share by which force and speed may both be off, as a number.

    Raises
    ------
    InputError
        If it is out of range.
    """
    share = in_unit("margin", margin, "1")
    known = isinstance(share, Real) and not isinstance(share, bool)
    if known and 0.0 < share <= LARGEST_MARGIN:
        return float(share)
    allowed = f"above 0 % and up to {percent(LARGEST_MARGIN)}"
    raise InputError(
        Fault("", "margin", f"{100.0 * share:g} %" if known else shown(share), allowed)
    )


def window_of(
    findings: Findings,
    cells: tuple[int, int],
    assumed: tuple[Assumed, ...] = (),
    margin: float | None = None,
    advance: Callable[[], None] = lambda: None,
) -> Window:
    """Return the window of a case over the speeds and forces of its press.

    `cells` are how many speeds and how many forces, `margin` is that of the recommended point, the
    study's if absent; `advance` is called after each speed.
    """
    case, against = findings.case, findings.standing
    wanted = case.study.target.margin if margin is None else margin

    def answer(
        grid: Grid | None, reasons: tuple[Words, ...], centre: Centre | None = None
    ) -> Window:
        return Window(
            study=case.study,
            production=case.production,
            speed=case.speed,
            confidence=case.confidence,
            drawing=case.calibrated.drawing,
            fit=case.calibrated.fit,
            grid=grid,
            recommended=None if centre is None else recommended(case, centre, wanted),
            centre=centre,
            at_speed=None if centre is None else _at_speed(case),
            fastest=findings.fastest,
            reasons=reasons,
            assumed=assumed,
        )

    if case.fitted is None:
        return answer(None, against.lacks)
    between = _between_cells(case, case.fastest)
    rough = _rough(case)
    grid = _zoomed(case, rough, cells, between, advance)
    told: tuple[Words, ...] = (*against.stops, *against.changes)
    if against.lacks:
        return answer(grid, (*against.lacks, *told))
    # The same look at every press and speed, whatever map is asked for: the same centre.
    begin = _begin(rough, case.confidence) or _begin(grid, case.confidence) or between
    if not begin:
        return answer(grid, (_nowhere(case, grid), *told))
    if not grid.inside(case.confidence).any():
        told = (NARROW, *told)
    at_speed = _at_speed(case)
    if at_speed is not None:
        begin.append((at_speed.set_point.force.value or 0.0, at_speed.speed))
    return answer(grid, told, centre_at(case, *_widest(case, begin)))


def grid_of(
    case: TransferCase, speeds: Array, forces: Array, advance: Callable[[], None] = lambda: None
) -> Grid:
    """Return every cell of speeds in rpm and main forces in N, solved in blocks."""
    process, limits = case.process, case.limits
    shares = np.empty((len(limits), forces.size, speeds.size))
    together = np.empty((forces.size, speeds.size))
    rows = max(BLOCK // process.fit.powder.draws, 1)
    for column, speed in enumerate(speeds):
        for start in range(0, forces.size, rows):
            part = slice(start, start + rows)
            point = process.at(forces[part, None] / process.charge.tip_area, float(speed))
            every = np.ones((forces[part].size, process.fit.powder.draws), dtype=bool)
            for index, limit in enumerate(limits):
                kept = limit.holds(point)
                shares[index, part, column] = kept.mean(axis=-1)
                if limit.of != "evidence":
                    every &= kept > 0.0
            together[part, column] = every.mean(axis=-1)
        advance()
    return Grid(speeds, forces, limits, shares, together)


def _rough(case: TransferCase) -> Grid:
    """Return a coarse look at all speeds and forces of the press."""
    range_ = case.production.press.profile.speed
    bottom, top = _ends(case)
    return grid_of(
        case, np.linspace(range_.min, range_.max, COARSE), np.geomspace(bottom, top, 3 * COARSE)
    )


def _ends(case: TransferCase) -> tuple[float, float]:
    """Return the least and the greatest force in N that are looked at."""
    process = case.process
    area = process.charge.tip_area
    return process.map.floor * area, min(AROUND * process.force_limit, process.map.ceiling * area)


def _begin(grid: Grid, confidence: float) -> list[tuple[float, float]]:
    """Return force in N and speed in rpm of the cell furthest from the edges; none if none is."""
    inside = grid.inside(confidence)
    if not inside.any():
        return []
    row, column = _middle(grid, inside)
    return [(float(grid.forces[row]), float(grid.speeds[column]))]


def _zoomed(
    case: TransferCase,
    rough: Grid,
    cells: tuple[int, int],
    between: list[tuple[float, float]],
    advance: Callable[[], None],
) -> Grid:
    """Return the map of the forces around the window as the coarse look shows it.

    Where that finds none, it is around `between`; where there is none at all, every force is shown.
    """
    range_ = case.production.press.profile.speed
    bottom, top = _ends(case)
    inside = rough.inside(case.confidence).any(axis=1)
    kept = rough.forces[inside]
    if kept.size == 0:
        kept = np.array([force for force, _ in between])
    if kept.size == 0:
        kept = rough.forces
    low = max(kept[0] / AROUND, bottom)
    high = min(kept[-1] * AROUND, top)
    speeds, forces = np.linspace(range_.min, range_.max, cells[0]), np.linspace(low, high, cells[1])
    return grid_of(case, speeds, forces, advance)


def _between_cells(case: TransferCase, point: FeasibleSpeed | None) -> list[tuple[float, float]]:
    """Return force in N and speed in rpm of a window too narrow for any cell, if there is one."""
    return [] if point is None else [(point.pressure * case.process.charge.tip_area, point.speed)]


def _middle(grid: Grid, inside: Array) -> tuple[int, int]:
    """Return the cell of the window that is furthest from its edge, the fastest of several.

    Distance is the larger of the two ratios, of forces and of speeds; the rim of the map is an
    edge, since it is the press's own range or lies beyond the window.
    """
    height, width = np.log(grid.forces), np.log(grid.speeds)
    out_rows, out_columns = np.nonzero(np.logical_not(inside))
    rows, columns = np.nonzero(inside)
    rim = np.minimum.reduce(
        [
            height[rows] - height[0],
            height[-1] - height[rows],
            width[columns] - width[0],
            width[-1] - width[columns],
        ]
    )
    room = rim
    for row, column in zip(out_rows, out_columns, strict=True):
        away = np.maximum(
            np.abs(height[rows] - height[row]), np.abs(width[columns] - width[column])
        )
        room = np.minimum(room, away)
    best = np.lexsort((columns, np.round(room, 6)))[-1]
    return int(rows[best]), int(columns[best])


def _widest(case: TransferCase, begin: list[tuple[float, float]]) -> tuple[float, float]:
    """Return force and speed whose margin is largest, beginning with some points.

    At every speed the middle of the forces that hold is tried, since the window is long in speed
    and slants with it; speeds come in even ratios and are then refined around the best, at last
    the force alone. The map plays no part, so its cells do not move the answer.
    """
    area, range_ = case.process.charge.tip_area, case.production.press.profile.speed

    def middle(speed: float) -> list[tuple[float, float]]:
        if not range_.min <= speed <= range_.max:
            return []
        pressure = middle_pressure(case, speed)
        return [] if pressure is None else [(pressure * area, speed)]

    best, most = begin[0], 0.0

    def improve(points: Iterable[tuple[float, float]]) -> None:
        nonlocal best, most
        for point in points:
            margin = margin_at(case, point[0] / area, point[1], most)
            if margin > most:
                best, most = point, margin

    speeds = np.geomspace(range_.min, range_.max, SPEEDS_TRIED)
    improve([*begin, *(point for speed in speeds[::-1] for point in middle(float(speed)))])
    step = 0.5 * float(np.log(speeds[1] / speeds[0]))
    for _ in range(REFINEMENTS):
        improve([point for turn in (step, -step) for point in middle(best[1] * np.exp(turn))])
        step *= 0.5
    step = FORCE_STEP
    for _ in range(REFINEMENTS):
        improve([(best[0] * np.exp(turn), best[1]) for turn in (step, -step)])
        step *= 0.5
    return float(best[0]), float(best[1])


def _at_speed(case: TransferCase) -> Centre | None:
    """Return the middle of the forces that hold at the asked speed."""
    middle = middle_pressure(case, case.speed)
    if middle is None:
        return None
    return centre_at(case, middle * case.process.charge.tip_area, case.speed)


def _nowhere(case: TransferCase, grid: Grid) -> Sentence:
    """Return why no cell is inside: the limits that fail where the draws come closest."""
    if case.unproven is not None:
        return Sentence("Not enough evidence for a window. {but}", but=case.unproven.told)
    promising = float(grid.speeds[np.argmax(grid.shares.min(axis=0).max(axis=0))])
    best = max(
        (closest(case, speed) for speed in (case.speed, promising)),
        key=lambda each: (each.binding.share, each.within),
    )
    return Sentence(
        "No speed and force keep every limit; the closest, {force} at {speed}: {failing}.",
        force=Fact(best.force.value or 0.0, "N"),
        speed=Fact(best.point.speed, "rpm"),
        failing=best.failing(case.confidence),
    )
