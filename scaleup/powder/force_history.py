"""The whole force of one compression, from the first touch to the last, as a gauge would log it."""

from __future__ import annotations

import numpy as np

from scaleup.arrays import Array
from scaleup.powder.charge import Charge
from scaleup.powder.compression import left_by_precompression, press_to
from scaleup.powder.law import Powder
from scaleup.powder.stroke_solver import Squeeze, integrate
from scaleup.presses.press import Press, Setting
from scaleup.presses.pulse_shapes import ForcePulse

FLANK_POINTS = 40
"""Points of either flank below where the path is integrated."""


def whole_pulse(
    press: Press,
    powder: Powder,
    charge: Charge,
    pressure: float,
    setting: Setting,
    pre_share: float = 0.0,
) -> ForcePulse:
    """Return force in N against time in s of the main pulse, for a powder of one draw.

    `pressure` is its peak in MPa, `pre_share` a precompression as a share of it.

    Above about a third of the peak it is the solved path. Below it pressure over state is what it
    is where the path begins, and the powder only springs back once the path has ended.

    Examples
    --------
    >>> from scaleup.powder.hardening import Heckel
    >>> from scaleup.presses.rotary import RollerContact, RotaryPress
    >>> one, soft = np.ones(1), Heckel(np.array([120.0]), np.array([0.6]))
    >>> powder = Powder(soft, 0.05 * one, 400.0 * one, 0.0 * one, 0.0 * one)
    >>> contact = RollerContact(410.0, 125.0, 15.875, 9.525)
    >>> press, charge = RotaryPress(contact, None, 1.0 / 160e3), Charge(400.0, 1.55, 78.54)
    >>> pulse = whole_pulse(press, powder, charge, 150.0, Setting(speed=40.0))
    >>> round(float(pulse.force.max()) / 78.54, 1), pulse.force[[0, -1]].tolist()
    (150.0, [0.0, 0.0])
    """
    motion = press.motion(pressure * charge.tip_area, setting)
    if isinstance(motion, ForcePulse):
        return motion
    compliance = press.compliance * charge.tip_area
    peak = np.array([pressure])
    left, _ = left_by_precompression(press, powder, charge, peak, setting, pre_share)
    before = np.zeros(1) if left is None else left
    pulse = press_to(motion, powder, charge, peak, compliance, before)
    squeeze = Squeeze(
        powder, charge, motion, compliance, powder.weakening(pulse.effective_dwell), before
    )
    path = integrate(squeeze, pulse.separation, peak)
    inside = np.exp(path.log_pressure[:, 0])
    separation = float(pulse.separation[0])
    up = np.linspace(0.0, inside[0], FLANK_POINTS, endpoint=False)
    closing = _moments(squeeze, up, np.maximum(up / path.rate_stress[0], before[0]), separation)
    down = np.linspace(inside[-1], 0.0, FLANK_POINTS + 1)[1:]
    opening = _moments(squeeze, down, np.full(down.size, path.static_pressure[0]), separation)
    time = np.concatenate([-closing, path.time, opening])
    force = np.concatenate([up, inside, down]) * charge.tip_area
    kept = np.concatenate([[True], np.diff(time) > 0.0])
    return ForcePulse(time[kept] - time[0], force[kept])


def _moments(squeeze: Squeeze, pressure: Array, state: Array, separation: float) -> Array:
    """Return how far in s from dead centre powder of these states has these pressures in MPa."""
    powder, charge = squeeze.powder, squeeze.charge
    level = np.concatenate([powder.hardening.densification(each[None]) for each in state])
    level = level + pressure / powder.elastic
    apart = charge.separation(level) - squeeze.compliance * pressure - separation
    return squeeze.stroke.closing_time(np.maximum(apart, 0.0))
