"""One tablet compressed on any press: the pulse it feels and the state it is left in."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import singledispatch
from typing import Any

import numpy as np

from scaleup.arrays import Array, Places
from scaleup.powder.charge import Charge
from scaleup.powder.in_die import densest_under_force, least_separation
from scaleup.powder.law import Powder
from scaleup.powder.measures import (
    closing_strain_rate,
    crossings,
    effective_dwell_of,
    interpolated_peak,
)
from scaleup.powder.precompression import combined, dwell_before, precompression_counts, whole_dwell
from scaleup.powder.rate import effective_dwell
from scaleup.powder.stroke_solver import Squeeze, integrate
from scaleup.presses.press import Press, Setting
from scaleup.presses.pulse_shapes import ForcePulse, Motion, Stroke
from scaleup.short_repr import short_repr

CONVERGED = 1e-6
ROUNDS = 40
LEAST_OWN = 1e-6
"""Share of the whole dwell that a pulse after another is taken to have of its own at least."""
ONLY_ITS_DWELL = 0.1
"""Share by which the peak of a precompression that adds nothing to the state may be off: only its
dwell is used, which hardly changes with the peak."""
TOO_SMALL = 1e-9
"""Share of the pressure below which two peaks tell nothing about a slope."""


@short_repr
@dataclass(frozen=True)
class Pulse:
    """What one compression does, every figure an array of shape (draws,)."""

    peak_pressure: Array
    """MPa."""
    static_pressure: Array
    """State of the powder afterwards, MPa."""
    effective_dwell: Array
    """s, of this pulse and any before it, referred to this peak."""
    time_above_90: Array
    """s."""
    contact_time: Array
    """s from first to last pressure of this pulse, the powder lying as the pulse before left it."""
    rise_time: Array
    """s in which the pressure rises from 10 to 90 % of its peak."""
    strain_rate: Array
    """Mean axial strain rate in 1/s (logarithmic: of the ln of the distance of the tip edges) while
    the pressure rises from 10 to 90 % of its peak."""
    separation: Array
    """Distance in mm between the tip edges at dead centre, to set without load."""
    in_die: Array
    """Least distance in mm between the tip edges on the whole path, under load."""
    entry_opening: Array
    """mm by which the tips still stand open when they first press the powder."""
    pre_entry_opening: Array | None = None
    """The same under the precompression roller; None without precompression."""

    def chosen(self, which: Places) -> Pulse:
        """Return the pulse of some of the draws."""
        every = ((each.name, getattr(self, each.name)) for each in fields(self))
        some: dict[str, Any] = {name: None if each is None else each[which] for name, each in every}
        return Pulse(**some)


@singledispatch
def press_to(  # the signature of every motion; noqa on the arguments it does not use itself
    motion: Motion,
    powder: Powder,  # noqa: ARG001
    charge: Charge,  # noqa: ARG001
    pressure: Array,  # noqa: ARG001
    compliance: float = 0.0,  # noqa: ARG001
    before: Array | None = None,  # noqa: ARG001
    tolerance: float = CONVERGED,  # noqa: ARG001
    guess: Array | None = None,  # noqa: ARG001
) -> Pulse:
    """Return the pulse of this motion whose peak is a given pressure in MPa, shape (draws,).

    Parameters
    ----------
    motion
        A `Stroke` (the tip separation that gives the pressure is found) or a `ForcePulse`.
    powder, charge
        What is compressed.
    pressure
        Peak pressure in MPa, positive, shape (draws,).
    compliance
        mm by which the tips give way for each MPa.
    before
        State in MPa left by an earlier pulse, shape (draws,); none if absent.
    tolerance
        Share by which the peak may miss the pressure; the pulse reports the peak it has.
    guess
        About the effective dwell in s, shape (draws,), to begin the search with.

    Raises
    ------
    TypeError
        If the motion is neither.
    ArithmeticError
        If no separation gives the pressure.

    Examples
    --------
    >>> from scaleup.powder.hardening import Heckel
    >>> from scaleup.presses.rotary import RollerContact
    >>> one, soft = np.ones(1), Heckel(np.array([120.0]), np.array([0.6]))
    >>> powder = Powder(soft, 0.05 * one, 400.0 * one, 0.0 * one, 0.0 * one)
    >>> stroke = RollerContact(410.0, 125.0, 15.875, 9.525).stroke(40.0)
    >>> pulse = press_to(stroke, powder, Charge(400.0, 1.55, 78.54), np.array([150.0]))
    >>> round(float(pulse.separation[0]), 3), round(float(pulse.effective_dwell[0]) * 1e3, 2)
    (3.855, 6.6)
    """
    raise TypeError(f"not a motion: {motion!r}")


@press_to.register
def _press_stroke(
    motion: Stroke,
    powder: Powder,
    charge: Charge,
    pressure: Array,
    compliance: float = 0.0,
    before: Array | None = None,
    tolerance: float = CONVERGED,
    guess: Array | None = None,
) -> Pulse:
    before = np.zeros(powder.draws) if before is None else before
    dwell = guess
    if dwell is None:
        dwell = np.full(powder.draws, float(motion.closing_time(np.array(0.02))))
    state = combined(powder, powder.static_pressure(pressure, dwell), before)
    level = powder.hardening.densification(state) + pressure / powder.elastic
    separation = charge.separation(level) - compliance * pressure
    last: tuple[Array, Array] | None = None
    for _ in range(ROUNDS):
        squeeze = Squeeze(powder, charge, motion, compliance, powder.weakening(dwell), before)
        pulse = _measured(squeeze, separation, pressure)
        miss = pressure - pulse.peak_pressure
        # The dwell that the search was told of counts only through a change of the exponent.
        told = powder.rate_exponent * (powder.curvature != 0.0)
        off = np.abs(np.log(pulse.effective_dwell / dwell)) * told
        dwell = _at_the_peak_asked(powder, before, pulse, pressure)
        if np.max(np.abs(miss) / pressure) < tolerance and np.max(off) < tolerance:
            return pulse
        room = separation + compliance * pressure - charge.pore_free_separation
        # Not past the pore-free gap, and not so far open that the next pulse is none.
        step = np.clip(miss * _give(squeeze, pulse, last), -room, 0.5 * room)
        last = (separation, pulse.peak_pressure)
        separation = separation - step
    raise ArithmeticError("the tip separation for a pressure was not found")


def _at_the_peak_asked(powder: Powder, before: Array, pulse: Pulse, pressure: Array) -> Array:
    """Return the effective dwell in s as it is once the peak is the pressure asked for, in MPa.

    What an earlier pulse counts for goes with the peak to the power -1/m: told of a peak that
    misses by a few per cent it would drive the search to and fro.
    """
    whole = pulse.effective_dwell
    earlier = dwell_before(powder, before, pulse.peak_pressure * powder.weakening(whole))
    own = np.maximum(whole - earlier, LEAST_OWN * whole)
    return whole_dwell(powder, own, before, pressure)


def _give(squeeze: Squeeze, pulse: Pulse, last: tuple[Array, Array] | None) -> Array:
    """Return by how many mm the set separation is to fall for each MPa more at the peak.

    It lies between that of a powder that only springs and that of one that flows as well; the step
    before, where there was one, says where between.
    """
    powder, charge = squeeze.powder, squeeze.charge
    spread = charge.spread(charge.densification(pulse.in_die))
    spring = spread / powder.elastic + squeeze.compliance
    flow = pulse.static_pressure / ((1.0 + powder.rate_exponent) * pulse.peak_pressure)
    flowing = spring + spread * powder.hardening.slope(pulse.static_pressure) * flow
    if last is None:
        return flowing
    rise = pulse.peak_pressure - last[1]
    moved = np.abs(rise) > TOO_SMALL * pulse.peak_pressure
    seen = (last[0] - pulse.separation) / np.where(moved, rise, 1.0)
    return np.where(moved, np.clip(seen, spring, flowing), flowing)


def press_at(
    squeeze: Squeeze,
    separation: Array,
) -> Pulse:
    """Return the pulse of a stroke whose tips are set to a separation in mm, shape (draws,).

    Examples
    --------
    >>> from scaleup.powder.hardening import Heckel
    >>> from scaleup.presses.rotary import RollerContact
    >>> one, soft = np.ones(1), Heckel(np.array([120.0]), np.array([0.6]))
    >>> powder = Powder(soft, 0.05 * one, 400.0 * one, 0.0 * one, 0.0 * one)
    >>> stroke = RollerContact(410.0, 125.0, 15.875, 9.525).stroke(40.0)
    >>> gap = Squeeze(powder, Charge(400.0, 1.55, 78.54), stroke, 0.0, one, 0.0 * one)
    >>> round(float(press_at(gap, np.array([3.7])).peak_pressure[0]), 1)
    183.4
    """
    expected = _static_peak(squeeze, separation)
    return _measured(squeeze, separation, expected)


def _static_peak(squeeze: Squeeze, separation: Array) -> Array:
    """Return about the peak pressure in MPa at a separation, rate left aside (bisection)."""
    powder, charge = squeeze.powder, squeeze.charge
    low = np.full(powder.draws, 1e-6)
    high = np.full(powder.draws, 1e5)
    for _ in range(9):
        middle = np.sqrt(low * high)
        level = powder.hardening.densification(middle) + middle / powder.elastic
        loose = charge.separation(level) > separation + squeeze.compliance * middle
        low, high = np.where(loose, middle, low), np.where(loose, high, middle)
    between: Array = np.sqrt(low * high)
    return between


def _measured(squeeze: Squeeze, separation: Array, expected: Array) -> Pulse:
    """Return the pulse through a set separation, integrated and measured."""
    powder, charge, stroke = squeeze.powder, squeeze.charge, squeeze.stroke
    path = integrate(squeeze, separation, expected)
    peak = interpolated_peak(path.time, path.log_pressure)
    dwell = effective_dwell_of(path.time, path.log_pressure, peak, powder.rate_exponent)
    dwell = whole_dwell(powder, dwell, squeeze.before, peak)
    hardening = powder.hardening
    first = charge.separation(squeeze.rest()) - separation
    last = charge.separation(hardening.densification(path.static_pressure)) - separation
    contact = stroke.closing_time(np.maximum(first, 0.0)) + stroke.closing_time(
        np.maximum(last, 0.0)
    )
    early = path.rate_stress
    state_10 = np.maximum(0.1 * peak / early, squeeze.before)
    level_10 = hardening.densification(state_10) + 0.1 * peak / powder.elastic
    wide = charge.separation(level_10)
    opening_10 = wide - 0.1 * squeeze.compliance * peak - separation
    log_90 = np.log(0.9 * peak)
    time_90, end_90 = crossings(path.time, path.log_pressure, log_90)
    narrow = separation + stroke.opening(time_90) + 0.9 * squeeze.compliance * peak
    rise = time_90 + stroke.closing_time(opening_10)
    rate = closing_strain_rate(wide, narrow, rise)
    return Pulse(
        peak_pressure=peak,
        static_pressure=path.static_pressure,
        effective_dwell=dwell,
        time_above_90=end_90 - time_90,
        contact_time=contact,
        rise_time=rise,
        strain_rate=rate,
        separation=separation,
        in_die=least_separation(squeeze, path, separation),
        entry_opening=np.maximum(first, 0.0),
    )


@press_to.register
def _press_force(
    motion: ForcePulse,
    powder: Powder,
    charge: Charge,
    pressure: Array,
    compliance: float = 0.0,
    before: Array | None = None,
    tolerance: float = CONVERGED,  # noqa: ARG001  a prescribed force is met exactly
    guess: Array | None = None,  # noqa: ARG001
) -> Pulse:
    share, one = motion.share(), np.ones(powder.draws)
    dwell = np.asarray(effective_dwell(motion.time, share, powder.rate_exponent))
    if before is not None:
        dwell = whole_dwell(powder, dwell, before, pressure)
    before = 0.0 * one if before is None else before
    state = powder.static_pressure(pressure, dwell)
    in_die = charge.separation(densest_under_force(motion, powder, pressure, state, dwell))
    separation = in_die - compliance * pressure
    rest = powder.hardening.densification(before)
    time_90, end_90 = crossings(motion.time, share[:, None], np.array([0.9]))
    return Pulse(
        peak_pressure=pressure * one,
        static_pressure=state,
        effective_dwell=dwell,
        time_above_90=(end_90 - time_90) * one,
        contact_time=float(motion.time[-1] - motion.time[0]) * one,
        rise_time=(time_90 - crossings(motion.time, share[:, None], np.array([0.1]))[0]) * one,
        strain_rate=_force_strain_rate(motion, powder, charge, pressure, before),
        separation=separation,
        in_die=in_die,
        entry_opening=np.maximum(charge.separation(rest) - separation, 0.0),
    )


def _force_strain_rate(
    motion: ForcePulse, powder: Powder, charge: Charge, peak: Array, earlier: Array
) -> Array:
    """Return the mean strain rate in 1/s while the force rises from 10 to 90 % of its peak."""
    share = motion.share()
    times, walls = [], []
    for level in (0.1, 0.9):
        moment = float(crossings(motion.time, share[:, None], np.array([level]))[0][0])
        before = motion.time < moment
        time = np.append(motion.time[before], moment)
        part = np.append(share[before], level)
        dwell = np.asarray(effective_dwell(time, part, powder.rate_exponent))
        state = combined(powder, powder.static_pressure(level * peak, dwell), earlier)
        rest = powder.hardening.densification(state)
        walls.append(charge.separation(rest + level * peak / powder.elastic))
        times.append(moment)
    return closing_strain_rate(walls[0], walls[1], np.asarray(times[1] - times[0]))


def compress(
    press: Press,
    powder: Powder,
    charge: Charge,
    pressure: Array,
    setting: Setting,
    pre_share: float = 0.0,
    tolerance: float = CONVERGED,
    guess: Array | None = None,
) -> Pulse:
    """Return the pulse of a press at a peak pressure in MPa, precompression included.

    `guess` is about the effective dwell in s, if it is known, to begin the search with.
    `pre_share` is the precompression force as a share of the main force. The powder comes to the
    main roller as dense as precompression left it, however little that adds to the state; where
    only the dwell is wanted, `precompression_counts` says whether to ask for it.

    Examples
    --------
    >>> from scaleup.powder.hardening import Heckel
    >>> from scaleup.presses.rotary import RollerContact, RotaryPress
    >>> one, soft = np.ones(1), Heckel(np.array([120.0]), np.array([0.6]))
    >>> powder = Powder(soft, 0.05 * one, 400.0 * one, 0.0 * one, 0.0 * one)
    >>> contact = RollerContact(410.0, 125.0, 15.875, 9.525)
    >>> press, charge = RotaryPress(contact, None, 1.0 / 160e3), Charge(400.0, 1.55, 78.54)
    >>> pulse = compress(press, powder, charge, np.array([150.0]), Setting(speed=40.0))
    >>> round(float(pulse.in_die[0] - pulse.separation[0]), 4)
    0.0678
    """
    compliance = press.compliance * charge.tip_area
    before, met = left_by_precompression(
        press, powder, charge, pressure, setting, pre_share, tolerance, guess
    )
    motion = press.motion(float(np.median(pressure)) * charge.tip_area, setting)
    pulse = press_to(motion, powder, charge, pressure, compliance, before, tolerance, guess)
    return replace(pulse, pre_entry_opening=met)


def left_by_precompression(
    press: Press,
    powder: Powder,
    charge: Charge,
    pressure: Array,
    setting: Setting,
    pre_share: float,
    tolerance: float = CONVERGED,
    guess: Array | None = None,
) -> tuple[Array | None, Array | None]:
    """Return the state in MPa that precompression leaves and the distance in mm at which it began.

    The arguments are those of `compress`; both are None without precompression.

    Examples
    --------
    >>> from scaleup.powder.hardening import Heckel
    >>> from scaleup.presses.rotary import RollerContact, RotaryPress
    >>> one, soft = np.ones(1), Heckel(np.array([120.0]), np.array([0.6]))
    >>> powder = Powder(soft, 0.05 * one, 400.0 * one, 0.0 * one, 0.0 * one)
    >>> main, pre = (RollerContact(410.0, each, 15.875, 9.525) for each in (125.0, 85.0))
    >>> press, charge = RotaryPress(main, pre, 1.0 / 160e3), Charge(400.0, 1.55, 78.54)
    >>> peak, setting = np.array([150.0]), Setting(speed=40.0)
    >>> left, _ = left_by_precompression(press, powder, charge, peak, setting, 0.2)
    >>> 0.0 < float(left[0]) < 0.2 * 150.0
    True
    """
    pre = press.precompression(setting)
    if pre is None or pre_share <= 0.0:
        return None, None
    near = tolerance if precompression_counts(powder, pre_share) else ONLY_ITS_DWELL
    first, compliance = pressure * pre_share, press.compliance * charge.tip_area
    early = press_to(pre, powder, charge, first, compliance, None, near, guess)
    return powder.static_pressure(first, early.effective_dwell), early.entry_opening


def pressure_history(
    press: Press,
    powder: Powder,
    charge: Charge,
    pressure: float,
    setting: Setting,
) -> tuple[Array, Array]:
    """Return times in s and pressures in MPa of the main pulse, for a powder of one draw.

    On a press that moves the tips the history begins and ends at a fifth to a third of the peak.

    Examples
    --------
    >>> from scaleup.powder.hardening import Heckel
    >>> from scaleup.presses.rotary import RollerContact, RotaryPress
    >>> one, soft = np.ones(1), Heckel(np.array([120.0]), np.array([0.6]))
    >>> powder = Powder(soft, 0.05 * one, 400.0 * one, 0.0 * one, 0.0 * one)
    >>> contact = RollerContact(410.0, 125.0, 15.875, 9.525)
    >>> press, charge = RotaryPress(contact, None, 1.0 / 160e3), Charge(400.0, 1.55, 78.54)
    >>> time, pressure = pressure_history(press, powder, charge, 150.0, Setting(speed=40.0))
    >>> round(float(pressure.max()))
    150
    """
    motion = press.motion(pressure * charge.tip_area, setting)
    if isinstance(motion, ForcePulse):
        return motion.time, motion.share() * pressure
    compliance = press.compliance * charge.tip_area
    pulse = press_to(motion, powder, charge, np.array([pressure]), compliance)
    none = np.zeros(1)
    weakening = powder.weakening(pulse.effective_dwell)
    squeeze = Squeeze(powder, charge, motion, compliance, weakening, none)
    path = integrate(squeeze, pulse.separation, np.array([pressure]))
    return path.time - path.time[0], np.exp(path.log_pressure[:, 0])
