"""A hydraulic press: the force is driven, by a motor at a rate or by strokes of a pump."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor

import numpy as np

from scaleup.model.press import HydraulicProfile
from scaleup.model.tooling import ToolingProfile
from scaleup.presses.compliance import series_compliance
from scaleup.presses.press import Setting
from scaleup.presses.pulse_shapes import ForcePulse


@dataclass(frozen=True)
class PumpStrokes:
    """Loading by hand: every stroke adds a step of force, then the hand goes back.

    Where within a stroke the peak is reached is not known; the middle of a stroke is taken, so
    that a slightly different force does not add or lose a pause next to the peak.
    """

    force_per_stroke: float
    stroke_time: float
    pause: float

    def rise(self, force: float) -> tuple[list[float], list[float]]:
        """Return times in s and forces in N up to a peak force in N."""
        times, forces = [0.0], [0.0]
        pauses = floor(force / self.force_per_stroke + 0.5)
        for remaining in range(pauses - 1, -1, -1):
            reached = force - (remaining + 0.5) * self.force_per_stroke
            self._stroke(times, forces, reached)
            times.append(times[-1] + self.pause)
            forces.append(reached)
        self._stroke(times, forces, force)
        return times, forces

    def _stroke(self, times: list[float], forces: list[float], reached: float) -> None:
        share = (reached - forces[-1]) / self.force_per_stroke
        if share > 0.0:
            times.append(times[-1] + self.stroke_time * share)
            forces.append(reached)


@dataclass(frozen=True)
class SteadyLoading:
    """Loading by a motor at a rate in N/s."""

    rate: float

    def rise(self, force: float) -> tuple[list[float], list[float]]:
        """Return times in s and forces in N up to a peak force in N."""
        return [0.0, force / self.rate], [0.0, force]


@dataclass(frozen=True)
class HydraulicPress:
    """A hydraulic press with its tooling fitted."""

    loading: PumpStrokes | SteadyLoading
    release_time: float
    compliance: float

    def motion(self, force: float, setting: Setting) -> ForcePulse:
        """Return loading, hold and release; a press that releases by itself holds 0 s."""
        given = setting.loading_rate
        loading = self.loading if given is None else SteadyLoading(given)
        times, forces = loading.rise(force)
        if setting.hold:
            times.append(times[-1] + setting.hold)
            forces.append(force)
        times.append(times[-1] + self.release_time)
        forces.append(0.0)
        return ForcePulse(np.array(times), np.array(forces))

    def precompression(self, setting: Setting) -> None:
        """Return nothing: a single press stroke has no precompression."""


def press(profile: HydraulicProfile, tooling: ToolingProfile) -> HydraulicPress:
    """Return the hydraulic press of a profile with this tooling.

    Raises
    ------
    ValueError
        If the profile has neither a loading rate nor a pump.

    Examples
    --------
    >>> from scaleup.io.library import find_press, find_tooling
    >>> press(find_press("lab-hydraulic").profile, find_tooling("lab-flat-10").profile).release_time
    0.05
    """
    pump = profile.pump
    loading: PumpStrokes | SteadyLoading
    if pump is not None:
        loading = PumpStrokes(pump.force_per_stroke, pump.stroke_time, pump.pause)
    elif profile.loading_rate is not None:
        loading = SteadyLoading(profile.loading_rate)
    else:
        raise ValueError("a hydraulic profile has a loading rate or a pump")
    compliance = series_compliance(profile.stiffness, tooling, punches=2)
    return HydraulicPress(loading, profile.release_time, compliance)


SHORT_HOLD = 0.1
"""s that stand for no hold where a middle between two holds is sought."""


def settings(profile: HydraulicProfile) -> tuple[Setting, ...]:
    """Return the shortest hold with slow, own and fast loading, and longer holds with its own.

    The longer the hold, the less the loading before it matters. What the profile gives no range of
    is left at the press's own.

    Examples
    --------
    >>> from scaleup.io.library import find_press
    >>> [each.hold for each in settings(find_press("lab-hydraulic").profile)]
    [0.0, 0.0, 0.0, 2.0, 60.0]
    """
    own, others = profile.loading_rate, profile.loading_rates
    rates: list[float | None] = [own]
    if own is not None and others is not None:
        rates = [*sorted({others.min, own, others.max})]
    shortest, *longer = _holds(profile)
    fast = [Setting(hold=shortest, loading_rate=rate) for rate in rates]
    slow = [Setting(hold=hold, loading_rate=own) for hold in longer]
    return (*fast, *slow)


def _holds(profile: HydraulicProfile) -> Sequence[float | None]:
    """Return the shortest, a middle and the longest hold in s; none where the press has no say."""
    if profile.hold is None or profile.automatic_release:
        return [None]
    low, high = profile.hold.min, profile.hold.max
    middle = float(f"{(max(low, SHORT_HOLD) * max(high, SHORT_HOLD)) ** 0.5:.1g}")
    return sorted({low, min(max(middle, low), high), high})
