"""A hydraulic press: the force is driven, by a motor at a rate or by strokes of a pump."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor

import numpy as np

from scaleup.files.press_profiles import HydraulicProfile
from scaleup.files.tooling_profiles import ToolingProfile
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
    """Return the hydraulic press of a profile with this tooling."""
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
