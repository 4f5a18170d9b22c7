"""What could be measured next, and what it costs: as a study states it, else our defaults."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Annotated

from scaleup.model.checked import Checked
from scaleup.model.fields import Mass, Measure, Whole

Time = Annotated[float, Measure("s", zero=True, most=1e7)]


@dataclass(frozen=True, kw_only=True)
class Cost(Checked):
    """What an experiment takes; a key that is left out keeps the default.

    Examples
    --------
    >>> Cost(tablets=9, time=4 * 3600.0).told
    '9 tablets, 4 h'
    """

    tablets: Annotated[int, Whole(0, 100000)] | None = None
    powder: Mass | None = None
    """mg."""
    time: Time | None = None
    """s, of a person's and a machine's time together."""
    possible: bool = True
    """Whether the site can do it at all."""

    def with_defaults(self, usual: Cost) -> Cost:
        """Return the cost with what is left out as it usually is."""
        open_ = [each.name for each in fields(self) if getattr(self, each.name) is None]
        return replace(self, **{name: getattr(usual, name) for name in open_})

    @property
    def told(self) -> str:
        """Return the cost in a few words."""
        parts = [f"{self.tablets} tablets"] if self.tablets else []
        if self.powder:
            parts.append(f"{self.powder / 1e6:g} kg")
        if self.time is not None:
            parts.append(f"{self.time / 3600.0:g} h")
        return ", ".join(parts)


@dataclass(frozen=True, kw_only=True)
class Experiments(Checked):
    """The cost of every experiment that a study states.

    Examples
    --------
    >>> Experiments(gauge_check=Cost(time=1800.0)).cost("gauge_check").told
    '0.5 h'
    """

    lab_runs: Cost | None = None
    gauge_check: Cost | None = None
    tester_check: Cost | None = None
    readings_check: Cost | None = None
    lower_punch_force: Cost | None = None
    over_mixed_blend: Cost | None = None
    feeder_blend: Cost | None = None
    second_lot: Cost | None = None
    trial_run: Cost | None = None

    def cost(self, name: str) -> Cost:
        """Return what an experiment takes, as stated or by default."""
        stated: Cost | None = getattr(self, name)
        usual = DEFAULT_COSTS[name]
        return usual if stated is None else stated.with_defaults(usual)


HOUR, KILOGRAM = 3600.0, 1e6
DEFAULT_COSTS: dict[str, Cost] = {
    "lab_runs": Cost(tablets=3, time=0.5 * HOUR),
    "gauge_check": Cost(tablets=0, time=2.0 * HOUR),
    "tester_check": Cost(tablets=20, time=1.0 * HOUR),
    "readings_check": Cost(tablets=0, time=2.0 * HOUR),
    "lower_punch_force": Cost(tablets=6, time=2.0 * HOUR),
    "over_mixed_blend": Cost(tablets=9, powder=0.5 * KILOGRAM, time=4.0 * HOUR),
    "feeder_blend": Cost(tablets=6, powder=5.0 * KILOGRAM, time=4.0 * HOUR),
    "second_lot": Cost(tablets=9, powder=1.0 * KILOGRAM, time=4.0 * HOUR),
    "trial_run": Cost(tablets=200, powder=10.0 * KILOGRAM, time=8.0 * HOUR),
}
"""What each takes where the study does not say (judgements of this program)."""
NO_COSTS = Experiments()
"""A study that states no cost."""
