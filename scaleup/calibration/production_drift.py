"""Drift through a trial: what changes from the first production run to the last.

Production runs that say when they were made (``elapsed``) may drift: in the pressure that densifies
(a gauge that warms, a weight that creeps) and in strength (a blend that is sheared for longer, a
tester that wears). Each is a straight line in the place of the run between the first, -1/2, and the
last, +1/2, so that the middle of the trial is what everything else speaks of. The runs of one press
are one trial.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.observations import Observation

DRIFT_PRESSURE, DRIFT_STRENGTH = 0.05, 0.20
"""Standard deviations of ln(pressure) and ln(strength) from the first run to the last (judgements
of this program)."""
LEAST_RUNS = 4
"""Production runs from which a drift is told from scatter."""


def places_in_trials(seen: Sequence[Observation]) -> dict[str, Array]:
    """Return the place of each run in the trial of each press, from -1/2 to 1/2, shape (runs,).

    0 for runs made elsewhere and for runs that do not say when they were made. Each trial on a
    press has its own start and end, if four of its runs say when they were made. Only presses with
    such a trial are there, named as `Run.maker` names them.
    """
    makers = dict.fromkeys(each.run.maker for each in seen if each.run.press == "production")
    trials = {maker: _places_on(maker, seen) for maker in makers}
    return {maker: places for maker, places in trials.items() if places is not None}


def _places_on(maker: str, seen: Sequence[Observation]) -> Array | None:
    """Return the places of a press's runs, each within its own trial; None if no trial tells."""
    trials = dict.fromkeys(each.run.trial for each in seen if each.run.maker == maker)
    found = [_places_in(maker, trial, seen) for trial in trials]
    told = [places for places in found if places is not None]
    return np.sum(told, axis=0) if told else None


def _places_in(maker: str, trial: str, seen: Sequence[Observation]) -> Array | None:
    times = np.array(
        [
            np.nan
            if (each.run.maker, each.run.trial) != (maker, trial) or each.run.elapsed is None
            else each.run.elapsed
            for each in seen
        ]
    )
    known = ~np.isnan(times)
    if known.sum() < LEAST_RUNS or np.ptp(times[known]) == 0.0:
        return None
    first, last = float(np.min(times[known])), float(np.max(times[known]))
    return np.where(known, (times - first) / (last - first) - 0.5, 0.0)
