"""Do the conditions miss the law by more than replicates scatter?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc

from scaleup.arrays import Array

PARAMETERS = 3


@dataclass(frozen=True)
class LackOfFit:
    """The F test of lack of fit against pure error."""

    misfit: float
    """Root mean square distance of condition means from the law, in solid fraction."""
    replicates: float
    """Scatter of replicates about their mean, in solid fraction."""
    probability: float
    """Of a ratio at least this large if the law holds."""


def lack_of_fit(names: tuple[str, ...], measured: Array, fitted: Array) -> LackOfFit | None:
    """Return the test, or None without replicates; arrays over runs, names say which replicate.

    Replicates are pressed at nearly the same force, so the residuals from the law are compared:
    within a condition they are pure error, their means are lack of fit.
    """
    residual = measured - fitted
    groups = [residual[[name == each for each in names]] for name in dict.fromkeys(names)]
    within = float(sum(np.sum((group - group.mean()) ** 2) for group in groups))
    pure_freedom = residual.size - len(groups)
    lack_freedom = len(groups) - PARAMETERS
    if pure_freedom < 2 or lack_freedom < 1 or within <= 0.0:
        return None
    between = float(sum(group.size * group.mean() ** 2 for group in groups))
    ratio = (between / lack_freedom) / (within / pure_freedom)
    return LackOfFit(
        misfit=float(np.sqrt(between / residual.size)),
        replicates=float(np.sqrt(within / pure_freedom)),
        probability=float(fdtrc(lack_freedom, pure_freedom, ratio)),
    )
