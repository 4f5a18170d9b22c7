"""Parameters of a hardening form that runs can have, for pulses that are solved around them."""

from __future__ import annotations

import numpy as np

from scaleup.arrays import Array, whole_columns
from scaleup.calibration.forms import Form

LOOSEST_RUN, DENSEST_RUN = 0.2, 7.0
"""D between which a run lies: solid fractions of 0.18 to 0.999, as run tables may have them."""
HALVINGS = 12


def first_values(form: Form, pressure: Array, level: Array) -> Array:
    """Return the form's first values for runs; those it is believed to have if no run can."""
    first = np.array(form.start(pressure, level))
    return form.centre if _beyond(form, first[None, :], pressure)[0] else first


def possible_sets(form: Form, centre: Array, sets: Array, pressures: Array) -> Array:
    """Return parameter sets with those drawn towards the centre that no run can have.

    Runs that scatter more than they rise leave the curve so open that some sets give tablets of
    no density at the pressures of the runs, for which no pulse can be solved.
    """
    for _ in range(HALVINGS):
        off = _beyond(form, sets, pressures)
        if not off.any():
            break
        nearer = 0.5 * (sets + centre)
        nearer[:, -2] = sets[:, -2]
        sets = np.where(off[:, None], nearer, sets)
    return sets


def _beyond(form: Form, sets: Array, pressures: Array) -> Array:
    """Return which sets give, at the least or the greatest pressure, what no run can have."""
    ends = np.array([[pressures.min()], [pressures.max()]])
    level = form.build(whole_columns(sets)).densification(ends)
    off = np.any((level < LOOSEST_RUN) | (level > DENSEST_RUN), axis=0)
    result: Array = off | np.any(sets[:, : form.lowest.size] < form.lowest, axis=1)
    return result
