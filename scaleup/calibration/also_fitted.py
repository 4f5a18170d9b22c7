"""What is fitted besides the pulse: the change of the exponent, an offset of production pressures.

Parameter sets have the columns (form parameters, m, ln K), on which the dwell of a pulse depends,
and after them c, where the exponent may change with the dwell, and o, where production runs stand
beside lab runs: their pressures count ``exp(o)`` of what their gauge reads.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array


@dataclass(frozen=True)
class OffsetPrior:
    """A normal distribution of o, and which runs it is for."""

    middle: float
    spread: float
    produced: Array
    """1 for each production run and 0 for each lab run, shape (runs, 1)."""


@dataclass(frozen=True)
class AlsoFitted:
    """The columns after those of the pulse."""

    curvature: float = 0.0
    """Standard deviation of c; 0 if the exponent does not change."""
    offset: OffsetPrior | None = None

    @property
    def count(self) -> int:
        """Return how many columns there are."""
        return int(self.curvature > 0.0) + int(self.offset is not None)

    @property
    def start(self) -> list[float]:
        """Return the first value of each."""
        first = [0.0] if self.curvature > 0.0 else []
        return first if self.offset is None else [*first, self.offset.middle]

    def pulse(self, columns: Array) -> Array:
        """Return the columns that the pulse depends on."""
        return columns[:, : columns.shape[1] - self.count]

    def change(self, columns: Array) -> Array:
        """Return c, shape (sets,); 0 where it is not fitted."""
        if self.curvature == 0.0:
            return np.zeros(len(columns))
        return columns[:, columns.shape[1] - self.count]

    def log_offset(self, columns: Array) -> Array:
        """Return o, shape (sets,); 0 where it is not fitted."""
        return np.zeros(len(columns)) if self.offset is None else columns[:, -1]

    def deviations(self, columns: Array) -> Array:
        """Return how many standard deviations each is from its middle, shape (count, sets)."""
        rows = []
        if self.curvature > 0.0:
            rows.append(self.change(columns) / self.curvature)
        if self.offset is not None:
            rows.append((columns[:, -1] - self.offset.middle) / self.offset.spread)
        return np.array(rows).reshape(self.count, len(columns))


NOTHING_ELSE = AlsoFitted()
