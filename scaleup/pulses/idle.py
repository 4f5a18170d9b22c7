"""What a force channel reads while nothing is compressed: its zero and its noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array

BLOCK, LEAST_BLOCK = 64, 4
"""Samples of a block whose median is looked at, fewer in a short log."""
BLOCKS_LOOKED_AT = 512
IDLE_SHARE = 0.02
"""Blocks whose median is within this share of the range above the lowest count as idle."""
LEAST_QUIET = 8
"""Idle blocks from which noise is taken from them alone."""


@dataclass(frozen=True)
class Idle:
    """The idle part of a stretch of a log."""

    zero: float
    """N."""
    noise: float
    """Standard deviation of a sample in N, from second differences, so that slopes do not count."""
    top: float
    """Highest sample in N."""


def idle_of(force: Array) -> Idle:
    """Return zero and noise of the idle samples of a stretch.

    A stretch counts as idle where the median of a block is near the lowest such median; if the
    stretch is compressed from end to end, that is its lowest force.
    """
    top = float(force.max())
    size = min(max(min(BLOCK, force.size // 50), LEAST_BLOCK), force.size)
    count = force.size // size
    step = max(count // BLOCKS_LOOKED_AT, 1)
    blocks = np.vstack([force[: count * size].reshape(count, size)[::step], force[-size:]])
    medians = np.median(blocks, axis=1)
    lowest = float(np.median(np.sort(medians)[: max(len(medians) // 50, 1)]))
    quiet = blocks[medians <= lowest + IDLE_SHARE * (top - lowest)]
    if len(quiet) < LEAST_QUIET:
        # Next to nothing idle: the lowest block is zero, and noise bends the whole of it.
        return Idle(lowest, _noise(force[None, :]), top)
    return Idle(float(np.median(quiet)), _noise(quiet), top)


def _noise(blocks: Array) -> float:
    """Return the standard deviation of a sample in N, shape of the blocks (blocks, samples)."""
    bends = np.abs(np.diff(blocks, n=2, axis=1)) if blocks.shape[1] > 2 else np.zeros(1)
    middle = float(np.median(bends))
    # A coarse converter leaves most differences at zero; the larger ones still tell.
    spread = 1.4826 * middle if middle > 0.0 else float(np.quantile(bends, 0.9)) / 1.645
    return spread / float(np.sqrt(6.0))
