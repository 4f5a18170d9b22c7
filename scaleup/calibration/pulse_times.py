"""Times of a pulse that a log and a solver both have: above 90 %, of rise, of contact."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from scaleup.arrays import Array
from scaleup.powder.compression import Pulse
from scaleup.pulses.flanks import Flank, foot_of

FigureOfPulse = Literal["above_90", "rise", "contact"]
LABELS: dict[FigureOfPulse, str] = {
    "above_90": "time above 90 %",
    "rise": "rise from 10 to 90 %",
    "contact": "contact time",
}
FOOT = 0.02
"""Share of the peak from which, twice and four times which, flanks are prolonged to no force."""


def figures_of(time: Array, force: Array) -> dict[FigureOfPulse, float]:
    """Return time above 90 %, rise from 10 to 90 % and contact time in s of one pulse.

    `time` in s and `force` in N have shape (n,).

    Examples
    --------
    >>> time, force = np.linspace(0.0, 0.02, 401), np.linspace(-1.0, 1.0, 401)
    >>> found = figures_of(time, 1e4 * (1.0 - np.abs(force)))
    >>> {name: round(1e3 * value, 2) for name, value in found.items()}
    {'above_90': 2.0, 'rise': 8.0, 'contact': 20.0}
    """
    row, none = force[None, :] / force.max(), np.zeros(1)
    tenth, most, foot = (np.array([each]) for each in (0.1, 0.9, FOOT))
    rise, fall = Flank.up(time[None, :], row), Flank.down(time[None, :], row)
    up, down = rise.at(most).moment, -fall.at(most).moment
    (begin, _), (end, _) = (foot_of(flank, foot, none) for flank in (rise, fall))
    return {
        "above_90": float((down - up)[0]),
        "rise": float((up - rise.at(tenth).moment)[0]),
        "contact": float(-(end + begin)[0]),
    }


def times_of(pulse: Pulse) -> dict[FigureOfPulse, Array]:
    """Return the times in s of a solved pulse that a log is held against."""
    return {
        "above_90": pulse.time_above_90,
        "rise": pulse.rise_time,
        "contact": pulse.contact_time,
    }


def time_factors(
    shares: Array, logged: Sequence[Mapping[FigureOfPulse, float]], solved: Sequence[Pulse]
) -> dict[FigureOfPulse, Array]:
    """Return the mean of ln of logged over solved times, as factors of shape (draws,).

    `shares` (logs,) say how much each log counts and add up to 1.
    """
    apart = [
        {name: np.log(seen[name] / time) for name, time in times_of(pulse).items()}
        for seen, pulse in zip(logged, solved, strict=True)
    ]
    return {name: np.exp(shares @ np.array([each[name] for each in apart])) for name in LABELS}


def with_times(pulse: Pulse, factors: Mapping[FigureOfPulse, Array], dwell: Array) -> Pulse:
    """Return a solved pulse with its times multiplied, and an effective dwell in s of its own.

    The tips move as they were solved; `factors` and `dwell` have shape (draws,).
    """
    rise = factors["rise"]
    return replace(
        pulse,
        effective_dwell=dwell,
        time_above_90=pulse.time_above_90 * factors["above_90"],
        rise_time=pulse.rise_time * rise,
        strain_rate=pulse.strain_rate / rise,
        contact_time=pulse.contact_time * factors["contact"],
    )
