"""What is wrong with a profile file, and what about it is doubtful."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from scaleup.errors import Fault, InputError
from scaleup.files.library import FORMATS, read_press, read_tooling
from scaleup.files.records import read_record
from scaleup.files.toml import read_toml
from scaleup.records.single import compression_of

if TYPE_CHECKING:
    from pathlib import Path

    from scaleup.files.press_profiles import PressProfile, RotaryProfile
    from scaleup.files.tooling_profiles import ToolingProfile


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
        return ProfileCheck([], press_doubts(_whole_press(path)))
    except InputError as error:
        return ProfileCheck(list(error.faults), [])


def _whole_press(path: Path) -> PressProfile:
    from scaleup.files.press_profiles import RecordedProfile  # noqa: PLC0415

    press = read_press(path)
    if isinstance(press, RecordedProfile):
        logged = press.with_log(read_record(press, path.parent))
        compression_of(logged.log, logged.compression, None)
    return press


LARGE_ROLLER = 0.6
"""Roller radius over pitch circle diameter from which one of them is doubtful (a judgement: a
radius given for a diameter, or the reverse, doubles the ratio)."""


def press_doubts(press: PressProfile, head_edge_radius: float | None = None) -> list[str]:
    """Return warnings of what a press profile leaves open or contradicts.

    A stated punch velocity is held against the geometry only for a known head edge radius in mm.

    Examples
    --------
    >>> from scaleup.files.library import find_press
    >>> press_doubts(find_press("rotary-mid-19").model.model_copy(update={"fill": ()}))
    ['no fill: the fill depth is not held against a range']
    """
    from scaleup.files.press_profiles import RotaryProfile  # noqa: PLC0415

    doubts = []
    if press.stiffness is None:
        doubts.append("no stiffness: the press counts as rigid, and contact looks shorter")
    if press.ejection_limit is None:
        doubts.append("no ejection_limit: the ejection force is not held against a limit")
    if not press.fill:
        doubts.append("no fill: the fill depth is not held against a range")
    if not isinstance(press, RotaryProfile):
        return doubts
    return doubts + _rotary_doubts(press, head_edge_radius)


def _rotary_doubts(press: RotaryProfile, head_edge_radius: float | None) -> list[str]:
    from scaleup.presses.stated import disagreements  # noqa: PLC0415

    doubts = []
    radius, circle = press.main_roller.radius, press.pitch_circle
    if radius is not None and circle is not None and radius > LARGE_ROLLER * circle:
        doubts.append(
            f"a main roller of {2.0 * radius:g} mm diameter at a pitch circle of {circle:g} mm is "
            "unusually large: pitch_circle is a diameter, a roller's radius a radius"
        )
    if press.pre_roller is not None and press.roller_spacing is None:
        doubts.append("no roller_spacing: the time between the two compressions is unknown")
    return doubts + [
        f"stated {item.what} is {item.stated:.4g} {item.unit}, geometry gives "
        f"{item.from_geometry:.4g} {item.unit}"
        for item in disagreements(press, head_edge_radius)
    ]


def tooling_doubts(tooling: ToolingProfile) -> list[str]:
    """Return warnings of what a tooling profile leaves open.

    Examples
    --------
    >>> from scaleup.files.library import find_tooling
    >>> tooling = find_tooling("b-flat-10").model
    >>> tooling_doubts(tooling.model_copy(update={"tip_force_rating": None}))
    ['no tip_force_rating: take it from the tooling drawing']
    """
    doubts = []
    if tooling.tip_force_rating is None:
        doubts.append("no tip_force_rating: take it from the tooling drawing")
    if tooling.head_flat is None:
        doubts.append("no head_flat and head_edge_radius: it cannot be used on a rotary press")
    if tooling.modulus is None:
        doubts.append("no barrel_diameter, punch_length and modulus: the punches count as rigid")
    return doubts
