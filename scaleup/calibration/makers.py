"""Which runs each press made, and which of the presses the others are held against.

Every press has a gauge, a friction and a feeder of its own. So the runs of each production press
have an offset of pressure and a factor of strength of their own, held against the lab's runs, or,
where no lab run is among them, against those of one press.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from scaleup.arrays import Array, Flags
from scaleup.calibration.observations import Observation


@dataclass(frozen=True)
class Makers:
    """Runs by what made them."""

    runs: int
    """How many there are."""
    base: str
    """What the others are held against, as `Run.maker` names it."""
    others: dict[str, Flags] = field(default_factory=dict)
    """Which runs each of the others made, shape (runs,): the study's own press first, then those
    with most runs."""

    @property
    def first_press(self) -> str:
        """Return the press that is told first: the study's own, if it made any of the runs."""
        return next(iter(self.others), "lab") if self.base == "lab" else self.base

    @property
    def shifts(self) -> Array:
        """Return 1 for the runs of each of the others and 0 for all else, shape (runs, others)."""
        columns = [made.astype(np.float64) for made in self.others.values()]
        return np.array(columns).reshape(len(columns), self.runs).T


def makers_of(seen: Sequence[Observation]) -> Makers:
    """Return what made some runs; the lab is held against if it made any."""
    names = [each.run.maker for each in seen]
    ordered = sorted(dict.fromkeys(names), key=lambda name: _rank(name, names))
    if not ordered:
        return Makers(0, "lab")
    made = {name: np.array([name == each for each in names]) for name in ordered}
    return Makers(len(names), ordered[0], {name: made[name] for name in ordered[1:]})


def _rank(name: str, names: list[str]) -> tuple[bool, bool, int]:
    return name != "lab", name != "production", -names.count(name)


def runs_of(seen: Sequence[Observation], maker: str) -> tuple[Observation, ...]:
    """Return the runs that one press made."""
    return tuple(each for each in seen if each.run.maker == maker)


def batches_of(seen: Sequence[Observation], maker: str) -> int:
    """Return of how many batches the runs of one press are, at least one."""
    return max(len({each.run.batch for each in runs_of(seen, maker)}), 1)


def apart(
    of_other: tuple[float, float], of_base: tuple[float, float] | None
) -> tuple[float, float]:
    """Return mean and standard deviation of a difference; nothing is taken off where there is none.

    >>> apart((0.03, 0.04), (0.01, 0.03))
    (0.02, 0.05)
    """
    if of_base is None:
        return of_other
    return of_other[0] - of_base[0], float(np.hypot(of_other[1], of_base[1]))
