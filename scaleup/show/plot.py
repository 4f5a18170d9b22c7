"""A small plot in plain characters: a line with its band over an axis, and a level to reach."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.wording import significant

HEIGHT = 12
LINE, BAND, LEVEL = "o", ":", "-"


@dataclass(frozen=True)
class Curve:
    """A figure over an axis; arrays of shape (points,), rising in x."""

    x: Array
    middle: Array
    low: Array
    high: Array
    level: float | None
    """A value to reach or to keep below, drawn across."""


def plot_text(curve: Curve, heading: str, axis: str, width: int) -> str:
    """Return a plot of the curve in a number of columns, with labelled axes.

    The middle is drawn as ``o``, the band as ``:`` and the level as ``-``.
    """
    columns = max(width - 10, 20)
    x = np.linspace(curve.x[0], curve.x[-1], columns)
    low, middle, high = (np.interp(x, curve.x, y) for y in (curve.low, curve.middle, curve.high))
    bottom, top = _ends(np.concatenate([low, high]), curve.level)
    canvas = np.full((HEIGHT, columns), " ", dtype="<U1")
    lines = np.arange(HEIGHT)[:, None]
    canvas[(lines >= _row(high, bottom, top)) & (lines <= _row(low, bottom, top))] = BAND
    if curve.level is not None:
        level = int(_row(np.array(curve.level), bottom, top))
        canvas[level][canvas[level] == " "] = LEVEL
    canvas[_row(middle, bottom, top), np.arange(columns)] = LINE
    ticks = {0: top, HEIGHT // 2: top + (bottom - top) * (HEIGHT // 2) / (HEIGHT - 1),
             HEIGHT - 1: bottom}  # fmt: skip
    shown = _labels(ticks)
    body = [f"{shown.get(row, ''):>8} |{''.join(cells)}" for row, cells in enumerate(canvas)]
    ends = f"{curve.x[0]:g}", f"{curve.x[-1]:g} {axis}"
    foot = f"{'':>9} {ends[0]}{ends[1]:>{columns - len(ends[0])}}"
    return "\n".join([heading, *(line.rstrip() for line in body), f"{'':>9}+{'-' * columns}", foot])


def _labels(ticks: dict[int, float]) -> dict[int, str]:
    """Return the labels of the ticks with as many digits as tell them apart, three at least."""
    for digits in range(3, 8):
        labels = {row: significant(float(value), digits) for row, value in ticks.items()}
        if len(set(labels.values())) == len(labels):
            break
    return labels


def _ends(values: Array, level: float | None) -> tuple[float, float]:
    kept = values if level is None else np.append(values, level)
    low, high = float(kept.min()), float(kept.max())
    room = 0.06 * (high - low) or 0.05 * abs(high) or 1.0
    return low - room, high + room


def _row(values: Array, bottom: float, top: float) -> Array:
    share = (top - values) / (top - bottom)
    rows: Array = np.clip(np.rint(share * (HEIGHT - 1)), 0, HEIGHT - 1).astype(np.intp)
    return rows
