"""The edges of an operating window as lines in a picture, each named by its limit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scaleup.answers.window import Grid
from scaleup.arrays import Array

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.contour import QuadContourSet

HATCH, HATCH_GREY, LINE_GREY = "////", "#c8c8c8", "#333333"
LINES = ("-", "--", "-.", (0, (1, 1.5)), (0, (5, 1, 1, 1, 1, 1)))
"""How the edges are dashed, one after the other."""
LABEL_SIZE = 7.5
LABEL_ROOM = 0.35
"""Share of a side of the picture that an edge must be long to carry its name."""


def edges_drawn(axes: Axes, grid: Grid, confidence: float) -> list[str]:
    """Draw the edge of every limit, hatch what is outside, and return the names of the limits.

    An edge is where as many draws as the asked confidence keep the limit. Its name stands on the
    line where there is room, else in the legend.
    """
    speeds, forces = grid.speeds, grid.forces / 1e3
    room = grid.shares.min(axis=0) - confidence
    if room.min() < 0.0:
        hatched = axes.contourf(speeds, forces, room, levels=[room.min() - 1.0, 0.0],
                                colors="none", hatches=[HATCH])  # fmt: skip
        hatched.set_edgecolor(HATCH_GREY)
        hatched.set_linewidth(0.0)
    crossed = [
        index
        for index in range(len(grid.limits))
        if grid.shares[index].min() < confidence <= grid.shares[index].max()
    ]
    for number, index in enumerate(crossed):
        line = axes.contour(speeds, forces, grid.shares[index] - confidence, levels=[0.0],
                            colors=LINE_GREY, linewidths=1.3,
                            linestyles=[LINES[number % len(LINES)]])  # fmt: skip
        _name(axes, line, grid.limits[index].label, (number + 1.0) / (len(crossed) + 1.0), number)
    return [grid.limits[index].label for index in crossed]


def _name(axes: Axes, line: QuadContourSet, label: str, share: float, number: int) -> None:
    """Write a limit's name on its edge, so far along it, or in the legend if there is no room."""
    parts = [np.asarray(part) for part in line.allsegs[0]]
    longest = max(parts, key=len, default=np.empty((0, 2)))
    if len(longest) and _length(axes, longest) > LABEL_ROOM:
        place = longest[int(share * (len(longest) - 1))]
        for text in axes.clabel(line, fmt={0.0: label}, manual=[tuple(place)], inline=False,
                                colors="black", fontsize=LABEL_SIZE, zorder=4):  # fmt: skip
            text.set_bbox({"facecolor": "white", "edgecolor": "none", "pad": 1.0})
        return
    axes.plot([], [], linestyle=LINES[number % len(LINES)], color=LINE_GREY, label=label)


def _length(axes: Axes, line: Array) -> float:
    """Return the length of a line as a share of the sides of the picture."""
    sides = np.array([np.ptp(axes.get_xlim()), np.ptp(axes.get_ylim())])
    return float(np.sum(np.hypot(*(np.diff(line, axis=0) / sides).T)))
