"""Friction of powder on the die wall: what of the pressure on the tip reaches the powder."""

from __future__ import annotations

import numpy as np

from scaleup.arrays import Array
from scaleup.checks import not_negative, positive, require
from scaleup.formula import equation


@equation(friction="1", height="mm", width="mm")
def mean_pressure_share(friction: Array, height: Array, width: Array, sides: str = "one") -> Array:
    """Return the mean pressure in the powder over the pressure on the moving tip.

    With ``k = 4 mu kappa H / D`` it is ``(1 - exp(-k))/k`` where one punch moves, and
    ``(1 - exp(-k/2))/(k/2)`` where both do, each pressing half of the height.

    Parameters
    ----------
    friction
        mu kappa: wall friction times the ratio of radial to axial pressure, 0 or more.
    height
        H under load in mm, above 0.
    width
        D in mm, above 0: the diameter, or four times the area over the perimeter.
    sides
        "one" or "two".

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    Source: the pressure falls exponentially from the moving tip (Janssen 1895; Walker, Trans
    Faraday Soc 19 (1923) 73, from memory), averaged over the height.

    Examples
    --------
    >>> mean_pressure_share(friction=0.08, height=4, width=10, sides="one")
    0.93864
    >>> mean_pressure_share(friction=0.08, height=4, width=10, sides="two")
    0.96867
    """
    not_negative(friction=friction)
    positive(height=height, width=width)
    if sides not in ("one", "two"):
        raise ValueError(f'sides must be "one" or "two", found "{sides}"')
    k = 4.0 * friction * height / width / (1.0 if sides == "one" else 2.0)
    small = np.maximum(k, 1e-12)
    share: Array = -np.expm1(-small) / small
    return share


@equation(upper="N", lower="N", height="mm", width="mm")
def wall_friction(upper: Array, lower: Array, height: Array, width: Array) -> Array:
    """Return mu kappa from the forces on both punches where only the upper one moves.

    ``k = ln(F_upper/F_lower)`` and ``mu kappa = k D / (4 H)``.

    Parameters
    ----------
    upper, lower
        Peak forces in N, the upper not below the lower, both above 0.
    height, width
        H under load and D as in `mean_pressure_share`, in mm.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    Source: as `mean_pressure_share`.

    Examples
    --------
    >>> wall_friction(upper=12000, lower=10560, height=4, width=10)
    0.079896
    """
    positive(upper=upper, lower=lower, height=height, width=width)
    require("lower", lower, lower <= upper, "not above the force on the upper punch")
    friction: Array = np.log(upper / lower) * width / (4.0 * height)
    return friction
