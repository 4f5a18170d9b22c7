"""What every press answers: how it compresses at a force and a setting."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from typing import Protocol, cast

from scaleup.model.press import PressProfile
from scaleup.model.tooling import ToolingProfile
from scaleup.presses.pulse_shapes import Motion, Stroke


@dataclass(frozen=True)
class Setting:
    """What the operator sets besides the force; a press uses what applies to it.

    Examples
    --------
    >>> Setting(speed=45.0)
    Setting(speed=45.0, hold=None, loading_rate=None)
    """

    speed: float | None = None
    """rpm, or strokes/min of an eccentric press."""
    hold: float | None = None
    """s at the peak of a hydraulic press."""
    loading_rate: float | None = None
    """N/s of a hydraulic press."""


class Press(Protocol):
    """One press with its tooling fitted.

    Examples
    --------
    >>> from scaleup.io.library import find_press, find_tooling
    >>> press = press_from(find_press("lab-hydraulic").profile, find_tooling("lab-flat-10").profile)
    >>> [float(each) for each in press.motion(10e3, Setting(hold=3.0)).time]
    [0.0, 2.0, 5.0, 5.05]
    """

    @property
    def compliance(self) -> float:
        """Return by how many mm the tips give way for each N."""
        ...

    def motion(self, force: float, setting: Setting) -> Motion:
        """Return how the press compresses up to a peak force in N."""
        ...

    def precompression(self, setting: Setting) -> Motion | None:
        """Return the pulse before the main one, none on a press that has no such pulse."""
        ...


def settings_of(profile: PressProfile) -> tuple[Setting, ...]:
    """Return settings that cover what a press can be set to besides its force.

    The module of the kind has a function ``settings(profile)`` for it.

    Examples
    --------
    >>> from scaleup.io.library import find_press
    >>> [each.speed for each in settings_of(find_press("rotary-mid-19").profile)]
    [10.0, 27.0, 75.0]
    """
    module = import_module(f"scaleup.presses.{profile.kind}")
    return cast("tuple[Setting, ...]", module.settings(profile))


def speed_settings(slowest: float, fastest: float) -> tuple[Setting, ...]:
    """Return the slowest, a middle and the fastest speed of a press, rpm or strokes/min.

    Examples
    --------
    >>> [each.speed for each in speed_settings(10.0, 90.0)]
    [10.0, 30.0, 90.0]
    """
    middle = round((slowest * fastest) ** 0.5)
    return tuple(Setting(speed=each) for each in sorted({slowest, float(middle), fastest}))


def moves_the_tips(press: Press, setting: Setting) -> bool:
    """Return whether a press moves its tips along a path, set without load, whatever the force.

    Examples
    --------
    >>> from scaleup.io.library import find_press, find_tooling
    >>> press = press_from(find_press("lab-hydraulic").profile, find_tooling("lab-flat-10").profile)
    >>> moves_the_tips(press, Setting(hold=3.0))
    False
    """
    return isinstance(press.motion(1.0, setting), Stroke)


def press_from(profile: PressProfile, tooling: ToolingProfile) -> Press:
    """Return the press that a profile describes, with this tooling.

    A kind of press is one module of this folder, named as the kind, with the functions
    ``press(profile, tooling)`` and ``settings(profile)``.

    Raises
    ------
    InputError
        If the tooling lacks what this kind of press needs.

    Examples
    --------
    >>> from scaleup.io.library import find_press, find_tooling
    >>> press = press_from(find_press("rotary-mid-19").profile, find_tooling("b-flat-10").profile)
    >>> round(1e6 * press.compliance, 3)
    10.738
    """
    return cast("Press", import_module(f"scaleup.presses.{profile.kind}").press(profile, tooling))
