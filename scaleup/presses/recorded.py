"""A press known by one logged force: its pulse is taken from the log, scaled to the peak asked."""

from __future__ import annotations

from dataclasses import dataclass

from scaleup.arrays import Array
from scaleup.errors import InputError
from scaleup.io.logs import Log
from scaleup.model.press import RecordedProfile, RotaryProfile
from scaleup.model.profile_ranges import OURS
from scaleup.model.proportions import Oddity
from scaleup.model.sense import Sense
from scaleup.model.tooling import ToolingProfile
from scaleup.presses.compliance import series_compliance
from scaleup.presses.press import Setting
from scaleup.presses.pulse_shapes import ForcePulse
from scaleup.pulses.logged_compression import compression_of
from scaleup.short_repr import short_repr


@short_repr
@dataclass(frozen=True)
class RecordedPress:
    """A logged pulse: times in s and forces in N, shape (n,)."""

    time: Array
    force: Array
    compliance: float

    def motion(self, force: float, setting: Setting) -> ForcePulse:  # noqa: ARG002  an interface
        """Return the logged pulse with its peak at a force in N."""
        return ForcePulse(self.time, self.force * (force / self.force.max()))

    def precompression(self, setting: Setting) -> None:
        """Return nothing: a logged pulse is taken as it is."""


def press(profile: RecordedProfile, tooling: ToolingProfile) -> RecordedPress:
    """Return the recorded press of a profile, with the compression of its log.

    Raises
    ------
    InputError
        If the log has no such compression, it cannot be measured, or its peak is far above the
        force limit of the press.

    Examples
    --------
    >>> from scaleup.io.library import find_press, find_tooling
    >>> fitted = press(find_press("lab-recorded").profile, find_tooling("lab-flat-10").profile)
    >>> fitted.force.shape == fitted.time.shape
    True
    """
    compliance = series_compliance(profile.stiffness, tooling, punches=2)
    if not isinstance(profile.log, Log):
        raise ValueError("the log of this profile has not been read")  # noqa: TRY004
    compression = compression_of(profile.log, profile.compression, compliance)
    peak = peak_over_limit(profile, compression.peak)
    if not peak.possible:
        raise InputError(peak.fault(profile.name))
    return RecordedPress(compression.time, compression.force, compliance)


LOGGED = Sense("", "1", (0, 2), (0.01, 1), OURS, "a press is logged within its limit, and loaded")
"""Peak of a log over the force limit of the press."""


def peak_over_limit(profile: RecordedProfile | RotaryProfile, peak: float) -> Oddity:
    """Return the peak in N of a log held against the force limit of the profile.

    Examples
    --------
    >>> from scaleup.io.library import find_press
    >>> peak_over_limit(find_press("lab-recorded").profile, 90e3).possible
    False
    """
    mend = "Check force_limit and the unit in the heading of the log."
    return Oddity("record", "a ratio to force_limit", peak / profile.force_limit, LOGGED, mend)


def settings(profile: RecordedProfile) -> tuple[Setting, ...]:  # noqa: ARG001  an interface
    """Return the one setting of a logged pulse: as it was logged.

    Examples
    --------
    >>> from scaleup.io.library import find_press
    >>> settings(find_press("lab-recorded").profile)
    (Setting(speed=None, hold=None, loading_rate=None),)
    """
    return (Setting(),)
