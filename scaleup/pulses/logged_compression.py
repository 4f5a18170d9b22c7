"""One compression of a log, as a run of a study or a press profile names it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from scaleup.arrays import Array
from scaleup.errors import Fault, InputError
from scaleup.io.logs import Log, open_log
from scaleup.pulses.block import Shape
from scaleup.pulses.finder import Finder
from scaleup.pulses.measuring import Wanted, measured
from scaleup.pulses.pulses_found import Pulses
from scaleup.short_repr import short_repr

HELD = 200
"""Compressions of a log whose samples are held, so that runs of one log read it once."""
POINTS = 400
"""Points that a pulse is thinned to; between them it is straight."""


@short_repr
@dataclass(frozen=True)
class Compression:
    """One logged compression, the zero around it taken off."""

    time: Array
    """s, shape (points,), thinned where the force hardly changes."""
    force: Array
    """N, not below 0."""
    peak: float
    """N."""
    in_die: float | None
    """Least distance of the tips in mm, deflection allowed for; None without a position."""
    hold_time: Array
    """s from the beginning of the hold, shape (samples,); empty if nothing was held."""
    hold_force: Array
    """N."""


def compression_of(log: Log, number: int | None, compliance: float | None) -> Compression:
    """Return one compression of a log.

    Parameters
    ----------
    log
        As opened by `scaleup.io.logs.open_log`.
    number
        Which one, counted from 1 in the order of time; None where there is only one.
    compliance
        mm/N by which the press gives way, for the thickness in the die; None if not known.

    Raises
    ------
    InputError
        If the log cannot be read, has no such compression, or does not allow to measure it.
    """
    stat = log.path.stat()
    state = (stat.st_mtime_ns, stat.st_size)
    place = 0 if number is None else number - 1
    first = place // HELD * HELD
    pulses, shapes = _measured(log.path, log.shown, state, first, compliance)
    if pulses.count == 0:
        raise InputError(Fault(log.shown, "column force", "no compression", "a logged pulse"))
    if number is None and pulses.count > 1:
        found = f"{pulses.count} compressions"
        mend = "Say which: a column compression in the run table, or the key in the profile."
        raise InputError(Fault(log.shown, "", found, "one, or the number of one", mend))
    if place >= pulses.count:
        allowed = f"1 to {pulses.count}, as many as there are"
        raise InputError(Fault(log.shown, "", f"compression {number}", allowed))
    if np.isnan(pulses.peak[place]):
        found = f"compression {place + 1}, {_why_not(pulses, place)}"
        allowed = "a compression that can be measured (see scaleup record)"
        raise InputError(Fault(log.shown, "", found, allowed))
    return _compression(shapes[place - first], pulses, place)


@lru_cache(maxsize=16)
def _measured(
    path: Path,
    shown: str,
    state: tuple[int, int],  # noqa: ARG001  a changed file is read again
    first: int,
    compliance: float | None,
) -> tuple[Pulses, tuple[Shape, ...]]:
    """Return all compressions of a log, read once in pieces, and some shapes from one on."""
    wanted = Wanted(
        lambda time, _: np.zeros(time.shape[1]), compliance=compliance, first_shape=first,
        shapes=HELD,
    )  # fmt: skip
    pulses, shapes = measured(Finder(open_log(path, shown)), wanted)
    return pulses, tuple(shapes)


def _why_not(pulses: Pulses, place: int) -> str:
    if pulses.clipped[place]:
        return "cut off at the gauge's range"
    if np.isnan(pulses.zero[place]):
        return "whose zero is not seen"
    if pulses.meeting[place] > 0.0:
        return "that runs into another"
    return "with samples missing" if pulses.gap[place] else "too noisy"


def _compression(shape: Shape, pulses: Pulses, place: int) -> Compression:
    peak, in_die = float(pulses.peak[place]), float(pulses.in_die[place])
    force = np.clip(shape.force, 0.0, peak)
    time, thin = thinned(shape.time, force)
    hold = np.zeros(0), np.zeros(0)
    if not np.isnan(pulses.hold[place]):
        begin = float(pulses.moment[place])
        held = (shape.time >= begin) & (shape.time <= begin + float(pulses.hold[place]))
        hold = shape.time[held] - begin, shape.force[held]
    return Compression(time, thin, peak, None if np.isnan(in_die) else in_die, *hold)


def thinned(time: Array, force: Array) -> tuple[Array, Array]:
    """Return at most so many points of a pulse, denser where the force changes.

    Points are set at equal steps of a path that adds the change of force (as a share of the peak)
    to the passing of time (as a share of the time above 90 %, whose neighbourhood matters most).
    """
    if time.size <= POINTS:
        return time, force
    share = force / force.max()
    near = share > 0.5
    whole = float(time[near][-1] - time[near][0]) if near.sum() > 1 else float(time[-1] - time[0])
    near_top = 0.5 * (near[1:] | near[:-1])
    path = np.abs(np.diff(share)) + near_top * np.diff(time) / whole * 4.0
    along = np.concatenate([[0.0], np.cumsum(path + 1e-9)])
    wanted = np.linspace(0.0, along[-1], POINTS)
    places = np.unique(np.searchsorted(along, wanted).clip(0, time.size - 1))
    places = np.union1d(places, [0, int(force.argmax()), time.size - 1])
    return time[places], force[places]
