"""The strength curve at points worked out by hand, and its inverse."""

from __future__ import annotations

import numpy as np
import pytest

from scaleup.evidence.strength_curve import StrengthCurve

CURVE = StrengthCurve(np.array([10.0, 12.0]), np.array([8.0, 6.0]), np.array([1.0, 0.9]), True)


def test_a_tenth_of_pores_takes_a_tenth_of_the_exponent() -> None:
    """10 e^-0.8 and 12 e^-0.6; the feeder takes a tenth of the second."""
    solid = np.full(2, 0.9)
    assert CURVE.strength(solid) == pytest.approx([4.49329, 6.58574], rel=1e-5)
    assert CURVE.in_production(solid) == pytest.approx([4.49329, 5.92717], rel=1e-5)


def test_the_solid_fraction_of_a_strength() -> None:
    """Half of the strength of the solid takes ln 2 / b of pores; more than it, more than 1."""
    assert CURVE.solid_fraction(5.0)[0] == pytest.approx(1.0 - 0.693147 / 8.0)
    assert CURVE.solid_fraction(6.0)[1] == pytest.approx(1.0 - 0.693147 / 6.0)
    assert CURVE.solid_fraction(11.0)[0] > 1.0 > CURVE.solid_fraction(11.0)[1]
