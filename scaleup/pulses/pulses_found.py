"""The compressions of a log as a table: a figure of all of them is one array."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from scaleup.arrays import Array
from scaleup.short_repr import short_repr


@short_repr
@dataclass(frozen=True)
class Pulses:
    """Figures of compressions, each of shape (compressions,); not-a-number is not available."""

    start: Array
    """s, on the log's own clock."""
    moment: Array
    """When the peak is reached, s."""
    peak: Array
    """N, above the zero around the pulse."""
    size: Array
    """The same where it cannot be told, as it stands, to sort compressions by."""
    peak_error: Array
    """N: noise, converter, zero, and what averaging may have lowered. This and every other error
    is the half-width of a band that holds the truth nine times of ten, or more often."""
    rise: Array
    """From 10 to 90 % of the peak, s."""
    rise_error: Array
    above_90: Array
    """Time above 90 % of the peak, s."""
    above_90_error: Array
    contact: Array
    """s."""
    contact_error: Array
    area: Array
    """Integral of force, N s."""
    area_error: Array
    dwell: Array
    """Effective dwell at the rate exponent asked, s."""
    dwell_error: Array
    hold: Array
    """s from the peak to the end of the hold."""
    hold_error: Array
    decay: Array
    """Share of the peak by which the force falls meanwhile."""
    decay_error: Array
    strokes: Array
    """Strokes it was pumped up in; 0 for one go."""
    ejection: Array
    """Highest ejection force until the next compression, N."""
    ejection_error: Array
    in_die: Array
    """Least distance of the tips, deflection allowed for, mm."""
    in_die_error: Array
    zero: Array
    """Zero under the pulse, N."""
    zero_error: Array
    """By how much in N it may be off."""
    zero_change: Array
    """By how much in N the zero after it differs from that before it."""
    samples_above_90: Array
    clipped: Array
    """1 where the top is cut off."""
    gap: Array
    """1 where samples are missing within."""
    joined: Array
    """1 where it runs into the one before or after."""
    meeting: Array
    """Share of the peak at which it does so; 0 where it does not."""
    reached: Array
    """1 where another one may reach under its peak, so that nothing of it is told."""
    added: Array
    """Share of the peak that was added because its top is round."""

    @property
    def count(self) -> int:
        """Return the number of compressions."""
        return int(self.peak.size)

    @classmethod
    def together(cls, parts: list[Pulses]) -> Pulses:
        """Return the compressions of several stretches, in order of time."""
        whole = {
            each.name: np.concatenate([getattr(part, each.name) for part in parts])
            if parts
            else np.zeros(0)
            for each in fields(cls)
        }
        order = np.argsort(whole["start"], kind="stable")
        return cls(**{name: values[order] for name, values in whole.items()})
