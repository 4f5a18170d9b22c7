"""What lies between lab and plant, as a study states it: gauges, friction, shear, batches."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from scaleup.errors import field_fault
from scaleup.model.checked import Checked
from scaleup.model.fields import Measure, Share, Whole

TermName = Literal[
    "curvature", "gauges", "friction", "shear", "lot", "testers", "readings", "pulse"
]
TERMS: tuple[TermName, ...] = (
    "curvature",
    "gauges",
    "friction",
    "shear",
    "lot",
    "testers",
    "readings",
    "pulse",
)
"""Every term by the name a study switches it off with."""

SPREAD_OF_CURVATURE = 0.25
"""Standard deviation of the change of the rate exponent, as a share for each decade of dwell (a
judgement of this program)."""
LOT_STRENGTH, LOT_PRESSURE = 0.07, 0.03
"""Standard deviation of the strength of batches at equal solid fraction (Žagar & Mihelič,
Scientific Data 9:99 (2022): 6 to 9 % in 13 of 19 groups), and of the pressure that they take (a
judgement of this program)."""
SHEAR_MIDDLE, SHEAR_SPREAD = 0.90, 0.11
"""Strength of lubricated production tablets over that of lab tablets of equal solid fraction, and
the standard deviation of its logarithm (a judgement of this program, in keeping with a loss of
6.6 %, Akseli et al., AAPS PharmSciTech 12 (2011) 834)."""
UNSHEARED_SPREAD = 0.03
"""The same standard deviation without a lubricant, about 1 (a judgement of this program)."""
TESTER_SPREAD = 0.02
"""Standard deviation of what one breaking-force tester reads (a judgement of this program)."""
THICKNESS_SPREAD, WEIGHT_SPREAD, DENSITY_SPREAD = 0.01, 0.5, 0.005
"""Standard deviation in mm of a thickness gauge, in mg of a balance, and of a true density as a
share (judgements of this program)."""
FRICTION, FRICTION_LUBRICATED, FRICTION_FACTOR = 0.08, 0.05, 1.5
"""Coefficient of wall friction times the ratio of radial to axial pressure, of a plain and of a
lubricated die, and the factor that holds one standard deviation (from memory)."""

Turns = Annotated[int, Whole(1, 1000000)]
Volume = Annotated[float, Measure("mm^3", least=1e3, most=1e11)]
ACCURACY = 2.0
"""An accuracy, a half-width that holds 95 % as on a certificate, over the standard deviation."""
Accuracy = Annotated[float, Measure("1", least=0.0005, most=0.3)]
Spread = Annotated[float, Measure("1", least=0.005, most=1.0)]
"""None is 0: what is to count for nothing is switched off by name, and the screen says so."""


@dataclass(frozen=True, kw_only=True)
class Blending(Checked):
    """How a blend was turned with its lubricant: volume in mm³, share of headspace, turns.

    Examples
    --------
    A bin of 30 L, half full, turned 150 times:

    >>> round(Blending(volume=30e6, headspace=0.5, revolutions=150).shear, 2)
    233.04
    """

    volume: Volume
    headspace: Share
    """Share of the volume that is free."""
    revolutions: Turns | None = None
    """None where the run table has them."""

    def turned(self, revolutions: float) -> float:
        """Return ``K = V^(1/3) * headspace * revolutions``, in dm.

        Kushner & Moore, Int J Pharm 399 (2010) 19 (from memory).
        """
        return float((self.volume / 1e6) ** (1.0 / 3.0) * self.headspace * revolutions)

    @property
    def shear(self) -> float | None:
        """Return K of its own turns, None where they are not stated."""
        return None if self.revolutions is None else self.turned(self.revolutions)


@dataclass(frozen=True, kw_only=True)
class TransferTerms(Checked):
    """What a study states of the way from lab to plant; what it leaves out is assumed.

    Spreads are standard deviations, accuracies half-widths that hold 95 %.

    Examples
    --------
    >>> TransferTerms(off=("lot",)).has("lot"), TransferTerms().has("lot")
    (False, True)
    """

    off: tuple[TermName, ...] = ()
    """Terms that are left out of every band; a screen says so."""
    curvature: Spread = SPREAD_OF_CURVATURE
    """By which share the rate exponent may change for each decade of dwell."""
    wall_friction: Annotated[float, Measure("1", least=0.005, most=0.5)] | None = None
    """Wall friction times the ratio of radial to axial pressure, measured elsewhere."""
    wall_friction_factor: Annotated[float, Measure("1", least=1.01, most=10.0)] = FRICTION_FACTOR
    """One standard deviation of it, as a factor."""
    lubricated: bool | None = None
    """None: what the names of the blend's components say."""
    shear: Annotated[float, Measure("1", least=0.2, most=1.5)] | None = None
    """Strength in production over that in the lab at equal solid fraction."""
    shear_spread: Spread | None = None
    """Standard deviation of its logarithm."""
    same_blend: bool | None = None
    """Whether the lab runs were pressed from the blend that production presses."""
    lab_blender: Blending | None = None
    production_blender: Blending | None = None
    lot_strength: Spread | None = None
    """Standard deviation of the strength of batches at equal solid fraction."""
    lot_pressure: Spread | None = None
    """Standard deviation of the pressure that batches take."""
    gauge_ratio: Annotated[float, Measure("1", least=0.5, most=2.0)] | None = None
    """Force that the production gauge reads over that which the lab gauge reads of one load."""
    gauge_ratio_accuracy: Accuracy | None = None
    same_tester: bool = False
    """Whether one tester breaks the tablets of both sides."""
    tester_accuracy: Accuracy | None = None
    thickness_accuracy: Annotated[float, Measure("mm", least=0.0005, most=1.0)] | None = None
    weight_accuracy: Annotated[float, Measure("mg", least=0.01, most=100.0)] | None = None
    density_accuracy: Accuracy | None = None

    def has(self, term: TermName) -> bool:
        """Return whether a term counts."""
        return term not in self.off

    def check(self) -> None:
        """Refuse a spread without the value that it is the spread of."""
        pairs = (("shear", "shear_spread"), ("gauge_ratio", "gauge_ratio_accuracy"))
        for value, spread in pairs:
            if getattr(self, value) is None and getattr(self, spread) is not None:
                raise field_fault(f"{spread} without {value}", "both, or neither", where=spread)


NOTHING_STATED = TransferTerms()
"""A study that says nothing of the way from lab to plant."""
