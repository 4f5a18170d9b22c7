"""How far a setting may lie beyond what the runs tested before nothing is answered."""

from __future__ import annotations

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.fit import Fit
from scaleup.model.study import LabSide, Study
from scaleup.sentence import Fact, Sentence
from scaleup.transfer.limits import Limit
from scaleup.transfer.operating_point import OperatingPoint
from scaleup.transfer.process_model import ProcessModel

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
    rating = lab.tooling.profile.tip_force_rating
    limit = lab.press.profile.greatest_force
    return limit if rating is None else min(limit, rating)


TESTED_DWELL = "tested-dwell"


def tested_limits(study: Study, process: ProcessModel) -> tuple[Limit, ...]:
    """Return the limits of the evidence: how far pressure and dwell may be from the runs."""
    highest = tested_pressure(process.fit)

    def share(point: OperatingPoint) -> Array:
        return point.pressure / highest

    def decades(point: OperatingPoint) -> Array:
        return process.fit.powder.decades_beyond(point.effective_dwell)

    def pressure_lacks(point: OperatingPoint) -> Sentence:
        return _not_pressed(study.lab, float(np.median(point.pressure)), highest)

    def dwell_lacks(point: OperatingPoint) -> Sentence:
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


def _not_pressed(lab: LabSide, pressure: float, highest: float) -> Sentence:
    """Return that a pressure in MPa is too far beyond any tested, and what to press."""
    area = lab.tooling.profile.tip_area
    wanted, most = ROOM * pressure, greatest_lab_force(lab) / area
    if most >= wanted:
        what = Sentence(
            "press lab runs up to {needed}, {needed_force}",
            needed=Fact(wanted, "MPa"),
            needed_force=Fact(wanted * area, "N"),
        )
    else:
        what = Sentence(
            "lab press and lab tips make {lab_most} at most, {lab_most_force}; press up to there, "
            "and take larger production tips or a trial for the rest",
            lab_most=Fact(most, "MPa"),
            lab_most_force=Fact(most * area, "N"),
        )
    return Sentence(
        "{pressure} is {ratio} times the highest tested pressure of {tested}, and beyond {most:g} "
        "times nothing is answered: {what}",
        pressure=Fact(pressure, "MPa"),
        ratio=pressure / highest,
        tested=Fact(highest, "MPa"),
        most=PRESSURE_MOST,
        what=what,
    )


def _not_so_short(fit: Fit, point: OperatingPoint, decades: float) -> Sentence:
    return Sentence(
        "its effective dwell of {dwell} is {decades:.1f} decades below the shortest tested, "
        "{shortest}, and beyond {most_decades:g} nothing is answered: press lab runs with the "
        "fastest loading and no hold, or run a trial at the slowest turret speed",
        dwell=Fact(float(np.median(point.effective_dwell)), "s"),
        decades=decades,
        shortest=Fact(fit.dwell_span[0], "s"),
        most_decades=DWELL_MOST,
    )
