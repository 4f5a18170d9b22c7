"""Standard normal numbers for what no run tells, one for each draw, spread evenly."""

from __future__ import annotations

from dataclasses import dataclass
from zlib import crc32

import numpy as np
from scipy.special import ndtri

from scaleup.arrays import Array


@dataclass(frozen=True)
class Scores:
    """Where standard normal numbers come from: equal for equal draws, seed and name."""

    draws: int
    seed: int

    def of(self, name: str) -> Array:
        """Return as many numbers as there are draws, one in each of as many equal parts.

        >>> values = Scores(400, 1).of("gauge of the lab")
        >>> round(float(values.mean()), 2), round(float(values.std()), 2)
        (0.0, 1.0)
        """
        rng = np.random.default_rng([self.seed, crc32(name.encode())])
        part = (rng.permutation(self.draws) + rng.random(self.draws)) / self.draws
        return np.asarray(ndtri(np.clip(part, 1e-9, 1.0 - 1e-9)), dtype=np.float64)

    def flat(self, name: str) -> Array:
        """Return evenly spread numbers between 0 and 1 in no order."""
        rng = np.random.default_rng([self.seed, crc32(name.encode()), 1])
        part: Array = (rng.permutation(self.draws) + rng.random(self.draws)) / self.draws
        return part
