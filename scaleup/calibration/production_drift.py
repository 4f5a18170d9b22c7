"""Drift through a trial: what changes from the first production run to the last.

Production runs that say when they were made (``elapsed``) may drift: in the pressure that densifies
(a gauge that warms, a weight that creeps) and in strength (a blend that is sheared for longer, a
tester that wears). Each is a straight line in the place of the run between the first, -1/2, and the
last, +1/2, so that the middle of the trial is what everything else speaks of.
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


def places_in_trial(seen: Sequence[Observation]) -> Array | None:
    """Return the place of each run in its trial, from -1/2 to 1/2, shape (runs,).

    0 for lab runs and for production runs that do not say when they were made; None where fewer
    than four production runs do.
    """
    times = np.array(
        [
            np.nan if each.run.press == "lab" or each.run.elapsed is None else each.run.elapsed
            for each in seen
        ]
    )
    known = ~np.isnan(times)
    if known.sum() < LEAST_RUNS or np.ptp(times[known]) == 0.0:
        return None
    first, last = float(np.min(times[known])), float(np.max(times[known]))
    return np.where(known, (times - first) / (last - first) - 0.5, 0.0)
