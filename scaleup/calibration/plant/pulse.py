"""The measured pulse: what logs of the press say of its dwell, beside its geometry."""

from __future__ import annotations

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.logged_pulses import LoggedPulse
from scaleup.calibration.plant.pulse_ratio import pulse_ratio
from scaleup.calibration.plant.term import Term
from scaleup.sentence import Fact, Sentence

NAME, LABEL = "pulse", "measured pulse"


def measured_pulse(logs: tuple[LoggedPulse, ...], ratios: Array, score: Array) -> Term:
    """Return what logs of the production press add.

    Parameters
    ----------
    logs
        At least one.
    ratios
        ln of logged over solved dwell, shape (logs, draws).
    score
        Standard normal numbers, shape (draws,).
    """
    of = pulse_ratio(logs, ratios, score)
    told = Sentence(
        "effective dwell {ratio:.2f} times that of the profile's geometry, by {count} logged at "
        "{speeds}; ±{spread:%} there (one standard deviation), more at other speeds and forces",
        ratio=float(np.exp(np.median(ratios))),
        count=names_of(logs),
        speeds=_speeds(logs),
        spread=of.own_spread,
    )
    return Term(NAME, LABEL, "measured", told, log_dwell=of)


def names_of(logs: tuple[LoggedPulse, ...]) -> str:
    """Return which logs there are; many are counted.

    >>> from scaleup.presses.pulse_shapes import ForcePulse
    >>> flat = ForcePulse(np.array([0.0, 1.0]), np.array([1e4, 0.0]))
    >>> names_of((LoggedPulse("run P1", 30.0, 150.0, flat),))
    'run P1'
    """
    names = list(dict.fromkeys(log.name for log in logs))
    return ", ".join(names) if len(names) <= 3 else f"{len(logs)} compressions"


def _speeds(logs: tuple[LoggedPulse, ...]) -> Sentence:
    speeds = sorted({log.speed for log in logs})
    if len(speeds) == 1:
        return Sentence("{speed}", speed=Fact(speeds[0], "rpm"))
    return Sentence(
        "{slowest} to {fastest}", slowest=Fact(speeds[0], "rpm"), fastest=Fact(speeds[-1], "rpm")
    )
