"""Figures of logged pulses held against those that the geometry of the press gives."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.logged_pulses import LoggedPulse, shares_of_logs
from scaleup.calibration.plant.pulse import names_of
from scaleup.calibration.pulse_times import (
    FigureOfPulse,
    figures_of,
    time_factors,
    times_of,
    with_times,
)
from scaleup.model.estimate import BAND
from scaleup.powder.compression import Pulse, compress
from scaleup.presses.press import Setting
from scaleup.sentence import Fact, Sentence
from scaleup.short_repr import short_repr

if TYPE_CHECKING:
    from scaleup.transfer.process_model import ProcessModel

ALLOWED: dict[FigureOfPulse, float] = {"above_90": 0.10, "rise": 0.15, "contact": 0.25}
"""By how much of itself a figure may lie outside the band that the geometry gives over the draws of
the powder (judgements of this program; the contact ends in loose powder, which is known least)."""
ALLOWED_OTHER: dict[FigureOfPulse, float] = {"above_90": 0.15, "rise": 0.6, "contact": 0.5}
"""The same of a log that may be of another powder, on which the flanks hang most: over the powders
of the examples 3, 21 and 15 %, one standard deviation (judgements of this program)."""
ALIKE = 0.05
"""Share by which one factor on all three times may miss the bands of the geometry for all to be off
alike (a judgement of this program)."""
MUCH_LESS = 0.5
"""Share of the departure of one figure below which another is taken to agree (a judgement of this
program)."""
SOLVED = 1e-3
"""Share by which the peak of a pulse solved for its figures may miss that of the log."""


@dataclass(frozen=True)
class HeldFigure:
    """One figure of a logged pulse beside what the geometry gives for the draws of the powder."""

    name: FigureOfPulse
    logged: float
    """s."""
    low: float
    middle: float
    high: float
    allowed: float
    """By which share of itself it may lie outside."""

    @property
    def ratio(self) -> float:
        """Return ln of the logged figure over the middle of those from geometry."""
        return float(np.log(self.logged / self.middle))

    @property
    def excess(self) -> float:
        """Return by which share it lies outside the band and what is allowed, 0 if it does not."""
        over = max(self.logged / self.high, self.low / self.logged) - 1.0
        return max(over - self.allowed, 0.0)


@short_repr
@dataclass(frozen=True)
class HeldLog:
    """One logged pulse beside the one of the geometry."""

    log: LoggedPulse
    figures: tuple[HeldFigure, ...]
    dwell_ratio: float
    """Effective dwell of the log over that of the geometry, in the middle of the draws."""

    def of(self, name: FigureOfPulse) -> HeldFigure:
        """Return one figure."""
        return next(each for each in self.figures if each.name == name)

    @property
    def excess(self) -> float:
        """Return by how much the worst figure departs, 0 where all agree."""
        return max(each.excess for each in self.figures)

    @property
    def alike(self) -> bool:
        """Return whether one factor on all times brings each into the band of the geometry."""
        least, most = self.factors
        return least <= (1.0 + ALIKE) * most

    @property
    def factors(self) -> tuple[float, float]:
        """Return the least and the largest factor on all times that the log can be of."""
        least = max(each.logged / each.high for each in self.figures)
        return least, min(each.logged / each.low for each in self.figures)

    @property
    def only_the_top(self) -> bool:
        """Return whether the time above 90 % is off by much more than the rise is."""
        return abs(self.of("rise").ratio) < MUCH_LESS * abs(self.of("above_90").ratio)

    @property
    def only_the_flanks(self) -> bool:
        """Return whether the rise is off by much more than the time above 90 % is."""
        return abs(self.of("above_90").ratio) < MUCH_LESS * abs(self.of("rise").ratio)


@dataclass(frozen=True)
class LoggedFigures:
    """The logs of a press, each with the pulse that its geometry gives there."""

    logs: tuple[LoggedPulse, ...]
    measured: tuple[dict[FigureOfPulse, float], ...]
    solved: tuple[Pulse, ...]
    """Of the draws shown."""
    dwell: Array
    """Effective dwells in s of the logs, shape (logs, draws shown)."""

    @classmethod
    def of(cls, process: ProcessModel) -> LoggedFigures:
        """Return those of a press with the fitted powder."""
        shown = process.shown
        powder, logs = process.fit.powder.chosen(shown), process.logs.logs
        acting = np.exp(process.plant.log_pressure + np.zeros(process.fit.powder.draws))[shown]
        solved = tuple(
            compress(
                process.press, powder, process.charge, process.mapped(log.pressure) * acting,
                Setting(speed=log.speed), log.pre_share, SOLVED,
            )
            for log in logs
        )  # fmt: skip
        measured = tuple(figures_of(log.motion.time, log.motion.force) for log in logs)
        return cls(logs, measured, solved, process.logs.dwell(powder.rate_exponent))

    @cached_property
    def held(self) -> tuple[HeldLog, ...]:
        """Return every log held against the geometry."""
        return tuple(self._held())

    def _held(self) -> Iterator[HeldLog]:
        for log, measured, pulse, dwell in zip(
            self.logs, self.measured, self.solved, self.dwell, strict=True
        ):
            allowed = ALLOWED_OTHER if log.other_powder else ALLOWED
            figures = tuple(
                _beside(name, measured[name], times, allowed[name])
                for name, times in times_of(pulse).items()
            )
            yield HeldLog(log, figures, float(np.median(dwell / pulse.effective_dwell)))

    @property
    def told(self) -> Sentence:
        """Return in one line whether the logs agree with the geometry, by the worst of them."""
        worst = max(self.held, key=lambda held: held.excess)
        above = worst.of("above_90")
        return Sentence(
            "logged pulse of {names} {agrees} with the geometry of the profile: {above} above 90 % "
            "of its peak against {low} to {high}; up to {allowed:%} outside counts as agreement",
            allowed=above.allowed,
            names=names_of(self.logs),
            agrees="in conflict" if worst.excess > 0.0 else "in agreement",
            above=Fact(above.logged, "s"),
            low=Fact(above.low, "s"),
            high=Fact(above.high, "s"),
        )

    def as_logged(self, pulse: Pulse, dwell: Array, pressure: float, speed: float) -> Pulse:
        """Return a solved pulse of the draws shown with the times that the logs give it.

        `dwell` is its effective dwell in s, by the logs; pressure in MPa and speed in rpm say how
        much each log counts.
        """
        shares, _ = shares_of_logs(self.logs, pressure, speed)
        return with_times(pulse, time_factors(shares, self.measured, self.solved), dwell)


def _beside(name: FigureOfPulse, logged: float, solved: Array, allowed: float) -> HeldFigure:
    low, middle, high = np.quantile(solved, [(1 - BAND) / 2, 0.5, (1 + BAND) / 2])
    return HeldFigure(name, logged, float(low), float(middle), float(high), allowed)
