"""How far a punch stands above its deepest point, and how fast it moves there.

A rotary press moves both punches alike, so its tips are further apart than at dead centre by
twice the travel of one punch. An eccentric press moves the upper punch only.
"""

from __future__ import annotations

import numpy as np

from scaleup.arrays import Array
from scaleup.checks import not_negative, positive, require
from scaleup.formula import equation


def _check_head(
    pitch_circle: Array, roller_radius: Array, head_edge_radius: Array, head_flat: Array
) -> None:
    positive(pitch_circle=pitch_circle, roller_radius=roller_radius)
    not_negative(head_edge_radius=head_edge_radius, head_flat=head_flat)
    require("head_flat", head_flat, head_flat < pitch_circle, "smaller than the pitch circle")


def _past_flat(angle: Array, pitch_circle: Array, reach: Array, head_flat: Array) -> Array:
    """Return u in mm: how far the contact lies beyond the edge of the flat, 0 on the flat."""
    require("angle", angle, np.abs(angle) < np.pi / 2, "within 90 degrees of dead centre")
    past: Array = np.maximum(pitch_circle / 2.0 * np.abs(np.sin(angle)) - head_flat / 2.0, 0.0)
    require("angle", angle, past < reach, "small enough for the head to touch the roller")
    return past


@equation(angle="rad", pitch_circle="mm", roller_radius="mm", head_edge_radius="mm", head_flat="mm")
def punch_travel(
    angle: Array,
    pitch_circle: Array,
    roller_radius: Array,
    head_edge_radius: Array,
    head_flat: Array,
) -> Array:
    """Return the distance in mm of a rotary punch above its deepest point.

    ``z = R - sqrt(R**2 - u**2)``, ``u = max(r3 |sin(angle)| - x2, 0)``, ``R = r1 + r2`` with r1
    the roller radius, r2 the head edge radius, r3 half the pitch circle and x2 half the head
    flat. Valid while the roller touches the rounded edge of the head, that is while ``u/R`` is at
    most ``(head radius - x2)/r2``; beyond that the head is guided by its cam.

    Parameters
    ----------
    angle
        Turret angle from dead centre in rad, within ±pi/2; the sign makes no difference.
    pitch_circle
        Diameter of the circle on which the punches turn in mm, above 0.
    roller_radius
        Radius of the pressure roller in mm, above 0.
    head_edge_radius
        Radius of the rounded edge of the punch head in mm, 0 or more.
    head_flat
        Diameter of the flat on the punch head in mm, 0 or more, smaller than the pitch circle.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If a length is impossible or the roller is out of reach of the head at this angle.

    Notes
    -----
    Source: Rippie & Danielson, J Pharm Sci 70 (1981) 476; Charlton & Newton 1984 give the same.

    Examples
    --------
    >>> punch_travel(np.radians(5), 410, 125, 15.875, 9.525)
    0.61082
    """
    _check_head(pitch_circle, roller_radius, head_edge_radius, head_flat)
    reach = roller_radius + head_edge_radius
    past = _past_flat(angle, pitch_circle, reach, head_flat)
    result: Array = past**2 / (reach + np.sqrt(reach**2 - past**2))
    return result


@equation(
    angle="rad",
    pitch_circle="mm",
    roller_radius="mm",
    head_edge_radius="mm",
    head_flat="mm",
    speed="rpm",
)
def punch_velocity(
    angle: Array,
    pitch_circle: Array,
    roller_radius: Array,
    head_edge_radius: Array,
    head_flat: Array,
    speed: Array,
) -> Array:
    """Return the velocity in mm/s of a rotary punch, positive while it rises from its deepest.

    ``dz/dt = r3 omega cos(angle) u / sqrt(R**2 - u**2)`` with the sign of the angle; the symbols
    and their range are those of `punch_travel`, ``omega = 2 pi speed/60``. The tips of a press
    with two moving punches part at twice this velocity.

    Parameters
    ----------
    angle
        Turret angle from dead centre in rad, within ±pi/2, negative on the way in.
    pitch_circle
        Diameter of the circle on which the punches turn in mm, above 0.
    roller_radius
        Radius of the pressure roller in mm, above 0.
    head_edge_radius
        Radius of the rounded edge of the punch head in mm, 0 or more.
    head_flat
        Diameter of the flat on the punch head in mm, 0 or more, smaller than the pitch circle.
    speed
        Turret speed in rev/min, 0 or more.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If a length or the speed is impossible or the roller is out of reach of the head.

    Notes
    -----
    Source: the time derivative of `punch_travel`; Rippie & Danielson, J Pharm Sci 70 (1981) 476.

    Examples
    --------
    >>> punch_velocity(np.radians(5), 410, 125, 15.875, 9.525, speed=40)
    79.920
    """
    _check_head(pitch_circle, roller_radius, head_edge_radius, head_flat)
    not_negative(speed=speed)
    reach = roller_radius + head_edge_radius
    past = _past_flat(angle, pitch_circle, reach, head_flat)
    sideways = np.sign(angle) * np.pi * pitch_circle * speed / 60.0 * np.cos(angle)
    result: Array = sideways * past / np.sqrt(reach**2 - past**2)
    return result


@equation(travel="mm", pitch_circle="mm", roller_radius="mm", head_edge_radius="mm", head_flat="mm")
def punch_angle(
    travel: Array,
    pitch_circle: Array,
    roller_radius: Array,
    head_edge_radius: Array,
    head_flat: Array,
) -> Array:
    """Return the turret angle in rad past dead centre at which a rotary punch has this travel.

    The inverse of `punch_travel`: ``u = sqrt(2 R z - z**2)``, ``sin(angle) = (u + x2)/r3``. At
    travel 0 it is the angle at which the roller leaves the flat.

    Parameters
    ----------
    travel
        Distance above the deepest point in mm, from 0 to less than ``r1 + r2``.
    pitch_circle
        Diameter of the circle on which the punches turn in mm, above 0.
    roller_radius
        Radius of the pressure roller in mm, above 0.
    head_edge_radius
        Radius of the rounded edge of the punch head in mm, 0 or more.
    head_flat
        Diameter of the flat on the punch head in mm, 0 or more, smaller than the pitch circle.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If a length is impossible or the punch never stands that high.

    Notes
    -----
    Source: `punch_travel` solved for the angle.

    Examples
    --------
    >>> punch_angle(2.0, 410, 125, 15.875, 9.525) * 180 / np.pi
    7.9678
    """
    _check_head(pitch_circle, roller_radius, head_edge_radius, head_flat)
    reach = roller_radius + head_edge_radius
    not_negative(travel=travel)
    require("travel", travel, travel < reach, "less than roller radius and head edge radius")
    past = np.sqrt(travel * (2.0 * reach - travel))
    sine = (2.0 * past + head_flat) / pitch_circle
    require("travel", travel, sine < 1.0, "a height that the punch reaches on this turret")
    result: Array = np.arcsin(sine)
    return result


def _check_crank(crank_radius: Array, link_length: Array) -> None:
    positive(crank_radius=crank_radius)
    require("link_length", link_length, link_length > crank_radius, "longer than the crank radius")


@equation(angle="rad", crank_radius="mm", link_length="mm")
def crank_travel(angle: Array, crank_radius: Array, link_length: Array) -> Array:
    """Return the distance in mm of an eccentric press's punch above its deepest point.

    ``y = e (1 - cos(angle)) + L - sqrt(L**2 - e**2 sin(angle)**2)``: a slider and crank.

    Parameters
    ----------
    angle
        Crank angle from bottom dead centre in rad, any value.
    crank_radius
        e, the eccentricity, half of the stroke, in mm, above 0.
    link_length
        L, length of the connecting rod in mm, longer than the crank radius.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If a length is not above 0 or the rod is too short for the crank to turn.

    Notes
    -----
    Source: Armstrong et al. 1983; the kinematics of the slider-crank.

    Examples
    --------
    >>> crank_travel(np.radians(20), crank_radius=20, link_length=160)
    1.35244
    """
    _check_crank(crank_radius, link_length)
    side = crank_radius * np.sin(angle)
    tilt = side**2 / (link_length + np.sqrt(link_length**2 - side**2))
    result: Array = 2.0 * crank_radius * np.sin(angle / 2.0) ** 2 + tilt
    return result


@equation(angle="rad", crank_radius="mm", link_length="mm", speed="rpm")
def crank_velocity(angle: Array, crank_radius: Array, link_length: Array, speed: Array) -> Array:
    """Return the velocity in mm/s of an eccentric press's punch, positive while it rises.

    ``dy/dt = omega e sin(angle) (1 + e cos(angle) / sqrt(L**2 - e**2 sin(angle)**2))``, the time
    derivative of `crank_travel` at ``omega = 2 pi speed/60``.

    Parameters
    ----------
    angle
        Crank angle from bottom dead centre in rad, any value, negative on the way in.
    crank_radius
        e, the eccentricity, half of the stroke, in mm, above 0.
    link_length
        L, length of the connecting rod in mm, longer than the crank radius.
    speed
        Strokes per minute, 0 or more.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If a length or the speed is impossible or the rod is too short for the crank to turn.

    Notes
    -----
    Source: Armstrong et al. 1983; the kinematics of the slider-crank.

    Examples
    --------
    >>> crank_velocity(np.radians(20), crank_radius=20, link_length=160, speed=60)
    48.0326
    """
    _check_crank(crank_radius, link_length)
    not_negative(speed=speed)
    side = crank_radius * np.sin(angle)
    lever = 1.0 + crank_radius * np.cos(angle) / np.sqrt(link_length**2 - side**2)
    result: Array = np.pi * speed / 30.0 * side * lever
    return result


@equation(travel="mm", crank_radius="mm", link_length="mm")
def crank_angle(travel: Array, crank_radius: Array, link_length: Array) -> Array:
    """Return the crank angle in rad past bottom dead centre at which the punch has this travel.

    The inverse of `crank_travel`: ``1 - cos(angle) = y (2 L - y) / (2 e (e + L - y))``.

    Parameters
    ----------
    travel
        Distance above the deepest point in mm, from 0 to twice the crank radius.
    crank_radius
        e, the eccentricity, half of the stroke, in mm, above 0.
    link_length
        L, length of the connecting rod in mm, longer than the crank radius.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If a length is impossible or the travel is longer than the stroke.

    Notes
    -----
    Source: `crank_travel` solved for the angle, by the law of cosines.

    Examples
    --------
    >>> crank_angle(1.35244, crank_radius=20, link_length=160) * 180 / np.pi
    20.000
    """
    _check_crank(crank_radius, link_length)
    not_negative(travel=travel)
    require("travel", travel, travel <= 2.0 * crank_radius, "at most twice the crank radius")
    lift = travel * (2.0 * link_length - travel)
    versine = lift / (2.0 * crank_radius * (crank_radius + link_length - travel))
    result: Array = 2.0 * np.arcsin(np.sqrt(np.minimum(versine / 2.0, 1.0)))
    return result
