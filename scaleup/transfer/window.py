"""The operating window: at which speeds and forces every limit holds with the asked confidence."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.evidence.fit import Drawing, Fit, NoFit
from scaleup.files.study import ProductionSide, Study
from scaleup.transfer.findings import examined
from scaleup.transfer.holding import Holding, holding_pressure
from scaleup.transfer.limits import Limit
from scaleup.transfer.margins import closest
from scaleup.transfer.question import LabCase, Question, lab_case, question
from scaleup.transfer.risks import all_risks
from scaleup.transfer.settings import NO_STRENGTH
from scaleup.transfer.verdict import CAUTION, against
from scaleup.transfer.window_centre import Centre, centre_at, margin_at
from scaleup.transfer.wording import say

COARSE = 20
"""Cells each way of the first look, which finds where the window lies."""
BLOCK = 2_000_000
"""Figures computed at a time, so that memory stays bounded."""
AROUND = 1.25
"""How far beyond the window, as a ratio of forces, the map reaches."""
NARROW = "The window is narrower than a cell of the map, which shows none of it."
REFINEMENTS = 6


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
        found: Array = np.argmin(self.shares, axis=0)
        return found


@dataclass(frozen=True)
class Window:
    """The operating window of a study on one production press."""

    study: Study
    production: ProductionSide
    speed: float
    confidence: float
    drawing: Drawing
    fit: Fit | NoFit
    grid: Grid | None
    """None where the runs allow no fit."""
    centre: Centre | None
    """The point with the largest margin; None if there is no window."""
    at_speed: Centre | None
    """The same at the asked speed."""
    reasons: tuple[str, ...]
    """Why there is no window, or no map, and what stands against any point of it."""
    caution: str = CAUTION


def operating_window(
    study: Study,
    *,
    cells: tuple[int, int] = (48, 24),
    confidence: float | None = None,
    draws: int = 4000,
    seed: int = 1,
    advance: Callable[[], None] = lambda: None,
) -> Window:
    """Return the window of a study over the press's speeds and forces.

    Parameters
    ----------
    study
        As read by `scaleup.read_study`.
    cells
        How many speeds and how many forces.
    confidence
        With which every limit must hold, the study's if absent.
    draws, seed
        How many parameter sets are drawn, and the seed that repeats them.
    advance
        Called after each speed, for a sign of progress.

    Raises
    ------
    InputError
        If runs contradict each other, or the tooling cannot work on the press.

    Examples
    --------
    >>> from scaleup import read_study
    >>> study = read_study("examples/marram")
    >>> found = operating_window(study, cells=(6, 6), draws=300)
    >>> found.grid.shares.shape, found.centre is not None
    ((9, 6, 6), True)
    """
    asked_confidence = study.target.confidence if confidence is None else confidence
    case = lab_case(study, Drawing(draws, seed))
    speed = study.production.speed
    if isinstance(case.fit, NoFit):
        return Window(
            study, study.production, speed, asked_confidence, case.drawing, case.fit, None,
            None, None, case.fit.reasons,
        )  # fmt: skip
    return window_of(
        case, question(case, study.production, speed, asked_confidence), cells, advance
    )


def window_of(
    case: LabCase,
    asked: Question,
    cells: tuple[int, int],
    advance: Callable[[], None] = lambda: None,
) -> Window:
    """Return the window of a question over the speeds and forces of its press."""

    def answer(
        grid: Grid, centre: Centre | None, here: Centre | None, reasons: tuple[str, ...]
    ) -> Window:
        return Window(
            case.study, asked.line.production, asked.speed, asked.confidence, case.drawing,
            case.fit, grid, centre, here, reasons,
        )  # fmt: skip

    whole = examined(case, asked)
    between = _between_cells(asked, whole.fastest)
    grid = _zoomed(asked, cells, between, advance)
    inside = grid.inside(asked.confidence)
    standing = against(all_risks(whole))
    told = (*standing.stops, *standing.changes)
    at_speed = _at_speed(asked, grid)
    if inside.any():
        row, column = _middle(grid, inside)
        begin = [(float(grid.forces[row]), float(grid.speeds[column]))]
    else:
        begin = between
        if not begin:
            return answer(grid, None, None, (_nowhere(asked, grid), *told))
        told = (NARROW, *told)
    if at_speed is not None:
        begin.append((at_speed.held.force.value or 0.0, at_speed.speed))
    centre = centre_at(asked, *_widest(asked, grid, begin))
    return answer(grid, centre, at_speed, told)


def grid_of(
    asked: Question, speeds: Array, forces: Array, advance: Callable[[], None] = lambda: None
) -> Grid:
    """Return every cell of speeds in rpm and main forces in N, solved in blocks."""
    line, limits = asked.line, asked.limits
    shares = np.empty((len(limits), forces.size, speeds.size))
    together = np.empty((forces.size, speeds.size))
    rows = max(BLOCK // line.fit.powder.draws, 1)
    for column, speed in enumerate(speeds):
        for start in range(0, forces.size, rows):
            part = slice(start, start + rows)
            point = line.at(forces[part, None] / line.charge.tip_area, float(speed))
            every = np.ones((forces[part].size, line.fit.powder.draws), dtype=bool)
            for index, limit in enumerate(limits):
                kept = limit.holds(point)
                shares[index, part, column] = kept.mean(axis=-1)
                every &= kept > 0.0
            together[part, column] = every.mean(axis=-1)
        advance()
    return Grid(speeds, forces, limits, shares, together)


def _zoomed(
    asked: Question,
    cells: tuple[int, int],
    between: list[tuple[float, float]],
    advance: Callable[[], None],
) -> Grid:
    """Return the map of the forces around the window, found by a coarse look at all of them.

    Where that finds none, it is around `between`; where there is none at all, every force is shown.
    """
    line = asked.line
    area = line.charge.tip_area
    range_ = line.production.press.model.speed
    bottom, top = line.map.floor * area, min(AROUND * line.force_limit, line.map.ceiling * area)
    rough = grid_of(
        asked, np.linspace(range_.min, range_.max, COARSE), np.geomspace(bottom, top, 3 * COARSE)
    )
    inside = rough.inside(asked.confidence).any(axis=1)
    held_forces = rough.forces[inside]
    if held_forces.size == 0:
        held_forces = np.array([force for force, _ in between])
    if held_forces.size == 0:
        held_forces = rough.forces
    low = max(held_forces[0] / AROUND, bottom)
    high = min(held_forces[-1] * AROUND, top)
    speeds, forces = np.linspace(range_.min, range_.max, cells[0]), np.linspace(low, high, cells[1])
    return grid_of(asked, speeds, forces, advance)


def _between_cells(asked: Question, found: Holding | None) -> list[tuple[float, float]]:
    """Return force in N and speed in rpm of a window too narrow for any cell, if there is one."""
    return [] if found is None else [(found.pressure * asked.line.charge.tip_area, found.speed)]


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


def _widest(asked: Question, grid: Grid, begin: list[tuple[float, float]]) -> tuple[float, float]:
    """Return force and speed around the best of some points whose margin is largest.

    Steps of half a cell up, down and aside are taken while they help, then halved.
    """
    area = asked.line.charge.tip_area

    def room(force: float, speed: float) -> float:
        return margin_at(asked, force / area, speed)

    best = max(begin, key=lambda each: room(*each))
    most = room(*best)
    up = 0.5 * np.log(grid.forces[-1] / grid.forces[0]) / grid.forces.size
    aside = 0.5 * np.log(grid.speeds[-1] / grid.speeds[0]) / grid.speeds.size
    for _ in range(REFINEMENTS):
        steps = ((up, 0.0), (-up, 0.0), (0.0, aside), (0.0, -aside))
        tried = [
            (float(best[0] * np.exp(higher)), float(best[1] * np.exp(faster)))
            for higher, faster in steps
        ]
        found = max(tried, key=lambda each: room(*each))
        if room(*found) > most:
            best, most = found, room(*found)
        else:
            up, aside = 0.5 * up, 0.5 * aside
    return best


def _at_speed(asked: Question, grid: Grid) -> Centre | None:
    """Return the middle of the forces that hold at the asked speed."""
    one = grid_of(asked, np.array([asked.speed]), grid.forces)
    held_forces = grid.forces[one.inside(asked.confidence)[:, 0]]
    if held_forces.size > 0:
        return centre_at(asked, float(np.sqrt(held_forces[0] * held_forces[-1])), asked.speed)
    least = holding_pressure(asked, asked.speed)
    if least is None:
        return None
    return centre_at(asked, least * asked.line.charge.tip_area, asked.speed)


def _nowhere(asked: Question, grid: Grid) -> str:
    """Return why no cell is inside: the limits that fail where the draws come closest."""
    if asked.target is not None and asked.line.fit.strength is None:
        return f"No window can be shown: {NO_STRENGTH}, and the study asks for a strength"
    promising = float(grid.speeds[np.argmax(grid.shares.min(axis=0).max(axis=0))])
    best = max(
        (closest(asked, speed) for speed in (asked.speed, promising)),
        key=lambda each: (each.binding.share, each.within),
    )
    failing = ", ".join(each.told for each in best.broken(asked.confidence))
    return (
        f"No speed and force keep every limit; the closest, {say(best.force.value or 0.0, 'N')} at "
        f"{say(best.point.speed, 'rpm')}: {failing}"
    )
