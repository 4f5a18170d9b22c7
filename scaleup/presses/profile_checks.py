"""What is wrong with a profile file, and what about it is doubtful."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from scaleup.errors import Fault, InputError
from scaleup.io.logs_beside import log_of_press
from scaleup.io.profile_files import FORMATS, read_press, read_tooling
from scaleup.io.toml import read_toml
from scaleup.model.press import press_oddities
from scaleup.model.tooling import tooling_oddities
from scaleup.pulses.logged_compression import compression_of

if TYPE_CHECKING:
    from pathlib import Path

    from scaleup.model.press import PressProfile, RotaryProfile
    from scaleup.model.tooling import ToolingProfile


class ProfileCheck(NamedTuple):
    """The faults of a profile, and warnings of what is missing or contradicts itself."""

    faults: list[Fault]
    warnings: list[str]


def check_profile(path: Path) -> ProfileCheck:
    """Return what is wrong and what is doubtful in a press or tooling profile.

    Examples
    --------
    >>> from pathlib import Path
    >>> check_profile(Path("profiles/presses/rotary-mid-19.toml"))
    ProfileCheck(faults=[], warnings=[])
    """
    try:
        given = read_toml(path).get("format")
        if given is None:
            allowed = " or ".join(f'format = "{each}"' for each in FORMATS.values())
            return ProfileCheck([Fault(str(path), "format", "nothing", allowed)], [])
        if given == FORMATS["tooling"]:
            return ProfileCheck([], tooling_doubts(read_tooling(path)))
        press = read_press(path)
        return ProfileCheck([], [*press_doubts(press), *_log_doubts(press, path.parent)])
    except InputError as error:
        return ProfileCheck(list(error.faults), [])


def _log_doubts(press: PressProfile, folder: Path) -> list[str]:
    """Return what is doubtful about the log of a press that is known by one."""
    from scaleup.model.press import RecordedProfile, RotaryProfile  # noqa: PLC0415
    from scaleup.presses.recorded import peak_over_limit  # noqa: PLC0415

    if not isinstance(press, RecordedProfile | RotaryProfile) or press.record is None:
        return []
    log = log_of_press(press, folder)
    peak = peak_over_limit(press, compression_of(log, press.compression, None).peak)
    if not peak.possible:
        raise InputError(peak.fault(press.name))
    return [] if peak.sense.is_usual(peak.value) else [peak.doubt]


def press_doubts(press: PressProfile, head_edge_radius: float | None = None) -> list[str]:
    """Return warnings of what a press profile leaves open or contradicts.

    A stated punch velocity is held against the geometry only for a known head edge radius in mm.

    Examples
    --------
    >>> from scaleup.io.library import find_press
    >>> from dataclasses import replace
    >>> press_doubts(replace(find_press("rotary-mid-19").profile, fill=()))
    ['no fill: the fill depth is not held against a range']
    """
    from scaleup.model.press import RotaryProfile  # noqa: PLC0415

    stated = _denied(press, head_edge_radius) if isinstance(press, RotaryProfile) else []
    return [*_left_open(press), *press_oddness(press), *stated]


def press_oddness(press: PressProfile) -> list[str]:
    """Return warnings of what in a press profile is unusual.

    Examples
    --------
    >>> from scaleup.io.library import find_press
    >>> from dataclasses import replace
    >>> odd = replace(find_press("rotary-mid-19").profile, stiffness=40e3)
    >>> press_oddness(odd)[0].partition(" is unusual")[0]
    'stiffness: a deflection at the force limit of 1.8 mm'
    """
    return [each.doubt for each in press_oddities(press)]


def _left_open(press: PressProfile) -> list[str]:
    from scaleup.model.press import HydraulicProfile, RotaryProfile  # noqa: PLC0415

    doubts = []
    if press.stiffness is None:
        doubts.append("no stiffness: the press counts as rigid, and contact looks shorter")
    if press.ejection_limit is None:
        doubts.append("no ejection_limit: the ejection force is not held against a limit")
    if not press.fill:
        doubts.append("no fill: the fill depth is not held against a range")
    if isinstance(press, HydraulicProfile) and press.hold is None and not press.automatic_release:
        doubts.append("no hold: whether the press can hold its force is not known")
    if isinstance(press, RotaryProfile) and press.pre_roller and press.roller_spacing is None:
        doubts.append("no roller_spacing: the time between the two compressions is unknown")
    return doubts


def _denied(press: RotaryProfile, head_edge_radius: float | None) -> list[str]:
    """Return warnings of what is stated and the geometry of the same profile denies."""
    from scaleup.presses.data_sheet import disagreements, roller_doubt  # noqa: PLC0415

    doubt = roller_doubt(press)
    return [doubt] * bool(doubt) + [
        f"stated {item.what} is {item.stated:.4g} {item.unit}, geometry gives "
        f"{item.from_geometry:.4g} {item.unit}"
        for item in disagreements(press, head_edge_radius)
    ]


def tooling_doubts(tooling: ToolingProfile) -> list[str]:
    """Return warnings of what a tooling profile leaves open.

    Examples
    --------
    >>> from scaleup.io.library import find_tooling
    >>> tooling = find_tooling("b-flat-10").profile
    >>> from dataclasses import replace
    >>> tooling_doubts(replace(tooling, tip_force_rating=None))
    ['no tip_force_rating: take it from the tooling drawing']
    """
    doubts = []
    if tooling.tip_force_rating is None:
        doubts.append("no tip_force_rating: take it from the tooling drawing")
    if tooling.head_flat is None:
        doubts.append("no head_flat and head_edge_radius: it cannot be used on a rotary press")
    if tooling.modulus is None:
        doubts.append("no barrel_diameter, punch_length and modulus: the punches count as rigid")
    return [*doubts, *tooling_oddness(tooling)]


def tooling_oddness(tooling: ToolingProfile) -> list[str]:
    """Return warnings of what in a tooling profile is unusual.

    Examples
    --------
    >>> from scaleup.io.library import find_tooling
    >>> from dataclasses import replace
    >>> odd = replace(find_tooling("b-flat-10").profile, barrel_diameter=25.0)
    >>> tooling_oddness(odd)[0].partition(" is unusual")[0]
    'barrel_diameter: a ratio to the barrel of its standard of 1.316'
    """
    return [each.doubt for each in tooling_oddities(tooling)]
