"""The operating window: at which speeds and forces every limit holds with the asked confidence."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from scaleup.answers.assumed import Assumed
from scaleup.answers.comparison import press_word
from scaleup.answers.findings import examined
from scaleup.answers.granted import taken_for_granted
from scaleup.answers.suspects import doubts_of_suspects, without_suspects
from scaleup.arrays import Array
from scaleup.calibration.arguments import check_answer, check_cells
from scaleup.calibration.fit import Drawing, Fit, NoFit
from scaleup.errors import Fault, InputError
from scaleup.model.study import ProductionSide, Study
from scaleup.model.target import LARGEST_MARGIN
from scaleup.short_repr import short_repr
from scaleup.transfer.holding import Fastest, Holding
from scaleup.transfer.limits import Limit
from scaleup.transfer.margins import closest
from scaleup.transfer.question import LabCase, Question, lab_case, question
from scaleup.transfer.recommended import Recommended, recommended
from scaleup.transfer.risks import Case, standing_risks
from scaleup.transfer.settings import NO_STRENGTH
from scaleup.transfer.verdict import CAUTION, against, nothing_predicted
from scaleup.transfer.window_centre import Centre, centre_at, margin_at, middle_pressure
from scaleup.wording import percent, say

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
        found: Array = np.argmin(self.shares, axis=0)
        return found


@short_repr
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
    recommended: Recommended | None
    """The point to run at; None if there is no window."""
    centre: Centre | None
    """The point with the largest margin; None if there is no window."""
    at_speed: Centre | None
    """The middle of the forces that hold at the asked speed."""
    fastest: Fastest
    """The fastest speed that holds, whatever the margin there."""
    reasons: tuple[str, ...]
    """Why there is no window, or no map, and what stands against any point of it."""
    assumed: tuple[Assumed, ...] = ()
    """What no input states and the program supplied."""
    caution: str = CAUTION


def operating_window(
    study: Study,
    *,
    cells: tuple[int, int] = (48, 24),
    confidence: float | None = None,
    margin: float | None = None,
    draws: int = 4000,
    seed: int = 1,
    as_given: bool = False,
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
    margin
        Share by which force and speed may both be off at the recommended point, above 0 and up to
        0.5; the study's if absent.
    draws, seed
        How many parameter sets are drawn, and the seed that repeats them.
    as_given
        Whether the user confirms figures that no published material has.
    advance
        Called after each speed, for a sign of progress.

    Raises
    ------
    InputError
        If runs contradict each other, the tooling cannot work on the press, the draws are too few
        for the confidence, or the margin is out of range.

    Examples
    --------
    >>> from scaleup import read_study
    >>> study = read_study("examples/marram")
    >>> found = operating_window(study, cells=(6, 6), draws=300)
    >>> found.grid.shares.shape, found.centre is not None
    ((12, 6, 6), True)
    """
    check_answer(study, confidence=confidence, draws=draws, seed=seed)
    check_cells(cells)
    study = study.confirmed(as_given)
    asked_confidence = study.target.confidence if confidence is None else confidence
    study = study if margin is None else with_margin(study, margin)
    case = lab_case(study, Drawing(draws, seed))
    speed = study.production.speed
    if isinstance(case.fit, NoFit):
        return Window(
            study, study.production, speed, asked_confidence, case.drawing, case.fit, None,
            None, None, None, Fastest.unknown("; ".join(case.fit.reasons)),
            (*case.doubts, *nothing_predicted(case.fit)),
            assumed=taken_for_granted(
                case, None, press_word, confidence_given=confidence is not None
            ),
        )  # fmt: skip
    asked = question(case, study.production, speed, asked_confidence)
    return replace(
        window_of(case, asked, cells, advance),
        assumed=taken_for_granted(case, asked, press_word, confidence_given=confidence is not None),
    )


def with_margin(study: Study, margin: float) -> Study:
    """Return a study whose recommended point is to have another margin, a share.

    Raises
    ------
    InputError
        If it is out of range.
    """
    if not 0.0 < margin <= LARGEST_MARGIN:
        allowed = f"above 0 % and up to {percent(LARGEST_MARGIN)}"
        raise InputError(Fault("", "margin", f"{100.0 * margin:g} %", allowed))
    return replace(study, target=replace(study.target, margin=margin))


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
        best = None if centre is None else recommended(asked, centre)
        return Window(
            case.study, asked.line.production, asked.speed, asked.confidence, case.drawing,
            case.fit, grid, best, centre, here, Fastest.of(asked, whole.fastest), reasons,
        )  # fmt: skip

    whole = examined(case, asked)
    between = _between_cells(asked, whole.fastest)
    rough = _rough(asked)
    grid = _zoomed(asked, rough, cells, between, advance)
    word = press_word(case, asked)
    doubts = doubts_of_suspects(case, without_suspects(case), asked, word, press_word)
    standing = against((*standing_risks(whole), *doubts))
    told = (*standing.stops, *standing.changes)
    if standing.doubts or asked.line.fit.strength is None:
        return answer(grid, None, None, (*standing.doubts, *_no_strength(asked), *told))
    at_speed = _at_speed(asked)
    # The same look at every press and speed, whatever map is asked for: the same centre.
    begin = _begin(rough, asked.confidence) or _begin(grid, asked.confidence) or between
    if not begin:
        return answer(grid, None, None, (_nowhere(asked, grid, whole), *told))
    if not grid.inside(asked.confidence).any():
        told = (NARROW, *told)
    if at_speed is not None:
        begin.append((at_speed.held.force.value or 0.0, at_speed.speed))
    centre = centre_at(asked, *_widest(asked, begin))
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
                if limit.of != "evidence":
                    every &= kept > 0.0
            together[part, column] = every.mean(axis=-1)
        advance()
    return Grid(speeds, forces, limits, shares, together)


def _rough(asked: Question) -> Grid:
    """Return a coarse look at all speeds and forces of the press."""
    line = asked.line
    range_ = line.production.press.model.speed
    bottom, top = _ends(asked)
    return grid_of(
        asked, np.linspace(range_.min, range_.max, COARSE), np.geomspace(bottom, top, 3 * COARSE)
    )


def _ends(asked: Question) -> tuple[float, float]:
    """Return the least and the greatest force in N that are looked at."""
    line = asked.line
    area = line.charge.tip_area
    return line.map.floor * area, min(AROUND * line.force_limit, line.map.ceiling * area)


def _begin(grid: Grid, confidence: float) -> list[tuple[float, float]]:
    """Return force in N and speed in rpm of the cell furthest from the edges; none if none is."""
    inside = grid.inside(confidence)
    if not inside.any():
        return []
    row, column = _middle(grid, inside)
    return [(float(grid.forces[row]), float(grid.speeds[column]))]


def _zoomed(
    asked: Question,
    rough: Grid,
    cells: tuple[int, int],
    between: list[tuple[float, float]],
    advance: Callable[[], None],
) -> Grid:
    """Return the map of the forces around the window as the coarse look shows it.

    Where that finds none, it is around `between`; where there is none at all, every force is shown.
    """
    range_ = asked.line.production.press.model.speed
    bottom, top = _ends(asked)
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


def _widest(asked: Question, begin: list[tuple[float, float]]) -> tuple[float, float]:
    """Return force and speed whose margin is largest, beginning with some points.

    At every speed the middle of the forces that hold is tried, since the window is long in speed
    and slants with it; speeds come in even ratios and are then refined around the best, at last
    the force alone. The map plays no part, so its cells do not move the answer.
    """
    area, range_ = asked.line.charge.tip_area, asked.line.production.press.model.speed

    def middle(speed: float) -> list[tuple[float, float]]:
        if not range_.min <= speed <= range_.max:
            return []
        pressure = middle_pressure(asked, speed)
        return [] if pressure is None else [(pressure * area, speed)]

    best, most = begin[0], 0.0

    def improve(points: Iterable[tuple[float, float]]) -> None:
        nonlocal best, most
        for point in points:
            margin = margin_at(asked, point[0] / area, point[1], most)
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


def _at_speed(asked: Question) -> Centre | None:
    """Return the middle of the forces that hold at the asked speed."""
    middle = middle_pressure(asked, asked.speed)
    if middle is None:
        return None
    return centre_at(asked, middle * asked.line.charge.tip_area, asked.speed)


def _no_strength(asked: Question) -> tuple[str, ...]:
    if asked.line.fit.strength is not None:
        return ()
    return (f"No window can be shown: {NO_STRENGTH}.",)


def _nowhere(asked: Question, grid: Grid, whole: Case) -> str:
    """Return why no cell is inside: the limits that fail where the draws come closest."""
    if whole.unproven is not None:
        return f"Not enough evidence for a window. {whole.unproven.told}"
    promising = float(grid.speeds[np.argmax(grid.shares.min(axis=0).max(axis=0))])
    best = max(
        (closest(asked, speed) for speed in (asked.speed, promising)),
        key=lambda each: (each.binding.share, each.within),
    )
    failing = best.failing(asked.confidence)
    return (
        f"No speed and force keep every limit; the closest, {say(best.force.value or 0.0, 'N')} at "
        f"{say(best.point.speed, 'rpm')}: {failing}."
    )
