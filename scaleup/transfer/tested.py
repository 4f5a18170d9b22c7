"""How far a setting may lie beyond what the runs tested before nothing is answered."""

from __future__ import annotations

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.fit import Fit
from scaleup.model.study import LabSide, Study
from scaleup.transfer.limits import Limit
from scaleup.transfer.operating_point import OperatingPoint
from scaleup.transfer.process_model import ProcessModel
from scaleup.wording import say, significant

PRESSURE_MOST = 1.5
"""Main pressure over the highest tested up to which there is an answer (a judgement of this
program)."""
DWELL_MOST = 3.0
"""Decades of effective dwell beyond the shortest tested up to which there is an answer (a judgement
of this program): the rate exponent is by then uncertain by three quarters of itself."""
ROOM = 1.1
"""Lab runs are asked for up to this times the pressure that was not tested."""


def tested_pressure(fit: Fit) -> float:
    """Return the highest pressure in MPa of the runs that were fitted."""
    return max(row.observation.pressure for row in fit.runs)


def greatest_lab_force(lab: LabSide) -> float:
    """Return the force in N that lab press and lab tips may make."""
    rating = lab.tooling.model.tip_force_rating
    limit = lab.press.model.greatest_force
    return limit if rating is None else min(limit, rating)


TESTED_DWELL = "tested-dwell"


def tested_limits(study: Study, process: ProcessModel) -> tuple[Limit, ...]:
    """Return the limits of the evidence: how far pressure and dwell may be from the runs."""
    highest = tested_pressure(process.fit)

    def share(point: OperatingPoint) -> Array:
        return point.pressure / highest

    def decades(point: OperatingPoint) -> Array:
        return process.fit.powder.decades_beyond(point.effective_dwell)

    def pressure_lacks(point: OperatingPoint) -> str:
        return _not_pressed(study.lab, float(np.median(point.pressure)), highest)

    def dwell_lacks(point: OperatingPoint) -> str:
        return _not_so_short(process.fit, point, float(np.median(decades(point))))

    return (
        Limit(
            "tested-pressure", "pressure over highest tested", "evidence", "1", PRESSURE_MOST,
            "at most", share, lacks=pressure_lacks,
        ),
        Limit(
            TESTED_DWELL, "decades below shortest dwell", "evidence", "1", DWELL_MOST,
            "at most", decades, lacks=dwell_lacks,
        ),
    )  # fmt: skip


def _not_pressed(lab: LabSide, pressure: float, highest: float) -> str:
    """Return that a pressure in MPa is too far beyond any tested, and what to press."""
    area = lab.tooling.model.tip_area
    wanted, most = ROOM * pressure, greatest_lab_force(lab) / area
    if most >= wanted:
        what = f"press lab runs up to {say(wanted, 'MPa')}, {say(wanted * area, 'N')}"
    else:
        what = (
            f"lab press and lab tips make {say(most, 'MPa')} at most, {say(most * area, 'N')}; "
            "press up to there, and take larger production tips or a trial for the rest"
        )
    return (
        f"{say(pressure, 'MPa')} is {significant(pressure / highest, 3)} times the highest tested "
        f"pressure of {say(highest, 'MPa')}, and beyond {PRESSURE_MOST:g} times nothing is "
        f"answered: {what}"
    )


def _not_so_short(fit: Fit, point: OperatingPoint, decades: float) -> str:
    here = say(float(np.median(point.effective_dwell)), "s")
    return (
        f"its effective dwell of {here} is {decades:.1f} decades below the shortest tested, "
        f"{say(fit.dwell_span[0], 's')}, and beyond {DWELL_MOST:g} nothing is answered: press lab "
        "runs with the fastest loading and no hold, or run a trial at the slowest turret speed"
    )
