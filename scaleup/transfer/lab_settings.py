"""What the lab press can be set to: by its profile, by what the runs show, or perhaps."""

from __future__ import annotations

from dataclasses import dataclass, replace

from scaleup.model.press import HydraulicProfile
from scaleup.model.profile_ranges import RANGES
from scaleup.model.ranges import Range
from scaleup.model.study import LabSide
from scaleup.presses.press import Setting, settings_of

LONG_HOLD = 60.0
"""s of a hold that is asked for where no profile says how long the press holds (a judgement of
this program)."""
IF_IT_HOLDS = "if the press can hold the force"


@dataclass(frozen=True)
class LabSetting:
    """One setting of the lab press, and on what condition it can be made."""

    setting: Setting
    condition: str = ""
    """Empty if the profile or the runs show that the press can."""


def lab_settings(lab: LabSide) -> tuple[LabSetting, ...]:
    """Return settings that cover what the lab press can be set to besides its force.

    A hydraulic profile without a range of holds or of loading rates says nothing against them: the
    runs show what the press can, and a longer hold is proposed on the condition that it can.
    """
    profile = lab.press.profile
    if not isinstance(profile, HydraulicProfile):
        return tuple(map(LabSetting, settings_of(profile)))
    longest = max((run.hold or 0.0 for run in lab.lab_runs), default=0.0)
    unsaid = profile.hold is None and not profile.automatic_release
    able = _with_rates(_holding(profile) if unsaid else profile, lab)
    return tuple(
        LabSetting(each, IF_IT_HOLDS if unsaid and (each.hold or 0.0) > longest else "")
        for each in settings_of(able)
    )


def _holding(profile: HydraulicProfile) -> HydraulicProfile:
    hold = Range(0.0, LONG_HOLD)
    return replace(profile, hold=hold)


def _with_rates(profile: HydraulicProfile, lab: LabSide) -> HydraulicProfile:
    """Return the profile with the range of loading rates that the runs were made with."""
    shown = [run.loading_rate for run in lab.lab_runs if run.loading_rate is not None]
    own = profile.loading_rate
    if own is None or profile.loading_rates is not None or not shown:
        return profile
    possible = [rate for rate in (*shown, own) if RANGES["loading_rates"].possible(rate)]
    rates = Range(min(possible), max(possible))
    return replace(profile, loading_rates=rates)
