"""Every fitted figure before and after a trial."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.model.estimate import Estimate, drawn, unavailable
from scaleup.transfer.case import TransferCase

CLEAR = 2.0
"""Standard deviations of difference from which something is said to have moved."""
ALONE = "rate exponent from the production ladder alone"


@dataclass(frozen=True)
class Moved:
    """One figure before and after the trial."""

    name: str
    before: Estimate
    after: Estimate
    clear: bool
    """Whether the trial moved it by more than its uncertainty explains."""


def moved(old: TransferCase | None, new: TransferCase, alone: Estimate) -> tuple[Moved, ...]:
    """Return every fitted figure before and after; `alone` is the exponent of the ladder alone."""
    figures = _figures(new)
    earlier = {} if old is None else _figures(old)
    rows = []
    for name, (draws, unit) in figures.items():
        now = drawn(draws, unit)
        if name not in earlier:
            rows.append(Moved(name, unavailable(unit, "not known before the trial"), now, False))
            continue
        then = earlier[name][0]
        apart = abs(float(np.median(draws) - np.median(then)))
        rows.append(Moved(name, drawn(then, unit), now, apart > CLEAR * float(then.std())))
    rows.insert(1, Moved(ALONE, unavailable("1", "not known before the trial"), alone, False))
    return tuple(rows)


def _figures(case: TransferCase) -> dict[str, tuple[Array, str]]:
    fit = case.process.fit
    point = case.process.at(case.reference.pressure, case.speed)
    runs = fit.plant.nearest_to(case.production)
    elsewhere = runs is not None and runs.press != case.production.press.id
    figures = {
        "rate exponent": (fit.powder.rate_exponent, "1"),
        "solid fraction at the lab's pressure": (point.solid_fraction, "1"),
    }
    if fit.strength is not None:
        middle = np.full(fit.powder.draws, float(np.median(point.solid_fraction)))
        figures["lab strength at that solid fraction"] = (fit.strength.strength(middle), "MPa")
        if fit.strength.feeder_known:
            figures["feeder factor on strength"] = (fit.strength.feeder, "1")
        if fit.strength.drift is not None and not elsewhere:
            figures["change of strength through the trial"] = (np.expm1(fit.strength.drift), "1")
    if runs is not None and runs.log_pressure is not None and not elsewhere:
        figures["production offset of pressure"] = (np.expm1(runs.log_pressure), "1")
    if runs is not None and runs.pressure_drift is not None and not elsewhere:
        figures["change of pressure through the trial"] = (np.expm1(runs.pressure_drift), "1")
    if point.strength is not None:
        figures["production strength at the lab's pressure"] = (point.strength, "MPa")
    return figures
