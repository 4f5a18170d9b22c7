"""Orders and magnitudes that published experiments give and the law must reproduce.

Armstrong & Palfrey 1989, as reported in Watt & Armstrong (eds), Tablet and Capsule Machine
Instrumentation (2008), p. 212: on one eccentric press, from 24 to 160 tablets/min, a compressible
starch loses nearly 40 % of its strength, an inorganic filler hardly any.

Rees & Rue, J Pharm Pharmacol 30 (1978) 601: from 0.17 to 10 s of contact dicalcium phosphate gains
no consolidation; the gain of lactose, cellulose and starch grows in this order.

Rate exponents come from the published table, Y, K, b and the press are usual values (from memory),
so only order and magnitude are tested.
"""

from __future__ import annotations

import numpy as np
import pytest

from scaleup.calibration.prior import exponent_of
from scaleup.io.materials import material
from scaleup.powder.charge import Charge
from scaleup.powder.compression import press_to
from scaleup.powder.hardening import Heckel
from scaleup.powder.law import Powder
from scaleup.presses.eccentric import EccentricPress
from scaleup.presses.press import Setting

AREA = np.pi * 25.0
ONE = np.ones(1)


def solid_fraction(name: str, yield_pressure: float, speed: float) -> float:
    powder = Powder(
        Heckel(yield_pressure * ONE, 0.6 * ONE),
        exponent_of(material(name)) * ONE,
        6.0 * yield_pressure * ONE,
        0.0 * ONE,
        0.0 * ONE,
    )
    stroke = EccentricPress(20.0, 160.0, 0.0).motion(0.0, Setting(speed=speed))
    pulse = press_to(stroke, powder, Charge(400.0, 1.5, AREA), 150.0 * ONE)
    return float(powder.solid_fraction(pulse.static_pressure)[0])


@pytest.mark.parametrize(
    ("name", "yield_pressure", "least", "most"),
    [("maize starch", 80.0, 0.20, 0.50), ("calcium phosphate", 400.0, -0.001, 0.02)],
)
def test_strength_lost_from_24_to_160_tablets_a_minute(
    name: str, yield_pressure: float, least: float, most: float
) -> None:
    slow, fast = (solid_fraction(name, yield_pressure, speed) for speed in (24.0, 160.0))
    loss = 1.0 - np.exp(-12.0 * (slow - fast))
    assert least < loss < most


def test_gain_with_contact_time_is_ordered_as_published() -> None:
    names = ("calcium phosphate", "lactose alpha-monohydrate", "microcrystalline cellulose",
             "maize starch")  # fmt: skip
    gains = [(10.0 / 0.17) ** exponent_of(material(name)) - 1.0 for name in names]
    assert gains[0] == 0.0
    assert gains == sorted(gains)
    assert len(set(gains)) == len(gains)
