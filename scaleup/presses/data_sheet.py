"""Roller geometry from a stated dwell time and punch velocity, and a check of one by the other."""

from __future__ import annotations

from dataclasses import dataclass
from math import asin, cos, pi, sqrt

from scipy.optimize import brentq

from scaleup.errors import Fault, InputError
from scaleup.model.press import RotaryProfile
from scaleup.model.press_proportions import stated_circle
from scaleup.model.profile_ranges import RANGES
from scaleup.model.proportions import Oddity

DISAGREEMENT = 0.05
"""Share by which a stated value may differ from the geometry before it is reported."""
USUAL_EDGE = 16.0
"""Radius in mm of the rounded edge of a usual punch head (from memory)."""
MEND = "Check punch_velocity, at_travel and speed, with their units."
HALF_A_TURN = 30.0
"""Seconds at 1 rpm."""


def roller_geometry(profile: RotaryProfile, head_edge_radius: float) -> tuple[float, float]:
    """Return the pitch circle and main roller radius in mm, measured or worked out.

    A stated dwell time gives the pitch circle, ``head_flat / sin(omega t_d / 2)``; the stated
    velocity at a stated distance before the deepest point then gives the radius of the contact.

    Raises
    ------
    InputError
        If no press could have the stated dwell time or velocity.

    Examples
    --------
    >>> from scaleup.io.library import find_press
    >>> [round(each, 1) for each in roller_geometry(find_press("rotary-stated-17").profile, 15.9)]
    [302.9, 97.0]
    """
    pitch = profile.pitch_circle
    if pitch is None:
        pitch = _stated_pitch_circle(profile)
    roller = profile.main_roller.radius
    if roller is None:
        roller = _stated_contact_radius(profile, pitch) - head_edge_radius
        _check_roller(profile, roller, head_edge_radius)
    return pitch, roller


def roller_doubt(profile: RotaryProfile) -> str:
    """Return why the roller that stated values give on a usual head is doubtful, if it is.

    Raises
    ------
    InputError
        If no roller can be so.

    Examples
    --------
    >>> from scaleup.io.library import find_press
    >>> roller_doubt(find_press("rotary-stated-17").profile)
    ''
    """
    if profile.main_roller.radius is not None:
        return ""
    _, roller = roller_geometry(profile, USUAL_EDGE)
    oddity = _roller(roller, USUAL_EDGE)
    return "" if oddity.sense.is_usual(roller) else oddity.doubt


def _roller(radius: float, edge: float) -> Oddity:
    label = f"a roller radius by the stated values and heads rounded by {edge:g} mm"
    return Oddity("stated", label, radius, RANGES["roller.radius"], MEND)


def _check_roller(profile: RotaryProfile, roller: float, head_edge_radius: float) -> None:
    """Refuse stated values that take a roller which cannot be."""
    oddity = _roller(roller, head_edge_radius)
    if not oddity.possible:
        raise InputError(oddity.fault(profile.name))


def _stated_pitch_circle(profile: RotaryProfile) -> float:
    """Return the pitch circle in mm of a stated dwell time, refused from half a turn on."""
    stated = profile.stated
    if stated is None:
        raise ValueError("a profile without a pitch circle has stated values")
    if stated.dwell_time * stated.speed >= HALF_A_TURN:
        raise InputError(
            Fault(
                profile.name,
                "stated.dwell_time",
                f"{stated.dwell_time * 1e3:.4g} ms at {stated.speed:.4g} rpm",
                "a dwell time shorter than half a turn",
            )
        )
    return stated_circle(stated)


def _stated_contact_radius(profile: RotaryProfile, pitch: float) -> float:
    """Return the sum of roller and head edge radius in mm that gives the stated velocity."""
    stated = profile.stated
    if stated is None or stated.punch_velocity is None or stated.at_travel is None:
        raise ValueError("a profile without a roller radius has a stated velocity")
    velocity, travel = stated.punch_velocity, stated.at_travel
    low, high = 5.0 * travel, 0.9 * (pitch / 2.0 - stated.head_flat / 2.0) ** 2 / (2.0 * travel)

    def excess(reach: float) -> float:
        return _velocity(reach, travel, pitch, stated.head_flat, stated.speed) - velocity

    if high <= low or excess(low) < 0.0 or excess(high) > 0.0:
        raise InputError(
            Fault(
                profile.name,
                "stated.punch_velocity",
                f"{velocity:.4g} mm/s at {travel:.4g} mm and {stated.speed:.4g} rpm",
                "a velocity that a roller on the stated pitch circle can give",
                "Check the velocity, the distance at which it is stated and the speed.",
            )
        )
    return float(brentq(excess, low, high, xtol=1e-9))


def _velocity(reach: float, travel: float, pitch: float, flat: float, speed: float) -> float:
    across = sqrt(travel * (2.0 * reach - travel))
    angle = asin(min((across + flat / 2.0) / (pitch / 2.0), 1.0))
    return pitch / 2.0 * speed * pi / 30.0 * cos(angle) * across / (reach - travel)


@dataclass(frozen=True)
class Disagreement:
    """A stated value that the geometry of the same profile does not give."""

    what: str
    stated: float
    from_geometry: float
    unit: str

    @property
    def share(self) -> float:
        """Return by what share of the value from geometry the stated one is off."""
        return abs(self.stated / self.from_geometry - 1.0)


def disagreements(
    profile: RotaryProfile, head_edge_radius: float | None
) -> tuple[Disagreement, ...]:
    """Return the stated values that differ from the profile's geometry by more than 5 %.

    The velocity is left out where the head edge radius in mm is not known.

    Examples
    --------
    >>> from scaleup.io.library import find_press
    >>> disagreements(find_press("rotary-mid-19").profile, 15.9)
    ()
    """
    stated = profile.stated
    if stated is None or profile.pitch_circle is None:
        return ()
    omega = stated.speed * pi / 30.0
    dwell = 2.0 * asin(stated.head_flat / profile.pitch_circle) / omega
    compared = [Disagreement("dwell time", stated.dwell_time * 1e3, dwell * 1e3, "ms")]
    roller = profile.main_roller.radius
    if roller and head_edge_radius and stated.punch_velocity and stated.at_travel:
        velocity = _velocity(
            roller + head_edge_radius,
            stated.at_travel,
            profile.pitch_circle,
            stated.head_flat,
            stated.speed,
        )
        compared.append(Disagreement("punch velocity", stated.punch_velocity, velocity, "mm/s"))
    return tuple(item for item in compared if item.share > DISAGREEMENT)
