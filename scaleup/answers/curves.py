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
from scaleup.transfer.process_model import ProcessModel
from scaleup.wording import say

POINTS = 40
CLOSE = 1.3
"""Two dwells whose ratio is below this are drawn as one."""
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
    return replace(powder.chosen(np.array([place])), curvature=np.zeros(1))


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
    return bands, _measured(fit, figure)


def over_speed(process: ProcessModel, pressure: float, figure: str) -> Band | None:
    """Return a figure of the tablet at a main pressure in MPa over the press's speeds.

    `figure` is ``solid_fraction`` or ``strength``; None if no strength was measured.
    """
    limits = process.production.press.profile.speed
    speeds = np.linspace(limits.min, limits.max, POINTS)
    rows = [getattr(process.at(pressure, float(each)), figure) for each in speeds]
    return None if rows[0] is None else _band(speeds, np.stack(rows))


def over_pressure_of_fit(fit: Fit) -> tuple[list[tuple[str, Band]], list[Measured]]:
    """Return the solid fraction over pressure at the shortest and the longest dwell of the runs.

    One curve where they are close together.
    """
    seen = [row.observation for row in fit.runs]
    tested = [item.pressure for item in seen]
    x = np.linspace(0.7 * min(tested), 1.15 * max(tested), POINTS)
    bands = []
    short, long = fit.dwell_span
    for dwell in dict.fromkeys((short, long) if long > CLOSE * short else (long,)):
        state = fit.powder.static_pressure(x[:, None], np.full(fit.powder.draws, dwell))
        bands.append(
            (f"effective dwell {say(dwell, 's')}", _band(x, fit.powder.solid_fraction(state)))
        )
    return bands, _measured(fit, "solid_fraction")


def _measured(fit: Fit, figure: str) -> list[Measured]:
    """Return the runs of each press that have a figure."""
    points = []
    for press in ("lab", "production"):
        pairs = [
            (seen.pressure, getattr(seen, figure))
            for seen in (row.observation for row in fit.runs)
            if seen.run.press == press and getattr(seen, figure) is not None
        ]
        if pairs:
            xs, ys = np.array(pairs, dtype=np.float64).T
            points.append(Measured(f"{press} runs", xs, ys))
    return points
