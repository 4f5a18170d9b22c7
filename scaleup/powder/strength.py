"""Tensile strength from breaking force for the common tablet shapes, and back.

The force is that of a diametral compression test; the tablet must have failed in tension, split
along its diameter.
"""

from __future__ import annotations

import numpy as np

from scaleup.arrays import Array, Flags
from scaleup.checks import not_negative, positive, require
from scaleup.formula import equation

ELONGATED_SHARE = 2.0 / 3.0


def _area_flat(diameter: Array, thickness: Array) -> Array:
    """Return breaking force over strength in mm² of a round flat tablet."""
    positive(diameter=diameter, thickness=thickness)
    result: Array = np.pi * diameter * thickness / 2.0
    return result


def _area_convex(diameter: Array, thickness: Array, wall: Array, width_name: str) -> Array:
    """Return breaking force over strength in mm² of a round convex tablet."""
    positive(**{width_name: diameter}, thickness=thickness, wall=wall)
    require("wall", wall, wall <= thickness, "at most the overall thickness")
    shape = _shape_convex(diameter, thickness, wall)
    require("wall", wall, shape > 0.0, "high enough for the equation to hold")
    result: Array = np.pi * diameter**2 * shape / 10.0
    return result


def _shape_convex(diameter: Array, thickness: Array, wall: Array) -> Array:
    """Return the fitted term of Pitt, Newton & Stanley, a function of the tablet's shape alone."""
    thick = 2.84 * thickness / diameter - 0.126 * thickness / wall
    shape: Array = thick + 3.15 * wall / diameter + 0.01
    return shape


def convex_equation_holds(diameter: float, thickness: Array, wall: Array) -> Flags:
    """Return where the equations of convex and elongated tablets have a strength, as booleans.

    Lengths in mm; with almost no wall the fitted term turns negative.

    >>> convex_equation_holds(10.0, np.array([5.0, 5.0, 5.0]), np.array([3.0, 0.2, -0.1]))
    array([ True, False, False])
    """
    high = np.maximum(wall, 1e-9)
    holds: Flags = (wall > 0.0) & (_shape_convex(np.asarray(diameter), thickness, high) > 0.0)
    return holds


@equation(force="N", diameter="mm", thickness="mm")
def strength_round_flat(force: Array, diameter: Array, thickness: Array) -> Array:
    """Return the tensile strength in MPa of a round flat tablet: ``2 F / (pi D t)``.

    Parameters
    ----------
    force
        F, breaking force in N, 0 or more.
    diameter
        D in mm, above 0.
    thickness
        t in mm, above 0.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If the force is negative or a length is not above 0.

    Notes
    -----
    Source: Fell & Newton, J Pharm Sci 59 (1970) 688; USP <1217>.

    Examples
    --------
    >>> strength_round_flat(force=100, diameter=10, thickness=4)
    1.5915
    """
    not_negative(force=force)
    return force / _area_flat(diameter, thickness)


@equation(force="N", diameter="mm", thickness="mm", wall="mm")
def strength_round_convex(force: Array, diameter: Array, thickness: Array, wall: Array) -> Array:
    """Return the tensile strength in MPa of a round tablet with two convex faces.

    ``10 F / (pi D**2) / (2.84 t/D - 0.126 t/W + 3.15 W/D + 0.01)``. An empirical fit: with
    ``W = t`` it does not fall back to the flat equation (12 % apart at D 10, t 4), so a flat
    tablet takes `strength_round_flat`.

    Parameters
    ----------
    force
        F, breaking force in N, 0 or more.
    diameter
        D in mm, above 0.
    thickness
        t, overall thickness through both cups in mm, above 0.
    wall
        W, height of the wall in mm, above 0 and at most the thickness. The fit was made for W/D
        of 0.1 to 0.3 (from memory).

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If the force is negative, a length is not above 0, the wall is higher than the tablet, or
        so low that the fit turns negative.

    Notes
    -----
    Source: Pitt, Newton & Stanley, J Mater Sci 23 (1988) 2723; USP <1217>.

    Examples
    --------
    >>> strength_round_convex(force=100, diameter=10, thickness=5, wall=3)
    1.4703
    """
    not_negative(force=force)
    return force / _area_convex(diameter, thickness, wall, "diameter")


@equation(force="N", width="mm", thickness="mm", wall="mm")
def strength_elongated(force: Array, width: Array, thickness: Array, wall: Array) -> Array:
    """Return the tensile strength in MPa of an elongated tablet with two convex faces.

    Two thirds of `strength_round_convex` with the short axis as the diameter; the tablet is
    broken across its short axis. Holds only for a length above 1.7 times the width.

    Parameters
    ----------
    force
        F, breaking force in N, 0 or more.
    width
        Short axis in mm, above 0.
    thickness
        t, overall thickness through both cups in mm, above 0.
    wall
        W, height of the wall in mm, above 0 and at most the thickness.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        As `strength_round_convex`.

    Notes
    -----
    Source: Pitt & Heasley, Powder Technol 238 (2013) 169.

    Examples
    --------
    >>> strength_elongated(force=100, width=10, thickness=5, wall=3)
    0.9802
    """
    not_negative(force=force)
    return ELONGATED_SHARE * force / _area_convex(width, thickness, wall, "width")


@equation(strength="MPa", diameter="mm", thickness="mm")
def breaking_force_round_flat(strength: Array, diameter: Array, thickness: Array) -> Array:
    """Return the breaking force in N of a round flat tablet of known tensile strength.

    ``F = strength pi D t / 2``, the inverse of `strength_round_flat`.

    Parameters
    ----------
    strength
        MPa, 0 or more.
    diameter
        D in mm, above 0.
    thickness
        t in mm, above 0.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If the strength is negative or a length is not above 0.

    Notes
    -----
    Source: as `strength_round_flat`.

    Examples
    --------
    >>> breaking_force_round_flat(strength=1.7, diameter=10, thickness=4)
    106.81
    """
    not_negative(strength=strength)
    return strength * _area_flat(diameter, thickness)


@equation(strength="MPa", diameter="mm", thickness="mm", wall="mm")
def breaking_force_round_convex(
    strength: Array, diameter: Array, thickness: Array, wall: Array
) -> Array:
    """Return the breaking force in N of a round convex tablet of known tensile strength.

    The inverse of `strength_round_convex`.

    Parameters
    ----------
    strength
        MPa, 0 or more.
    diameter
        D in mm, above 0.
    thickness
        t, overall thickness through both cups in mm, above 0.
    wall
        W, height of the wall in mm, above 0 and at most the thickness.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If the strength is negative, or the dimensions are refused by `strength_round_convex`.

    Notes
    -----
    Source: as `strength_round_convex`.

    Examples
    --------
    >>> breaking_force_round_convex(strength=1.4703, diameter=10, thickness=5, wall=3)
    100.00
    """
    not_negative(strength=strength)
    return strength * _area_convex(diameter, thickness, wall, "diameter")


@equation(strength="MPa", width="mm", thickness="mm", wall="mm")
def breaking_force_elongated(strength: Array, width: Array, thickness: Array, wall: Array) -> Array:
    """Return the breaking force in N of an elongated convex tablet of known tensile strength.

    The inverse of `strength_elongated`.

    Parameters
    ----------
    strength
        MPa, 0 or more.
    width
        Short axis in mm, above 0.
    thickness
        t, overall thickness through both cups in mm, above 0.
    wall
        W, height of the wall in mm, above 0 and at most the thickness.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If the strength is negative, or the dimensions are refused by `strength_elongated`.

    Notes
    -----
    Source: as `strength_elongated`.

    Examples
    --------
    >>> breaking_force_elongated(strength=0.9802, width=10, thickness=5, wall=3)
    100.00
    """
    not_negative(strength=strength)
    return strength * _area_convex(width, thickness, wall, "width") / ELONGATED_SHARE
