"""The operating window: a map on a terminal, JSON, and a table with a line for each cell."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from rich.console import Console, Group, RenderableType
from rich.text import Text

from scaleup.answers.window import Grid, Window
from scaleup.arrays import Array
from scaleup.model.estimate import exactly
from scaleup.show.frames import Frame
from scaleup.show.json_form import assumed_form, fastest_form, header, powder_form, quantity_form
from scaleup.show.parts import (
    EDGES,
    caution,
    confidence_line,
    fastest_told,
    fit_line,
    granted_lines,
    press_line,
    title,
    told,
)
from scaleup.show.speed import set_point_form
from scaleup.transfer.recommended import Recommended
from scaleup.transfer.window_centre import Centre
from scaleup.units_shown import main_force_unit
from scaleup.wording import percent, percent_of_draws, say, significant

WINDOW_FORMAT = "scaleup window 1"
HEADINGS = (
    "speed [rpm]",
    "force [N]",
    "share_within_limits",
    "inside",
    "worst_limit",
    "worst_share",
)
INSIDE, OUTSIDE = " ", "."
BEST, WIDEST, HERE = "X", "*", "+"
MARKS = (BEST, WIDEST, HERE)
EVERY = 8
"""Cells from one letter outside to the next."""
LABEL_WIDTH = 9


def show_window(console: Console, window: Window) -> None:
    """Print the map, its legend, the recommended point and the others beside it."""
    console.print(
        title(
            window.study,
            f"{press_line(window.production)}; {confidence_line(window.confidence)}",
        )
    )
    console.print(fit_line(window.fit))
    if window.grid is not None:
        console.print(_map(window, window.grid, console.width - LABEL_WIDTH))
    for mark, heading, point in _points(window):
        console.print(centre_lines(f"{mark} {heading}", point))
    if window.at_speed is None and window.centre is not None:
        console.print(Text(f"at the asked {say(window.speed, 'rpm')} no force keeps every limit"))
    if window.grid is not None:
        console.print(Text(f"\nfastest speed that holds: {fastest_told(window.fastest)}"))
    for reason in window.reasons:
        console.print(Text(str(reason), style="bold red"))
    console.print(granted_lines(window.assumed))
    console.print(caution(window.caution))


def _points(window: Window) -> Iterator[tuple[str, str, Centre]]:
    """Yield mark, heading and place of every point that is told, the weightiest first."""
    if window.recommended is not None:
        yield BEST, f"recommended: {window.recommended.why}", window.recommended.point
        if window.centre is not None and window.recommended.point is not window.centre:
            yield WIDEST, "largest margin", window.centre
    if window.at_speed is not None:
        heading = f"middle of the forces at the asked {say(window.speed, 'rpm')}"
        yield HERE, heading, window.at_speed


WINDOW_HEADS = ("point", "force", "speed", "output", "margin", "all limits kept by")


def window_rows(window: Window) -> list[tuple[str, ...]]:
    """Return a row for each point that is told, the weightiest first."""
    return [
        (
            heading,
            told(point.set_point.force),
            say(point.speed, "rpm"),
            say(window.production.output(point.speed), "1/h"),
            percent(point.margin),
            str(point.set_point.told_within),
        )
        for _, heading, point in _points(window)
    ]


def _map(window: Window, grid: Grid, room: int) -> RenderableType:
    """Return forces upwards and speeds to the right, one character for each cell.

    Where there are more speeds than room on the screen, some are left out.
    """
    symbols = map_symbols(window, grid)
    width = min(grid.speeds.size, max(room, 1))
    shown_columns = _shown_columns(symbols, width)
    unit = main_force_unit()
    lines = [Text(f"\nmain force, {unit.name}", style="bold")]
    last = grid.forces.size - 1
    for row in range(last, -1, -1):
        shown = row in (0, last // 2, last)
        label = significant(grid.forces[row] * unit.factor, 3) if shown else ""
        line = Text(f"{label:>{LABEL_WIDTH - 2}} |")
        for column in shown_columns:
            symbol = symbols[row][column]
            line.append(symbol, style="dim" if symbol == OUTSIDE else "bold")
        lines.append(line)
    low, high = f"{grid.speeds[0]:.3g}", f"{grid.speeds[-1]:.3g} rpm"
    lines.append(Text(" " * (LABEL_WIDTH - 1) + "+" + "-" * width))
    gap = max(width - len(low) - len(high), 1)
    lines.append(Text(" " * LABEL_WIDTH + low + " " * gap + high))
    lines += _legend(window, grid, symbols)
    return Group(*lines)


def _shown_columns(symbols: list[list[str]], width: int) -> list[int]:
    """Return which columns are shown: evenly many, those with a mark among them."""
    count = len(symbols[0])
    columns = [int(each) for each in np.rint(np.linspace(0, count - 1, width))]
    for line in symbols:
        for column, symbol in enumerate(line):
            if symbol in MARKS and column not in columns:
                columns[int(np.argmin(np.abs(np.array(columns) - column)))] = column
    return sorted(columns)


def map_symbols(window: Window, grid: Grid) -> list[list[str]]:
    """Return one character for each cell: blank inside, the letter of a limit along its edge.

    Elsewhere outside is dotted; every few cells a letter marks the limit most often broken there.
    """
    inside, worst = grid.inside(window.confidence), grid.worst()
    edge = _edge_cells(inside)
    symbols = [[INSIDE] * grid.speeds.size for _ in range(grid.forces.size)]
    for row, column in np.argwhere(np.logical_not(inside)):
        lettered = edge[row, column] or (column + EVERY // 2 * (row % 2)) % EVERY == EVERY // 4
        letter = grid.limits[worst[row, column]].letter
        symbols[row][column] = letter if lettered else OUTSIDE
    for mark, _, point in reversed(list(_points(window))):
        row = int(np.argmin(np.abs(grid.forces - (point.set_point.force.value or 0.0))))
        column = int(np.argmin(np.abs(grid.speeds - point.speed)))
        symbols[row][column] = mark
    return symbols


def _edge_cells(inside: Array) -> Array:
    """Return which cells outside the window touch it."""
    wider = np.pad(inside, 1)
    beside = (wider[:-2, 1:-1], wider[2:, 1:-1], wider[1:-1, :-2], wider[1:-1, 2:])
    touching: Array = np.logical_and(np.any(beside, axis=0), np.logical_not(inside))
    return touching


def _legend(window: Window, grid: Grid, symbols: list[list[str]]) -> Iterator[Text]:
    inside = grid.together[grid.inside(window.confidence)]
    used = {symbol for line in symbols for symbol in line}
    if inside.size:
        ends, draws = (float(inside.min()), float(inside.max())), window.drawing.draws
        least, most = (percent_of_draws(end, draws) for end in ends)
        spread = least if least == most else f"{least} to {most}"
        yield Text(
            f"blank: each limit kept with {percent(window.confidence)} confidence; all together by "
            f"{spread} of the draws"
        )
    letters = [limit for limit in grid.limits if limit.letter in used]
    if letters:
        yield Text(f"letters and {OUTSIDE} outside; a letter is the limit that most draws break:")
    for limit in letters:
        side = "below" if limit.side == "at least" else "above"
        bound = told(exactly(limit.bound, limit.unit))
        yield Text(f"  {limit.letter} {limit.label} {side} {bound}")


def centre_lines(heading: str, centre: Centre) -> RenderableType:
    """Return a recommended point with its margin and the edges around it."""
    dialled = centre.set_point
    output = dialled.point.process.production.output(centre.speed)
    lines = [
        Text(f"\n{heading}", style="bold"),
        Text(
            f"    {told(dialled.force)} ({told(dialled.pressure)}) at {say(centre.speed, 'rpm')}, "
            f"{say(output, '1/h')}; all limits kept by {dialled.told_within}"
        ),
        Text(f"    margin: force and speed may both be off by {percent(centre.margin)}"),
    ]
    lines += [
        Text(f"    {EDGES[edge.towards]} {say(edge.at, edge.unit)}: {edge.limit}")
        for edge in centre.edges
    ]
    if centre.beyond_tested > 0.0:
        told_beyond = f"{percent(centre.beyond_tested)} above the highest tested pressure"
        lines.append(Text(f"    {told_beyond}, {say(centre.tested, 'MPa')}", style="yellow"))
    return Group(*lines)


def window_form(window: Window) -> dict[str, Any]:
    """Return the window as plain lists and dictionaries."""
    grid = window.grid
    return header(window.study, WINDOW_FORMAT, window.drawing.seed) | {
        "draws": window.drawing.draws,
        "confidence": window.confidence,
        "production": {
            "press": window.production.press.id,
            "tooling": window.production.tooling.id,
            "speed": quantity_form(exactly(window.speed, "rpm")),
        },
        "recommended": recommended_form(window.recommended),
        "centre": None if window.centre is None else centre_form(window.centre),
        "at_asked_speed": None if window.at_speed is None else centre_form(window.at_speed),
        "map": None if grid is None else _grid_form(grid, window.confidence),
        **fastest_form(window.fastest),
        "reasons": list(window.reasons),
        "powder": powder_form(window.fit),
        "assumed": assumed_form(window.assumed),
        "caution": window.caution,
    }


def centre_form(centre: Centre) -> dict[str, Any]:
    """Return a recommended point as a plain dictionary."""
    return {
        "speed": quantity_form(exactly(centre.speed, "rpm")),
        "dialled": set_point_form(centre.set_point),
        "margin": centre.margin,
        "highest_tested_pressure": quantity_form(exactly(centre.tested, "MPa")),
        "edges": [
            {
                "towards": edge.towards,
                "at": quantity_form(exactly(edge.at, edge.unit)),
                "limit": edge.limit,
            }
            for edge in centre.edges
        ],
    }


def recommended_form(best: Recommended | None) -> dict[str, Any] | None:
    """Return the point to run at as a plain dictionary."""
    if best is None:
        return None
    return centre_form(best.point) | {
        "asked_margin": best.asked_margin,
        "asked_margin_met": best.met,
        "why": best.why,
    }


def _grid_form(grid: Grid, confidence: float) -> dict[str, Any]:
    return {
        "speeds": {"unit": "rpm", "values": grid.speeds.tolist()},
        "forces": {"unit": "N", "values": grid.forces.tolist()},
        "order": "one list for each force, in it one value for each speed",
        "share_within_limits": grid.together.tolist(),
        "inside": grid.inside(confidence).tolist(),
        "limits": [
            {
                "limit": limit.code,
                "label": limit.label,
                "letter": limit.letter,
                "share": grid.shares[index].tolist(),
            }
            for index, limit in enumerate(grid.limits)
        ],
    }


def window_frame(window: Window) -> Frame:
    """Return one line for each cell of the map, none if there is no map."""
    return Frame.of(HEADINGS, [] if window.grid is None else _cells(window.grid, window))


def _cells(grid: Grid, window: Window) -> Iterator[tuple[object, ...]]:
    inside, worst = grid.inside(window.confidence), grid.worst()
    for row, force in enumerate(grid.forces):
        for column, speed in enumerate(grid.speeds):
            index = worst[row, column]
            yield (
                float(speed), float(force), float(grid.together[row, column]),
                bool(inside[row, column]), grid.limits[index].code,
                float(grid.shares[index, row, column]),
            )  # fmt: skip
