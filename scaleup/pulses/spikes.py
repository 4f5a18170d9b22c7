"""Single samples that no press makes: a digit lost in writing, a pulse on a cable."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from scaleup.arrays import Array
from scaleup.io.logs import Piece

SPIKE = 0.1
"""Share of the range of force by which a single sample stands out on either side,"""
LEVEL = 0.1
"""and share of that by which its four neighbours differ at most: on so level a stretch no
compression of one sample begins and ends (both judgements of this program)."""
LEAST_ROWS = 50
"""Samples from which they are looked for."""


def without_spikes(piece: Piece) -> tuple[Piece, Array]:
    """Return a piece with its spikes put in line with their neighbours, and when in s they were."""
    force = piece.force
    if force.size < LEAST_ROWS:
        return piece, np.zeros(0)
    before, inner, after = force[1:-3], force[2:-2], force[3:-1]
    large = SPIKE * (float(force.max()) - float(force.min()))
    above = inner > np.maximum(before, after) + large
    places = 2 + np.flatnonzero(above | (inner < np.minimum(before, after) - large))
    if places.size == 0:
        return piece, np.zeros(0)
    around = np.stack([force[places + each] for each in (-2, -1, 1, 2)])
    level = np.ptp(around, axis=0) < LEVEL * np.abs(force[places] - around.mean(axis=0))
    places = places[level]
    mended = force.copy()
    mended[places] = 0.5 * (force[places - 1] + force[places + 1])
    return replace(piece, force=mended), piece.time[places]
