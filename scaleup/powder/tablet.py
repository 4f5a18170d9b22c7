"""What a tablet is by its weight and its dimensions."""

from __future__ import annotations

import numpy as np

from scaleup.arrays import Array
from scaleup.checks import not_negative, positive, require
from scaleup.formula import equation
from scaleup.model.blend import mixed_density
from scaleup.model.tooling import cap_volume

SHARES_TOLERANCE = 1e-6  # shares typed in per cent with four decimals add up to 1 this closely


@equation(weight="mg", volume="mm^3", true_density="mg/mm^3")
def solid_fraction(weight: Array, volume: Array, true_density: Array) -> Array:
    """Return the share of a tablet's volume that is solid; its porosity is 1 less this.

    ``SF = weight / (true_density volume)``.

    Parameters
    ----------
    weight
        mg, above 0.
    volume
        Envelope volume of the tablet in mm³, above 0.
    true_density
        mg/mm³ (g/cm³), above 0.

    Floats or arrays that broadcast; the result, above 0 and at most 1, has their common shape.

    Raises
    ------
    ValueError
        If an argument is not above 0 or the tablet would be denser than its pore-free powder.

    Notes
    -----
    Source: USP <1062>, Tablet Compression Characterization.

    Examples
    --------
    300 mg in a flat tablet of 10 mm and thickness 3.00 mm, 1.54 g/cm³:

    >>> solid_fraction(weight=300, volume=np.pi * 10**2 / 4 * 3.00, true_density=1.54)
    0.8268
    """
    positive(weight=weight, volume=volume, true_density=true_density)
    fraction = weight / (true_density * volume)
    require(
        "solid fraction (weight over true density and volume)",
        fraction,
        fraction <= 1.0,
        "at most 1",
    )
    return fraction


@equation(force="N", perimeter="mm", wall="mm")
def ejection_stress(force: Array, perimeter: Array, wall: Array) -> Array:
    """Return the shear stress in MPa between tablet wall and die during ejection.

    ``tau = force / (perimeter wall)``.

    Parameters
    ----------
    force
        Ejection force in N, 0 or more.
    perimeter
        Perimeter of the die bore in mm, above 0; ``pi D`` for a round tablet.
    wall
        Height of the tablet's wall (band) in mm, above 0.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If the force is negative or a length is not above 0.

    Notes
    -----
    Source: USP <1062>, Tablet Compression Characterization.

    Examples
    --------
    >>> ejection_stress(force=300, perimeter=np.pi * 10, wall=3)
    3.183
    """
    not_negative(force=force)
    positive(perimeter=perimeter, wall=wall)
    return force / (perimeter * wall)


@equation(depth="mm", radius="mm")
def convex_cup_volume(depth: Array, radius: Array) -> Array:
    """Return the volume in mm³ of one cup of a round convex tip: a spherical cap.

    ``V = pi h (3 a**2 + h**2) / 6``.

    Parameters
    ----------
    depth
        h, depth of the cup in mm, from 0 (flat) to the radius (a hemisphere).
    radius
        a, radius of the tip in mm, above 0.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If a length is impossible or the cup is deeper than a hemisphere.

    Notes
    -----
    Source: solid geometry; at ``h = a`` half of a sphere, ``2/3 pi a**3``.

    Examples
    --------
    >>> convex_cup_volume(depth=3, radius=3) / np.pi
    18.0
    """
    positive(radius=radius)
    not_negative(depth=depth)
    require("depth", depth, depth <= radius, "at most the radius of the tip")
    volume: Array = cap_volume(depth, radius)
    return volume


@equation(shares="1", densities="mg/mm^3")
def blend_true_density(shares: Array, densities: Array) -> Array:
    """Return the true density in mg/mm³ of a blend.

    ``1/rho = sum(w_i / rho_i)``: the volumes of the components add up.

    Parameters
    ----------
    shares
        Mass fractions w of the components, 0 or more, adding up to 1, shape (components,).
    densities
        True densities rho in mg/mm³ (g/cm³), above 0, shape (components,) or
        (components, draws).

    The result is a float, or of shape (draws,).

    Raises
    ------
    ValueError
        If a share is negative, the shares do not add up to 1, a density is not above 0, or there
        is not one density for each share.

    Notes
    -----
    Source: the mixture rule for components that do not dissolve in one another.

    Examples
    --------
    >>> blend_true_density(shares=[0.70, 0.29, 0.01], densities=[1.55, 1.54, 1.09])
    1.5406
    """
    not_negative(shares=shares)
    positive(densities=densities)
    if shares.ndim != 1 or densities.shape[:1] != shares.shape:
        raise ValueError(
            "densities must hold one value for each share, "
            f"found {densities.shape[0] if densities.ndim else 1} for {shares.size}"
        )
    total = shares.sum()
    require("shares", total, np.abs(total - 1.0) <= SHARES_TOLERANCE, "parts that add up to 1")
    result: Array = np.asarray(mixed_density(list(shares), list(densities)))
    return result


@equation(in_die="mm", ejected="mm")
def elastic_recovery(in_die: Array, ejected: Array) -> Array:
    """Return by which share of its thickness under peak force a tablet grew after ejection.

    ``ER = (ejected - in_die) / in_die``; negative if the tablet shrank.

    Parameters
    ----------
    in_die
        Thickness in mm in the die under peak force, above 0.
    ejected
        Thickness in mm after ejection, above 0.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If a thickness is not above 0.

    Notes
    -----
    Source: the usual definition of axial recovery, Armstrong & Haines-Nutt, J Pharm Pharmacol 24
    (1972) 135P (from memory).

    Examples
    --------
    >>> elastic_recovery(in_die=4.00, ejected=4.20)
    0.0500
    """
    positive(in_die=in_die, ejected=ejected)
    return (ejected - in_die) / in_die
