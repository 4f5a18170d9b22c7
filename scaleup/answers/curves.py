"""What pictures of an answer are drawn from: curves with bands, and the points measured."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.fit import Fit
from scaleup.calibration.observations import Side
from scaleup.model.estimate import BAND
from scaleup.powder.charge import Charge
from scaleup.powder.compression import pressure_history
from scaleup.powder.law import Powder
from scaleup.presses.press import Setting
from scaleup.transfer.case import TransferCase

POINTS = 40
EARLIEST, PULSE_POINTS = 1e-3, 600
"""A pulse is shown from this share of its length on, at so many times."""


@dataclass(frozen=True)
class Band:
    """A figure over an axis with its 90 % band; arrays of shape (points,)."""

    x: Array
    low: Array
    middle: Array
    high: Array


@dataclass(frozen=True)
class Measured:
    """Points measured, by what they are."""

    name: str
    x: Array
    y: Array


def _band(x: Array, draws: Array) -> Band:
    low, middle, high = np.quantile(draws, [(1 - BAND) / 2, 0.5, (1 + BAND) / 2], axis=1)
    return Band(x, low, middle, high)


def middle_draw(fit: Fit) -> Powder:
    """Return the one draw whose rate exponent is in the middle of those of the leading form."""
    powder = fit.powder
    part = fit.forms[0].draws
    order = np.argsort(powder.rate_exponent[part])
    place = int(part.start + order[order.size // 2])
    return replace(powder.chosen(np.array([place])), drift=np.zeros(1))


def pulses(case: TransferCase) -> list[tuple[str, Array, Array]]:
    """Return name, times in s and pressures in MPa of the lab's and the production's pulse.

    Times are even in their logarithm, from the start of the pulse.
    """
    powder = middle_draw(case.process.fit)
    first = case.reference.runs[0]
    pressure = case.reference.pressure
    weight = case.reference.weight or case.process.charge.weight
    density = case.study.blend.true_density
    lab = first.side.tip.charge(weight, density)
    made = Setting(speed=case.speed)

    def history(side: Side, charge: Charge, setting: Setting) -> tuple[Array, Array]:
        time, pressed = pressure_history(side.press, powder, charge, pressure, setting)
        even = np.geomspace(EARLIEST * time[-1], time[-1], PULSE_POINTS)
        return even, np.interp(even, time, pressed)

    return [
        ("lab", *history(first.side, lab, first.setting)),
        (f"production, {case.speed:g} rpm", *history(case.process.side, case.process.charge, made)),
    ]


def over_pressure(case: TransferCase, figure: str) -> tuple[list[tuple[str, Band]], list[Measured]]:
    """Return a figure over pressure at the lab's timing and in production, with the runs.

    `figure` is ``solid_fraction`` or ``strength``.
    """
    fit, process = case.process.fit, case.process
    seen = [row.observation for row in fit.runs]
    tested = [item.pressure for item in seen]
    x = np.linspace(0.7 * min(tested), min(1.15 * max(tested), process.map.ceiling), POINTS)
    dwell = case.lab_pulse.pulse.effective_dwell
    state = fit.powder.static_pressure(x[:, None], dwell)
    lab = fit.powder.solid_fraction(state)
    point = process.at(x[:, None], case.speed)
    made: Array | None = point.solid_fraction
    if figure == "strength":
        curve = fit.strength
        if curve is None:
            return [], []
        lab, made = curve.strength(lab), point.strength
    bands = [("lab's timing", _band(x, lab))]
    if made is not None:
        bands.append((f"production, {case.speed:g} rpm", _band(x, made)))
    points = []
    for press in ("lab", "production"):
        pairs = [
            (item.pressure, getattr(item, figure))
            for item in seen
            if item.run.press == press and getattr(item, figure) is not None
        ]
        if pairs:
            xs, ys = np.array(pairs, dtype=np.float64).T
            points.append(Measured(f"{press} runs", xs, ys))
    return bands, points


def strength_over_speed(case: TransferCase) -> Band | None:
    """Return the production strength in MPa at the lab's pressure over the press's speeds."""
    if case.process.fit.strength is None:
        return None
    limits = case.production.press.model.speed
    speeds = np.linspace(limits.min, limits.max, POINTS)
    rows = [case.process.at(case.reference.pressure, float(each)).strength for each in speeds]
    return _band(speeds, np.stack([row for row in rows if row is not None]))
