"""Pitch circle and roller of a rotary press by a logged pulse: lengths that stand for the pulse."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from scaleup.arrays import Array
from scaleup.calibration.pulse_times import LABELS, FigureOfPulse, times_of
from scaleup.model.press_proportions import least_circle
from scaleup.model.profile_ranges import RANGES
from scaleup.model.tooling import ToolingProfile
from scaleup.powder.charge import Charge
from scaleup.powder.compression import compress
from scaleup.powder.hardening import Heckel
from scaleup.powder.law import Powder
from scaleup.powder.tip import tip_from
from scaleup.presses.press import Setting
from scaleup.presses.rotary import RollerContact, RotaryPress
from scaleup.short_repr import short_repr

ANY_YIELD, ANY_START, ANY_EXPONENT, ANY_ELASTIC = 120.0, 0.6, 0.032, 1000.0
"""A powder in the middle of the published ones, Heckel's Y and A, m and K in MPa, pressed where a
log does not say which it is (judgements of this program)."""
ANY_HEIGHT, ANY_DENSITY = 0.35, 1.5
"""Solid height of its tablet over the width of the tip, and its true density in g/cm³ (judgements
of this program)."""
POWDERS: dict[FigureOfPulse, float] = {"above_90": 0.03, "rise": 0.21, "contact": 0.15}
"""Standard deviation of ln of each time over powders, at one press and force (judgements of this
program: so the powders of the examples differ)."""
MATCHED = 0.10
"""Share by which the time above 90 % may be off, and a third of that by which the others may, for a
geometry to match the log (a judgement of this program)."""
SOLVED = 1e-5
"""Share by which the peak of a solved pulse may miss that of the log."""
STEP = 1e-3
"""Share of a length by which it is moved to see what that does."""
START_SHARE, SHARES = 1.0 / 3.0, (0.02, 0.6)
"""Roller radius over the pitch circle: where the search begins, and its ends (from memory)."""


@dataclass(frozen=True)
class Before:
    """The precompression before a logged pulse."""

    share: float = 0.0
    """Of the peak of the pulse."""
    radius: float | None = None
    """Of its roller, mm; None if there is none, or it is not known."""


NOTHING_BEFORE = Before()


@dataclass(frozen=True)
class Tablet:
    """What was pressed while the log was taken, as far as it is known."""

    weight: float | None = None
    """mg; a usual tablet of the tip if not known."""
    true_density: float = ANY_DENSITY
    """mg/mm³."""
    before: Before = NOTHING_BEFORE


@short_repr
@dataclass(frozen=True)
class EffectiveGeometry:
    """Lengths in mm with which a solved pulse comes closest to a logged one."""

    pitch_circle: float
    roller_radius: float
    pitch_spread: float
    """Standard deviation of its logarithm, by the powder that is not known; 0 if it was given."""
    roller_spread: float
    logged: dict[FigureOfPulse, float]
    """s."""
    solved: dict[FigureOfPulse, float]
    """s."""

    def off(self, name: FigureOfPulse) -> float:
        """Return by which share of the logged figure the solved one is off."""
        return self.solved[name] / self.logged[name] - 1.0

    @property
    def matches(self) -> bool:
        """Return whether a press as presses are gives a pulse like that of the log."""
        lengths = {"pitch_circle": self.pitch_circle, "roller.radius": self.roller_radius}
        if not all(RANGES[name].is_usual(length) for name, length in lengths.items()):
            return False
        loose = {"above_90": MATCHED, "rise": 3.0 * MATCHED, "contact": 3.0 * MATCHED}
        return all(abs(self.off(name)) <= loose[name] for name in LABELS)


@dataclass(frozen=True)
class _Search:
    """A tablet pressed on rotary presses that differ in two lengths."""

    tooling: ToolingProfile
    compliance: float
    force: float
    speed: float
    charge: Charge
    logged: dict[FigureOfPulse, float]
    before: Before

    def solved(self, pitch: float, roller: float) -> dict[FigureOfPulse, float]:
        """Return the times in s of the pulse with these lengths in mm."""
        flat, edge = self.tooling.head_flat, self.tooling.head_edge_radius
        if flat is None or edge is None:
            raise ValueError("a punch on a rotary press has a head")
        pre = None
        if self.before.radius is not None:
            pre = RollerContact(pitch, self.before.radius, edge, flat)
        press = RotaryPress(RollerContact(pitch, roller, edge, flat), pre, self.compliance)
        peak = np.array([self.force / self.charge.tip_area])
        setting = Setting(speed=self.speed)
        pulse = compress(press, any_powder(), self.charge, peak, setting, self.before.share, SOLVED)
        return {name: float(time[0]) for name, time in times_of(pulse).items()}

    def misses(self, lengths: Array, pitch: float | None) -> Array:
        """Return ln of solved over logged times, each over what powders make of it."""
        found = self.solved(*lengths_of(lengths, pitch))
        return np.array(
            [np.log(found[name] / self.logged[name]) / POWDERS[name] for name in LABELS]
        )


def lengths_of(logs: Array, pitch: float | None) -> tuple[float, float]:
    """Return pitch circle and roller radius in mm by ln(roller over circle) and ln(circle).

    >>> [round(each, 1) for each in lengths_of(np.log([0.25, 400.0]), None)]
    [400.0, 100.0]
    """
    circle = float(np.exp(logs[1])) if pitch is None else pitch
    least, most = RANGES["roller.radius"].can
    return circle, float(np.clip(np.exp(logs[0]) * circle, least, most))


def any_powder() -> Powder:
    """Return one draw of a powder in the middle of the published ones."""
    one = np.ones(1)
    hardening = Heckel(ANY_YIELD * one, ANY_START * one)
    return Powder(hardening, ANY_EXPONENT * one, ANY_ELASTIC * one, 0.0 * one, 0.0 * one)


def effective_geometry(
    logged: dict[FigureOfPulse, float],
    force: float,
    speed: float,
    tooling: ToolingProfile,
    compliance: float,
    tablet: Tablet,
    stations: int,
    pitch_circle: float | None = None,
) -> EffectiveGeometry:
    """Return the pitch circle and roller radius in mm whose pulse comes closest to a logged one.

    Least squares of ln of the times above 90 %, of rise and of contact, each over what it differs
    by between powders: the time above 90 % hardly hangs on the powder, rise and contact do.

    Parameters
    ----------
    logged
        Times in s.
    force, speed
        Peak in N, turret speed in rpm.
    tooling
        That of the log; its head flat and head edge radius are taken as they are.
    compliance
        mm/N by which press and punches give way.
    tablet
        What was pressed.
    stations
        For whose dies the pitch circle has to have room.
    pitch_circle
        mm, if it is known; the roller alone is looked for then.
    """
    tip = tip_from(tooling)
    usual = ANY_HEIGHT * tip.width * tip.area * tablet.true_density
    charge = tip.charge(tablet.weight or usual, tablet.true_density)
    search = _Search(tooling, compliance, force, speed, charge, logged, tablet.before)
    circle = pitch_circle or _first_circle(tooling, logged["above_90"], speed)
    shares, circles = np.log(SHARES), np.log(_circles(tooling, stations))
    bounds = np.array([shares] if pitch_circle else [shares, circles]).T
    start = np.log([START_SHARE] if pitch_circle else [START_SHARE, circle])
    start = np.clip(start, bounds[0] + 1e-6, bounds[1] - 1e-6)
    found = least_squares(
        search.misses, start, bounds=(bounds[0], bounds[1]), args=(pitch_circle,), xtol=1e-4,
        diff_step=np.full(start.size, STEP),
    )  # fmt: skip
    lengths = lengths_of(found.x, pitch_circle)
    spreads = _spreads(np.asarray(found.jac, dtype=np.float64))
    return EffectiveGeometry(*lengths, *spreads, logged, search.solved(*lengths))


def _circles(tooling: ToolingProfile, stations: int) -> tuple[float, float]:
    """Return the least and the largest pitch circle in mm that a turret can have."""
    least, most = RANGES["pitch_circle"].can
    return min(max(least, least_circle(tooling.standard, stations)), 0.9 * most), most


def _spreads(slopes: Array) -> tuple[float, float]:
    """Return standard deviations of ln(circle) and ln(roller) from slopes in share and circle."""
    known = np.linalg.pinv(slopes.T @ slopes)
    if len(known) == 1:
        return 0.0, float(np.sqrt(known[0, 0]))
    return float(np.sqrt(known[1, 1])), float(np.sqrt(known.sum()))


def _first_circle(tooling: ToolingProfile, above_90: float, speed: float) -> float:
    """Return about the pitch circle in mm: the flat takes most of the time above 90 %."""
    return (tooling.head_flat or 0.0) * 1.5 / (above_90 * speed * np.pi / 60.0)
