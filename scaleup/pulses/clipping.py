"""Tops that are cut off at the end of a gauge's or a converter's range, in a log without noise.

Noise leaves no samples equal, so in a noisy log equal samples at the top tell by themselves.
Without noise they may as well be a round top on a coarse converter, or a force that is held.
"""

from __future__ import annotations

import numpy as np

from scaleup.arrays import Array, Flags, Places

RUN = 5
"""Equal samples at the top of a compression from which it may be cut off."""
MANY = 3
"""Compressions that end at one and the same force, to the last digit."""
SHARP = 3.0
"""How many times as far the force falls next to the equal samples as a round top would."""
NEXT = 2
"""Samples from the last equal one at which that is seen: the very next may lie just below."""
HOLD = 0.2
"""s; a force that is equal for longer may be held."""
STRAIGHT = 0.004
"""Share of the time from 10 to 95 % of the top by which a flank is off a line, unless the force is
led to a set value along one. Each is a judgement of this program."""
LEVELS = np.linspace(0.1, 0.95, 5)


def cut_off(
    time: Array,
    force: Array,
    first: Places,
    stop: Places,
    some: Places,
    zero: float,
    quantum: float,
) -> Flags:
    """Return which compressions of a log without noise are cut off, shape of `some`.

    They are where `MANY` compressions end at the highest force of the stretch, each in `RUN` equal
    samples or more that are reached and left at full slope, within `HOLD`, by flanks that bend.

    Parameters
    ----------
    time, force
        A stretch of a log in s and N as logged, shape (samples,).
    first, stop
        Where each compression begins and ends in them, shape (compressions,).
    some
        Those that are asked about.
    zero
        Force of the idle press, N.
    quantum
        Step of the converter, N.

    Examples
    --------
    >>> time = np.arange(603.0) * 1e-4
    >>> force = np.minimum(12e3 * np.abs(np.sin(np.pi * time / 20.1e-3)), 10e3)
    >>> first = np.array([0, 201, 402])
    >>> cut_off(time, force, first, first + 201, np.arange(3), 0.0, 0.1)
    array([ True,  True,  True])
    """
    tops = np.maximum.reduceat(force, np.column_stack([first, stop - 1]).ravel())[::2]
    ceiling = float(tops.max())
    if int((tops == ceiling).sum()) < MANY:
        return np.zeros(some.size, dtype=bool)
    begin = int(first[some[0]])
    step = quantum if _in_steps(force[begin : int(stop[some[0]])] - ceiling, quantum) else 0.0
    found = []
    for each in some:
        part = slice(int(first[each]), int(stop[each]))
        above = force[part] - zero
        sharp = tops[each] == ceiling and _sharp(time[part], above, step)
        found.append(sharp and not _straight(time[part], above, step))
    return np.array(found, dtype=bool)


def _in_steps(force: Array, quantum: float) -> bool:
    """Return whether samples differ by whole steps; else the converter's step is finer."""
    if quantum <= 0.0:
        return False
    steps = force / quantum
    return float(np.abs(steps - np.rint(steps)).max()) < 0.01


def _sharp(time: Array, force: Array, step: float) -> bool:
    """Return whether equal samples are one run, short, and left at full slope on either side.

    A round top of n equal samples has fallen by (1 + 2 k/n)² steps of the converter k samples on.
    """
    equal = np.flatnonzero(force == force.max())
    first, last = int(equal[0]), int(equal[-1])
    length = last - first + 1
    outside = first < NEXT or last >= force.size - NEXT
    if outside or not RUN <= length == equal.size or time[last] - time[first] > HOLD:
        return False
    edge = max(force[first - NEXT], force[last + NEXT])
    return bool(force.max() - edge >= SHARP * step * (1.0 + 2.0 * NEXT / length) ** 2)


def _straight(time: Array, force: Array, step: float) -> bool:
    """Return whether both flanks of a compression are lines."""
    highest = float(force.max())
    place = int(force.argmax())
    allowed = STRAIGHT + 2.0 * step / highest
    flanks = (time[: place + 1], force[: place + 1]), (-time[place:][::-1], force[place:][::-1])
    for times, forces in flanks:
        passed = np.array([_crossed(times, forces, share * highest) for share in LEVELS])
        line = passed[0] + (passed[-1] - passed[0]) * (LEVELS - LEVELS[0]) / (
            LEVELS[-1] - LEVELS[0]
        )
        if np.abs(passed - line).max() > allowed * (passed[-1] - passed[0]):
            return False
    return True


def _crossed(time: Array, force: Array, level: float) -> float:
    """Return when a rising flank passes a level for the last time, in s."""
    below = np.flatnonzero(force < level)
    if below.size == 0 or below[-1] == force.size - 1:
        return float(time[0])
    at = int(below[-1])
    share = (level - force[at]) / (force[at + 1] - force[at])
    return float(time[at] + share * (time[at + 1] - time[at]))
