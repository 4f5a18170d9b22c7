"""What is fitted besides the pulse: the change of the exponent, offset and drift of pressures.

Parameter sets have the columns (form parameters, m, ln K), on which the dwell of a pulse depends,
and after them c, where the exponent may change with the dwell; o, where production runs stand
beside lab runs: their pressures count ``exp(o)`` of what their gauge reads; and d, where production
runs say when they were made: ``exp(d x)`` more, x from -1/2 at the first to 1/2 at the last.
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
class DriftPrior:
    """A normal distribution of d about 0, and the place x of each run."""

    spread: float
    places: Array
    """Shape (runs, 1); 0 for what does not drift."""


@dataclass(frozen=True)
class AlsoFitted:
    """The columns after those of the pulse."""

    curvature: float = 0.0
    """Standard deviation of c; 0 if the exponent does not change."""
    offset: OffsetPrior | None = None
    drift: DriftPrior | None = None

    @property
    def count(self) -> int:
        """Return how many columns there are."""
        return sum((self.curvature > 0.0, self.offset is not None, self.drift is not None))

    @property
    def start(self) -> list[float]:
        """Return the first value of each."""
        first = [0.0] if self.curvature > 0.0 else []
        first += [] if self.offset is None else [self.offset.middle]
        return first if self.drift is None else [*first, 0.0]

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
        if self.offset is None:
            return np.zeros(len(columns))
        return columns[:, -1 if self.drift is None else -2]

    def log_drift(self, columns: Array) -> Array:
        """Return d, shape (sets,); 0 where it is not fitted."""
        return np.zeros(len(columns)) if self.drift is None else columns[:, -1]

    def log_pressure(self, columns: Array) -> Array:
        """Return ln of the pressure that densifies over that read, (runs, sets) or (1, sets)."""
        total = np.zeros((1, len(columns)))
        if self.offset is not None:
            total = total + self.offset.produced * self.log_offset(columns)
        if self.drift is not None:
            total = total + self.drift.places * self.log_drift(columns)
        return total

    def deviations(self, columns: Array) -> Array:
        """Return how many standard deviations each is from its middle, shape (count, sets)."""
        rows = []
        if self.curvature > 0.0:
            rows.append(self.change(columns) / self.curvature)
        if self.offset is not None:
            rows.append((self.log_offset(columns) - self.offset.middle) / self.offset.spread)
        if self.drift is not None:
            rows.append(self.log_drift(columns) / self.drift.spread)
        return np.array(rows).reshape(self.count, len(columns))


NOTHING_ELSE = AlsoFitted()
