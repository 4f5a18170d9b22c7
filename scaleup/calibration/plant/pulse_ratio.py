"""The effective dwell of a press by its logs, over that which its geometry gives."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from scaleup.arrays import Array, Places
from scaleup.calibration.logged_pulses import BELIEF, LoggedPulse, shares_of_logs
from scaleup.short_repr import short_repr


@short_repr
@dataclass(frozen=True)
class PulseRatio:
    """ln of the effective dwell of a press over that of its geometry, at any pressure and speed."""

    logs: tuple[LoggedPulse, ...]
    ratios: Array
    """ln of the logged dwell over that of the geometry at the log's force and speed, shape
    (logs, draws)."""
    scatter: float
    """Variances of one log by what all show of their scatter, over those it is taken to have."""
    score: Array
    """Standard normal numbers, shape (draws,)."""

    def __call__(self, pressure: Array, speed: float) -> Array:
        """Return it at a pressure in MPa and a speed in rpm.

        The pressure has shape () or (draws,), or (pressures, 1) for a column of pressures that
        every draw sees; the result has shape (draws,) or (pressures, draws).
        """
        share, far = shares_of_logs(self.logs, pressure, speed)
        own = self.scatter * np.array([log.spread**2 for log in self.logs])
        own = own.reshape((-1,) + (1,) * (far.ndim - 1))
        spread = np.sqrt(np.sum(share**2 * (own + far), axis=0))
        total = spread * self.score
        for each, ratio in zip(share, self.ratios, strict=True):
            total = total + each * ratio
        return np.asarray(total)

    @property
    def own_spread(self) -> float:
        """Return its standard deviation where the logs were taken, all of them counting alike."""
        spreads = np.array([log.spread for log in self.logs])
        return float(np.sqrt(self.scatter * np.mean(spreads**2) / len(self.logs)))

    def chosen(self, which: Places) -> PulseRatio:
        """Return it for some of the draws."""
        return replace(self, ratios=self.ratios[:, which], score=self.score[which])

    def of_each(self, change: Callable[[Array], Array]) -> PulseRatio:
        """Return it with a linear change made to every ratio and to the score."""
        ratios = np.array([change(each) for each in self.ratios])
        return replace(self, ratios=ratios, score=change(self.score))


def pulse_ratio(logs: tuple[LoggedPulse, ...], ratios: Array, score: Array) -> PulseRatio:
    """Return the ratio of a press from its logs.

    The scatter of the logs about their mean counts beside a usual one worth three logs.

    Parameters
    ----------
    logs
        At least one.
    ratios
        ln of logged over solved dwell, shape (logs, draws).
    score
        Standard normal numbers, shape (draws,).

    Examples
    --------
    >>> from scaleup.presses.pulse_shapes import ForcePulse
    >>> flat = ForcePulse(np.array([0.0, 1.0, 2.0]), np.array([0.0, 1e4, 0.0]))
    >>> logs = (LoggedPulse("run P1", 30.0, 150.0, flat),)
    >>> found = pulse_ratio(logs, np.log(np.full((1, 2), 0.5)), np.zeros(2))
    >>> np.exp(found(np.array(150.0), 60.0))
    array([0.5, 0.5])
    """
    middle = np.median(ratios, axis=1) / np.array([log.spread for log in logs])
    squares = float(np.sum((middle - middle.mean()) ** 2))
    scatter = (BELIEF + squares) / (BELIEF + len(logs) - 1)
    return PulseRatio(logs, ratios, scatter, score)
