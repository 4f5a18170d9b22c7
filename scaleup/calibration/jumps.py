"""Rows of a column that jump by the ratio of two units: a slip in the middle of a table."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.observations import Observation

RATIOS = (4.448, 9.807, 10.0, 25.4, 60.0, 1000.0)
"""Usual ratios of two units; 2.205 is no more than a capped tablet may lose."""
AGREES = 0.2
"""How far a jump may be off such a ratio, in logarithms."""
EXPLAINED = 0.35
"""Share of the scatter that may be left once the rows are put right."""
STEADY = 0.3
"""Scatter, in logarithms, above which a column says nothing of its own steps, and distance of a
value below which there is none. These three are this project's judgement."""
LEAST_ROWS, MOST_ROWS = 4, 300


@dataclass(frozen=True)
class Jump:
    """Rows of one column that would fit the others if they were ``ratio`` times as large."""

    column: str
    lines: tuple[int, ...]
    ratio: float


def jumps(seen: tuple[Observation, ...]) -> tuple[Jump, ...]:
    """Return the columns of which some rows, one or a block, stand in another unit."""
    steps = []
    for column, rows, values, terms in _columns(seen):
        step = _step(values, terms)
        if step is not None:
            first, last, ratio = step
            lines = tuple(each.run.line for each in rows[first:last])
            steps.append(Jump(column, lines, ratio))
    return tuple(steps)


def _columns(
    seen: tuple[Observation, ...],
) -> Iterator[tuple[str, list[Observation], Array, Array]]:
    """Yield each column with its rows, the logarithm of its values, and what they go with."""
    pressed = [each for each in seen if each.solid_fraction]
    density = np.array([-np.log1p(-(each.solid_fraction or 0.0)) for each in pressed])
    yield "force", pressed, np.log([each.run.force for each in pressed]), _line(density)
    broken = [each for each in pressed if each.strength]
    solid = np.array([each.solid_fraction for each in broken], dtype=np.float64)
    strength = np.array([each.strength for each in broken], dtype=np.float64)
    yield "breaking force", broken, np.log(strength), _line(solid)
    for field in ("weight", "ejection_force", "fill_depth"):
        rows = [each for each in seen if getattr(each.run, field)]
        values = np.array([getattr(each.run, field) for each in rows], dtype=np.float64)
        yield field.replace("_", " "), rows, np.log(values), np.ones((len(rows), 1))


def _line(along: Array) -> Array:
    return np.column_stack([np.ones(along.size), along])


def _step(values: Array, terms: Array) -> tuple[int, int, float] | None:
    """Return first row, last row (exclusive) and the ratio that puts them right, if any does.

    Every block of at most half of the rows is tried: with M the projection that takes out the
    terms, and s the rows of a block, a step d leaves ``r'r - 2 d s'r + d^2 s'Ms``.
    """
    rows = values.size
    if not LEAST_ROWS <= rows <= MOST_ROWS or np.linalg.matrix_rank(terms) < terms.shape[1]:
        return None
    keep = np.eye(rows) - terms @ np.linalg.pinv(terms)
    left = keep @ values
    if np.max(np.abs(left)) < STEADY:
        return None
    within = _block_sums(keep)
    along = np.concatenate([[0.0], np.cumsum(left)])
    moved = along[None, :] - along[:, None]
    length = np.arange(rows + 1)[None, :] - np.arange(rows + 1)[:, None]
    tried = (length > 0) & (length <= rows // 2) & (within > 1e-9)
    whole = float(left @ left)
    best, most = None, (EXPLAINED**2) * whole
    for step in (sign * np.log(ratio) for ratio in RATIOS for sign in (1.0, -1.0)):
        agrees = tried & (np.abs(moved - step * within) < AGREES * within)
        rest = np.where(agrees, whole - 2.0 * step * moved + step**2 * within, np.inf)
        first, last = np.unravel_index(int(np.argmin(rest)), rest.shape)
        if rest[first, last] < most and rest[first, last] < rows * STEADY**2:
            best, most = (int(first), int(last), float(np.exp(-step))), float(rest[first, last])
    return best


def _block_sums(matrix: Array) -> Array:
    """Return the sum of ``matrix[i:j, i:j]`` at row i and column j."""
    sums = np.zeros((matrix.shape[0] + 1, matrix.shape[1] + 1))
    sums[1:, 1:] = matrix.cumsum(axis=0).cumsum(axis=1)
    corner = np.diag(sums)
    result: Array = corner[None, :] + corner[:, None] - sums - sums.T
    return result
