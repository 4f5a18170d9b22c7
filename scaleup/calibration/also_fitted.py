"""What is fitted besides the pulse: the change of the exponent, offsets and drifts of pressures.

Parameter sets have the columns (form parameters, m, ln K), on which the dwell of a pulse depends,
and after them c, where the exponent may change with the dwell; an o for each press whose runs stand
beside others: its pressures count ``exp(o)`` of what its gauge reads; and a d for each press whose
runs say when they were made: ``exp(d x)`` more, x from -1/2 at its first run to 1/2 at its last.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array


@dataclass(frozen=True)
class OffsetPrior:
    """A normal distribution of o of one press, and which runs it is for."""

    maker: str
    """The press, as `Run.maker` names it."""
    middle: float
    spread: float
    made: Array
    """1 for each run of the press and 0 for each other, shape (runs, 1)."""


@dataclass(frozen=True)
class DriftPrior:
    """A normal distribution of d of one press about 0, and the place x of each run."""

    maker: str
    spread: float
    places: Array
    """Shape (runs, 1); 0 for what does not drift."""


@dataclass(frozen=True)
class AlsoFitted:
    """The columns after those of the pulse."""

    curvature: float = 0.0
    """Standard deviation of c; 0 if the exponent does not change."""
    offsets: tuple[OffsetPrior, ...] = ()
    drifts: tuple[DriftPrior, ...] = ()

    @property
    def count(self) -> int:
        """Return how many columns there are."""
        return (self.curvature > 0.0) + len(self.offsets) + len(self.drifts)

    @property
    def start(self) -> list[float]:
        """Return the first value of each."""
        first = [0.0] if self.curvature > 0.0 else []
        return [*first, *(each.middle for each in self.offsets), *(0.0 for _ in self.drifts)]

    def pulse(self, columns: Array) -> Array:
        """Return the columns that the pulse depends on."""
        return columns[:, : columns.shape[1] - self.count]

    def change(self, columns: Array) -> Array:
        """Return c, shape (sets,); 0 where it is not fitted."""
        if self.curvature == 0.0:
            return np.zeros(len(columns))
        return columns[:, columns.shape[1] - self.count]

    def log_offsets(self, columns: Array) -> dict[str, Array]:
        """Return o of each press that has one, shape (sets,)."""
        first = columns.shape[1] - len(self.drifts) - len(self.offsets)
        return {each.maker: columns[:, first + at] for at, each in enumerate(self.offsets)}

    def log_drifts(self, columns: Array) -> dict[str, Array]:
        """Return d of each press that has one, shape (sets,)."""
        first = columns.shape[1] - len(self.drifts)
        return {each.maker: columns[:, first + at] for at, each in enumerate(self.drifts)}

    def log_pressure(self, columns: Array) -> Array:
        """Return ln of the pressure that densifies over that read, (runs, sets) or (1, sets)."""
        total = np.zeros((1, len(columns)))
        offsets, drifts = self.log_offsets(columns), self.log_drifts(columns)
        for offset in self.offsets:
            total = total + offset.made * offsets[offset.maker]
        for drift in self.drifts:
            total = total + drift.places * drifts[drift.maker]
        return total

    def deviations(self, columns: Array) -> Array:
        """Return how many standard deviations each is from its middle, shape (count, sets)."""
        rows = []
        if self.curvature > 0.0:
            rows.append(self.change(columns) / self.curvature)
        offsets, drifts = self.log_offsets(columns), self.log_drifts(columns)
        rows += [(offsets[each.maker] - each.middle) / each.spread for each in self.offsets]
        rows += [drifts[each.maker] / each.spread for each in self.drifts]
        return np.array(rows).reshape(self.count, len(columns))


NOTHING_ELSE = AlsoFitted()
