"""How far the parts of a press give way under force."""

from __future__ import annotations

import numpy as np

from scaleup.arrays import Array
from scaleup.checks import not_negative, positive
from scaleup.formula import equation


@equation(force="N", length="mm", diameter="mm", modulus="MPa")
def axial_shortening(force: Array, length: Array, diameter: Array, modulus: Array) -> Array:
    """Return by how many mm a round bar shortens under an axial force.

    ``force length / (modulus area)``, ``area = pi diameter**2/4``: Hooke's law, below yield.

    Parameters
    ----------
    force
        N, 0 or more.
    length
        Unloaded length of the bar in mm, above 0.
    diameter
        Diameter of the bar in mm, above 0.
    modulus
        Young's modulus in MPa, above 0; 210 000 for steel.

    Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If the force is negative or another argument is not above 0.

    Notes
    -----
    Source: Watt & Armstrong (eds), Tablet and Capsule Machine Instrumentation, Pharmaceutical
    Press 2008, p. 191: 40 kN on 101.4 mm of a 19 mm barrel, 68.1 µm.

    Examples
    --------
    >>> 1000 * axial_shortening(force=40e3, length=101.4, diameter=19, modulus=210e3)
    68.1
    """
    not_negative(force=force)
    return force / axial_stiffness(length, diameter, modulus)


@equation(length="mm", diameter="mm", modulus="MPa")
def axial_stiffness(length: Array, diameter: Array, modulus: Array) -> Array:
    """Return the force in N that shortens a round bar by 1 mm: ``modulus area / length``.

    Parameters
    ----------
    length
        Unloaded length of the bar in mm, above 0.
    diameter
        Diameter of the bar in mm, above 0.
    modulus
        Young's modulus in MPa, above 0; 210 000 for steel.

    Floats or arrays that broadcast; the result in N/mm has their common shape.

    Raises
    ------
    ValueError
        If an argument is not a finite number above 0.

    Notes
    -----
    Source: Hooke's law; the barrel of `axial_shortening`, 40 kN over 68.1 µm.

    Examples
    --------
    >>> axial_stiffness(length=101.4, diameter=19, modulus=210e3) / 1000
    587.2
    """
    positive(length=length, diameter=diameter, modulus=modulus)
    return modulus * np.pi * diameter**2 / (4.0 * length)


@equation(stiffness="N/mm")
def series_stiffness(*stiffness: Array) -> Array:
    """Return the stiffness of parts that carry the same force one after the other.

    ``1/k = sum(1/k_i)``.

    Parameters
    ----------
    *stiffness
        Stiffness of each part, all in one unit (N/mm in this package), above 0; at least one.
        Floats or arrays that broadcast; the result has their common shape.

    Raises
    ------
    ValueError
        If no part is given or a stiffness is not a finite number above 0.

    Notes
    -----
    Source: springs in series; the example's parts are two roller assemblies of a press of the
    16-station class, 8.58e4 and 5.18e4 kN/m (a thesis abstract).

    Examples
    --------
    >>> series_stiffness(85.8e3, 51.8e3) / 1000
    32.300
    """
    if not stiffness:
        raise ValueError("stiffness must name at least one part, found none")
    for part in stiffness:
        positive(stiffness=part)
    compliance: Array = sum((1.0 / part for part in stiffness), start=np.zeros(()))
    return 1.0 / compliance
