"""How close the tips come under load: the least distance along the whole path of a pulse.

Peak pressure and final state never meet: the powder still flows after the pressure has peaked, so
the tips are closest later, where the flow that is left closes them as quickly as the unloading
opens them.
"""

from __future__ import annotations

from math import ceil

import numpy as np

from scaleup.arrays import Array
from scaleup.powder.charge import Charge
from scaleup.powder.law import Powder
from scaleup.powder.rate import mean_power
from scaleup.powder.stroke_solver import EXIT_STEPS, Squeeze, Trajectory
from scaleup.presses.pulse_shapes import ForcePulse

MOMENTS = 32
"""Moments after the peak of a force at which the powder is looked at, at least."""


def least_separation(squeeze: Squeeze, path: Trajectory, separation: Array) -> Array:
    """Return the least distance in mm between the tip edges on a path, shape (draws,).

    The tips are `separation` apart at dead centre without load. They come no closer than where
    they stop closing, so the way out is all that is looked at: there the pressure may fall, and
    the press spring back, faster than the tips open.

    Examples
    --------
    >>> from scaleup.powder.hardening import Heckel
    >>> from scaleup.powder.stroke_solver import integrate
    >>> from scaleup.presses.rotary import RollerContact
    >>> one, soft = np.ones(1), Heckel(np.array([120.0]), np.array([0.6]))
    >>> powder = Powder(soft, 0.05 * one, 400.0 * one, 0.0 * one, 0.0 * one)
    >>> stroke = RollerContact(410.0, 125.0, 15.875, 9.525).stroke(40.0)
    >>> gap = Squeeze(powder, Charge(400.0, 1.55, 78.54), stroke, 5e-4, one, 0.0 * one)
    >>> path = integrate(gap, 3.78 * one, 150.0 * one)
    >>> give = float(least_separation(gap, path, 3.78 * one)[0]) - 3.78
    >>> give < 5e-4 * float(np.exp(path.log_pressure.max()))  # less than under the peak
    True
    """
    out = slice(-EXIT_STEPS - 1, None)
    opening = squeeze.stroke.opening(path.time[out])
    apart = opening[:, None] + squeeze.compliance * np.exp(path.log_pressure[out])
    least: Array = separation + apart.min(axis=0)
    return least


def densest_under_force(
    pulse: ForcePulse, powder: Powder, pressure: Array, state: Array, dwell: Array
) -> Array:
    """Return the highest D of the powder under a prescribed force, shape (draws,).

    ``D(x) + P/K`` at its highest; with the dwell r that is still to come, the state a moment
    before the end is ``x = state (1 - r/dwell)^(m/(1+m))``. Before the peak both parts are smaller.

    Parameters
    ----------
    pulse
        Force against time.
    powder
        What is compressed.
    pressure
        Peak pressure in MPa, shape (draws,).
    state, dwell
        State in MPa and effective dwell in s after the whole pulse, shape (draws,).

    Examples
    --------
    >>> from scaleup.powder.hardening import Heckel
    >>> one, soft = np.ones(1), Heckel(np.array([120.0]), np.array([0.6]))
    >>> powder = Powder(soft, 0.05 * one, 400.0 * one, 0.0 * one, 0.0 * one)
    >>> pulse = ForcePulse(np.array([0.0, 1.0, 2.0]), np.array([0.0, 10e3, 0.0]))
    >>> dwell, pressure = np.array([2.0 * 0.05 / 1.05]), np.array([120.0])
    >>> state = powder.static_pressure(pressure, dwell)
    >>> together = soft.densification(state) + pressure / powder.elastic
    >>> bool(densest_under_force(pulse, powder, pressure, state, dwell)[0] < together[0])
    True
    """
    share, grown = grown_states(pulse, powder.rate_exponent, dwell)
    level = powder.hardening.densification(state * grown)
    densest: Array = (level + share * (pressure / powder.elastic)).max(axis=0)
    return densest


def grown_states(pulse: ForcePulse, m: Array, dwell: Array) -> tuple[Array, Array]:
    """Return moments of a pulse from its peak on: the force, and the state as a share of the last.

    Of shapes (moments, 1), a share of the peak, and (moments, draws); `m` is the rate exponent and
    `dwell` the effective dwell in s of the whole pulse, shape (draws,).

    Examples
    --------
    >>> pulse = ForcePulse(np.array([0.0, 1.0, 2.0]), np.array([0.0, 10e3, 0.0]))
    >>> share, grown = grown_states(pulse, np.array([0.25]), np.array([0.4]))
    >>> [round(float(each), 4) for each in (share[0, 0], grown[0, 0], share[-1, 0], grown[-1, 0])]
    [1.0, 0.8706, 0.0, 1.0]
    """
    time, share = _after_the_peak(pulse)
    parts = np.diff(time)[:, None] * mean_power(share[:, None], m)
    to_come = np.zeros((time.size, m.size))
    to_come[:-1] = parts[::-1].cumsum(axis=0)[::-1]
    done = np.maximum(1.0 - to_come / np.maximum(dwell, 1e-300), 0.0)
    return share[:, None], done ** (m / (1.0 + m))


def _after_the_peak(pulse: ForcePulse) -> tuple[Array, Array]:
    """Return times in s from the peak on, close where a fall begins, with the force as a share."""
    share = pulse.share()
    top = int(share.argmax())
    time, share = pulse.time[top:], share[top:]
    if time.size == 1:
        return time, share
    pieces = ceil(MOMENTS / (time.size - 1))
    within = (np.arange(pieces) / pieces) ** 3
    fine = (time[:-1, None] + np.diff(time)[:, None] * within).ravel()
    fine = np.append(fine, time[-1])
    return fine, np.interp(fine, time, share)


def elastic_share(
    powder: Powder, charge: Charge, in_die: Array, state: Array, pressure: Array
) -> Array:
    """Return the share of ``P/K`` by which the powder in the die is denser than the tablet.

    1 if peak pressure and final state met. ``D(in die) = D(state) + share P/K``, P the peak
    pressure in MPa and `in_die` the least distance in mm between the tip edges; shape (draws,).

    Examples
    --------
    >>> from scaleup.powder.hardening import Heckel
    >>> one, soft = np.ones(1), Heckel(np.array([120.0]), np.array([0.6]))
    >>> powder = Powder(soft, 0.05 * one, 400.0 * one, 0.0 * one, 0.0 * one)
    >>> charge, state, peak = Charge(400.0, 1.55, 78.54), 100.0 * one, 150.0 * one
    >>> in_die = charge.separation(soft.densification(state) + 0.9 * peak / 400.0)
    >>> round(float(elastic_share(powder, charge, in_die, state, peak)[0]), 6)
    0.9
    """
    denser = charge.densification(in_die) - powder.hardening.densification(state)
    share: Array = denser * powder.elastic / pressure
    return share
