"""What a force channel reads while nothing is compressed: its zero, its noise, mains hum."""

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
MAINS = (50.0, 60.0)
"""Hz."""
HUM_SAMPLES = 20_000
CLEAR_HUM = 6.0
"""How many times its own uncertainty an amplitude is, to be called hum."""


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


@dataclass(frozen=True)
class Hum:
    """A sine of the mains on the force channel."""

    frequency: float
    """Hz."""
    amplitude: float
    """N."""


def hum_of(time: Array, force: Array, level: float) -> Hum | None:
    """Return the mains hum on the samples below a level in N, None where none is clear.

    Sine and cosine of 50 and of 60 Hz are fitted to idle samples of the first second; the larger
    is told if its amplitude is clearly above its uncertainty.
    """
    near = time <= time[0] + 1.0
    quiet = np.flatnonzero((force < level) & near)[:HUM_SAMPLES]
    if quiet.size < 200 or time[quiet[-1]] - time[quiet[0]] < 2.0 / MAINS[0]:
        return None
    seconds, values = time[quiet], force[quiet] - np.median(force[quiet])
    hums = []
    for frequency in MAINS:
        angle = 2.0 * np.pi * frequency * seconds
        terms = np.column_stack([np.ones_like(angle), np.cos(angle), np.sin(angle)])
        coefficients, *_ = np.linalg.lstsq(terms, values, rcond=None)
        rest = float(np.std(values - terms @ coefficients))
        amplitude = float(np.hypot(*coefficients[1:]))
        hums.append((rest, Hum(frequency, amplitude)))
    rest, best = min(hums, key=lambda each: each[0])
    # Idle samples after a pulse are not independent; a tenth of them are taken to be.
    uncertain = rest * np.sqrt(2.0 / max(quiet.size / 10.0, 1.0))
    return best if best.amplitude > CLEAR_HUM * uncertain else None
