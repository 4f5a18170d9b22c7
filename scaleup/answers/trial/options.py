"""What the plan of a trial leaves to whoever runs it."""

from __future__ import annotations

from dataclasses import dataclass

from scaleup.calibration.arguments import (
    HOLD_UP,
    MINUTES,
    TABLETS,
    number_faults,
    whole_number_faults,
)
from scaleup.errors import InputError

WEIGHT_TOLERANCE = 0.05
"""Share by which a single tablet may be off the target weight where nothing else is asked for (a
judgement of this program)."""
TOLERANCES = (0.005, 0.2)


@dataclass(frozen=True)
class TrialOptions:
    """What the plan leaves to whoever runs the trial.

    Examples
    --------
    >>> TrialOptions(tablets=20, hold_up=2e6).minutes
    3.0
    """

    tablets: int | None = None
    """Tablets to sample from each run; from the scatter of the study if absent."""
    minutes: float = 3.0
    """How long each run is held, minutes."""
    setting_minutes: float = 5.0
    """How long it takes to set and settle the press for each run, minutes."""
    hold_up: float = 0.0
    """Powder in mg that hopper and feeder hold and that is not pressed."""
    weight_tolerance: float = WEIGHT_TOLERANCE
    """Share by which a single tablet may be off the target weight."""
    date: str = ""
    """Day of the plan, as 2026-03-14; empty if it is not to be told."""
    command: str = ""
    """The command that made the plan, which stands on every page; empty for none."""

    @property
    def time(self) -> float:
        """Return the time of one run in s, its setting included."""
        return 60.0 * (self.minutes + self.setting_minutes)

    def check(self) -> None:
        """Refuse what no trial can be planned with.

        Raises
        ------
        InputError
            With every fault found.
        """
        faults = [
            *number_faults("minutes", self.minutes, MINUTES),
            *number_faults("setting_minutes", self.setting_minutes, MINUTES),
            *number_faults("hold_up", self.hold_up, HOLD_UP),
            *number_faults("weight_tolerance", self.weight_tolerance, TOLERANCES),
        ]
        if self.tablets is not None:
            faults += whole_number_faults("tablets", self.tablets, TABLETS)
        if faults:
            raise InputError(faults)
