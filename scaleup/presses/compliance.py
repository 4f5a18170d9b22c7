"""How far the tips give way under load."""

from __future__ import annotations

from scaleup.model.tooling import ToolingProfile
from scaleup.presses.deflection import axial_shortening


def series_compliance(stiffness: float | None, tooling: ToolingProfile, punches: int) -> float:
    """Return the give of frame, rollers and punch barrels together in mm/N.

    Parts in series add their compliances: ``1/k = 1/k_frame + n l/(E A)``. What the profiles do
    not state counts as rigid, and is reported where it matters.

    Examples
    --------
    >>> from scaleup.io.library import find_tooling
    >>> tooling = find_tooling("b-flat-10").profile
    >>> round(1e6 * series_compliance(160e3, tooling, punches=2), 3)
    10.738
    """
    frame = 0.0 if stiffness is None else 1.0 / stiffness
    barrel, length, modulus = tooling.barrel_diameter, tooling.punch_length, tooling.modulus
    if barrel is None or length is None or modulus is None:
        return frame
    return frame + punches * float(axial_shortening(1.0, length, barrel, modulus))
