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


def show_window(console: Console, found: Window) -> None:
    """Print the map, its legend, the recommended point and the others beside it."""
    console.print(
        title(
            found.study,
            f"{press_line(found.production)}; {confidence_line(found.confidence)}",
        )
    )
    console.print(fit_line(found.fit))
    if found.grid is not None:
        console.print(_map(found, found.grid, console.width - LABEL_WIDTH))
    for mark, heading, point in _points(found):
        console.print(centre_lines(f"{mark} {heading}", point))
    if found.at_speed is None and found.centre is not None:
        console.print(Text(f"at the asked {say(found.speed, 'rpm')} no force keeps every limit"))
    if found.grid is not None:
        console.print(Text(f"\nfastest speed that holds: {fastest_told(found.fastest)}"))
    for reason in found.reasons:
        console.print(Text(str(reason), style="bold red"))
    console.print(granted_lines(found.assumed))
    console.print(caution(found.caution))


def _points(found: Window) -> Iterator[tuple[str, str, Centre]]:
    """Yield mark, heading and place of every point that is told, the weightiest first."""
    if found.recommended is not None:
        yield BEST, f"recommended: {found.recommended.why}", found.recommended.point
        if found.centre is not None and found.recommended.point is not found.centre:
            yield WIDEST, "largest margin", found.centre
    if found.at_speed is not None:
        heading = f"middle of the forces at the asked {say(found.speed, 'rpm')}"
        yield HERE, heading, found.at_speed


WINDOW_HEADS = ("point", "force", "speed", "output", "margin", "all limits kept by")


def window_rows(found: Window) -> list[tuple[str, ...]]:
    """Return a row for each point that is told, the weightiest first."""
    return [
        (
            heading,
            told(point.set_point.force),
            say(point.speed, "rpm"),
            say(found.production.output(point.speed), "1/h"),
            percent(point.margin),
            str(point.set_point.told_within),
        )
        for _, heading, point in _points(found)
    ]


def _map(found: Window, grid: Grid, room: int) -> RenderableType:
    """Return forces upwards and speeds to the right, one character for each cell.

    Where there are more speeds than room on the screen, some are left out.
    """
    symbols = map_symbols(found, grid)
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
    lines += _legend(found, grid, symbols)
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


def map_symbols(found: Window, grid: Grid) -> list[list[str]]:
    """Return one character for each cell: blank inside, the letter of a limit along its edge.

    Elsewhere outside is dotted; every few cells a letter marks the limit most often broken there.
    """
    inside, worst = grid.inside(found.confidence), grid.worst()
    edge = _edge_cells(inside)
    symbols = [[INSIDE] * grid.speeds.size for _ in range(grid.forces.size)]
    for row, column in np.argwhere(np.logical_not(inside)):
        lettered = edge[row, column] or (column + EVERY // 2 * (row % 2)) % EVERY == EVERY // 4
        letter = grid.limits[worst[row, column]].letter
        symbols[row][column] = letter if lettered else OUTSIDE
    for mark, _, point in reversed(list(_points(found))):
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


def _legend(found: Window, grid: Grid, symbols: list[list[str]]) -> Iterator[Text]:
    inside = grid.together[grid.inside(found.confidence)]
    used = {symbol for line in symbols for symbol in line}
    if inside.size:
        ends, draws = (float(inside.min()), float(inside.max())), found.drawing.draws
        least, most = (percent_of_draws(end, draws) for end in ends)
        spread = least if least == most else f"{least} to {most}"
        yield Text(
            f"blank: each limit kept with {percent(found.confidence)} confidence; all together by "
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


def window_form(found: Window) -> dict[str, Any]:
    """Return the window as plain lists and dictionaries."""
    grid = found.grid
    return header(found.study, WINDOW_FORMAT, found.drawing.seed) | {
        "draws": found.drawing.draws,
        "confidence": found.confidence,
        "production": {
            "press": found.production.press.id,
            "tooling": found.production.tooling.id,
            "speed": quantity_form(exactly(found.speed, "rpm")),
        },
        "recommended": recommended_form(found.recommended),
        "centre": None if found.centre is None else centre_form(found.centre),
        "at_asked_speed": None if found.at_speed is None else centre_form(found.at_speed),
        "map": None if grid is None else _grid_form(grid, found.confidence),
        **fastest_form(found.fastest),
        "reasons": list(found.reasons),
        "powder": powder_form(found.fit),
        "assumed": assumed_form(found.assumed),
        "caution": found.caution,
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


def window_frame(found: Window) -> Frame:
    """Return one line for each cell of the map, none if there is no map."""
    return Frame.of(HEADINGS, [] if found.grid is None else _cells(found.grid, found))


def _cells(grid: Grid, found: Window) -> Iterator[tuple[object, ...]]:
    inside, worst = grid.inside(found.confidence), grid.worst()
    for row, force in enumerate(grid.forces):
        for column, speed in enumerate(grid.speeds):
            index = worst[row, column]
            yield (
                float(speed), float(force), float(grid.together[row, column]),
                bool(inside[row, column]), grid.limits[index].code,
                float(grid.shares[index, row, column]),
            )  # fmt: skip
