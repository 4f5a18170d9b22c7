"""What an operating point must keep to: of the machine, and of the tablet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from scaleup.arrays import Array
from scaleup.model.study import ProductionSide, Study
from scaleup.presses.rotary import arc_time
from scaleup.sentence import Fact, Sentence, Words
from scaleup.transfer.operating_point import OperatingPoint
from scaleup.transfer.process_model import ProcessModel
from scaleup.transfer.settings import LOW_WALL

ROUNDING = 1e-9
"""Share of a bound within which a figure counts as on it."""
USUAL_SOLID_FRACTION = "80 % to 90 %"
"""Window of the solid fraction where a study states none (common practice), as in its table."""
SHORT_FEED = 0.10
"""s under the feeder below which a die may not fill (from memory)."""

LETTERS = {
    "main-roller": "M",
    "tip-rating": "T",
    "pre-roller": "P",
    "ejection-force": "E",
    "cup-fill": "C",
    "tip-separation": "G",
    "speed-high": "F",
    "speed-low": "S",
    "output": "H",
    "solid-fraction-low": "L",
    "solid-fraction-high": "D",
    "strength": "W",
    "feed-time": "A",
    "seen-above": "K",
    "seen-below": "Y",
    "tested-pressure": "U",
    "tested-dwell": "B",
}
"""The letter of every limit on a map, by its code: the same in every study. (Main roller, Tips,
Precompression, Ejection, Cups, Gap of the tips, Fast, Slow, per Hour, Loose, Dense, Weak, Arc,
Kept below a defect seen, Yet above one seen, Untested, Brief.)"""

Figure = Callable[[OperatingPoint], "Array | None"]
Lacks = Callable[[OperatingPoint], Words]


@dataclass(frozen=True)
class Limit:
    """A bound on one figure of an operating point."""

    code: str
    label: str
    of: Literal["machine", "tablet", "evidence"]
    unit: str
    bound: float
    side: Literal["at most", "at least"]
    figure: Figure
    absent: str = ""
    """Why a draw may have no such figure."""
    scale: float | None = None
    """What the room is a share of, in the unit; the bound if absent."""
    lacks: Lacks | None = None
    """What is not known where the bound is broken, as a sentence: breaking it is then a lack of
    evidence and no reason against the setting. None for a firm limit."""

    @property
    def firm(self) -> bool:
        """Return whether breaking the bound speaks against the setting."""
        return self.lacks is None

    @property
    def letter(self) -> str:
        """Return the letter that stands for the limit on a map."""
        return LETTERS[self.code]

    def holds(self, point: OperatingPoint) -> Array:
        """Return for each draw 1 where the bound is kept and 0 where not, (..., draws)."""
        value = self.figure(point)
        if value is None:
            return np.zeros(point.pressure.shape)
        slack = ROUNDING * abs(self.bound)
        most, least = self.bound + slack, self.bound - slack
        kept = value <= most if self.side == "at most" else value >= least
        return np.broadcast_to(kept, point.pressure.shape).astype(np.float64)

    def room(self, point: OperatingPoint) -> Array | None:
        """Return the share of the bound that is left, below 0 beyond it; None if not known.

        Of a bound of 0 it is a share of the scale.
        """
        value = self.figure(point)
        if value is None:
            return None
        left = (value - self.bound) / (self.scale or self.bound)
        return -left if self.side == "at most" else left

    def middle(self, point: OperatingPoint) -> float:
        """Return the median of the figure; not-a-number if it cannot be had."""
        value = self.figure(point)
        return float("nan") if value is None else float(np.median(value))

    def fact(self, value: float) -> Fact:
        """Return a value of the figure with its unit."""
        return Fact(value, self.unit)


def limits_of(study: Study, process: ProcessModel) -> tuple[Limit, ...]:
    """Return the limits that the profiles and the study state.

    Only the window of the solid fraction is the usual one where the study states none.
    """
    return (*_machine_limits(process), *_output_limits(study), *_tablet_limits(study))


def _output_limits(study: Study) -> list[Limit]:
    wanted = study.target.output
    if wanted is None:
        return []
    return [Limit("output", "output", "machine", "1/h", wanted, "at least", _output)]


def _machine_limits(process: ProcessModel) -> list[Limit]:
    press, tooling = process.production.press.profile, process.production.tooling.profile
    pre = press.pre_roller if process.pre_share > 0.0 else None
    bounds: list[tuple[str, str, float | None, Figure]] = [
        ("main-roller", "main roller force", press.main_roller.force_limit, _force),
        ("tip-rating", "tip force", tooling.tip_force_rating, _force),
        (
            "pre-roller",
            "precompression force",
            None if pre is None else pre.force_limit,
            _pre_force,
        ),
        (
            "ejection-force",
            "ejection force",
            press.ejection_limit if process.fit.ejection is not None else None,
            _ejection_force,
        ),
    ]
    forces = [
        Limit(code, label, "machine", "N", bound, "at most", figure)
        for code, label, bound, figure in bounds
        if bound is not None
    ]
    fastest, slowest = "turret speed, fastest", "turret speed, slowest"
    return [
        *forces,
        *_tip_limits(process),
        Limit("speed-high", fastest, "machine", "rpm", press.speed.max, "at most", _speed),
        Limit("speed-low", slowest, "machine", "rpm", press.speed.min, "at least", _speed),
    ]


def _tip_limits(process: ProcessModel) -> list[Limit]:
    """Return that the tips stay apart: set without load, and on the powder.

    On the powder only where pore-free powder fits into the cups; without load only where the press
    or its punches give way, for otherwise the one is the other.
    """
    return [*_unloaded(process), *_on_the_powder(process)]


def _unloaded(process: ProcessModel) -> list[Limit]:
    if process.side.press.compliance == 0.0:
        return []
    label, height = "tip separation, set without load", process.charge.solid_height
    return [
        Limit(
            "tip-separation", label, "machine", "mm", 0.0, "at least", _tip_separation, scale=height
        )
    ]


def _on_the_powder(process: ProcessModel) -> list[Limit]:
    charge = process.charge
    if charge.cup_volume == 0.0 or charge.pore_free_separation > 0.0:
        return []
    label = "powder volume over cup volume"
    return [Limit("cup-fill", label, "machine", "1", 1.0, "at least", _cup_fill)]


def filling_limits(production: ProductionSide) -> tuple[Limit, ...]:
    """Return the limits that are watched but stop nothing: the time a die is under the feeder.

    That a die needs 0.1 s is from memory, so it does not decide.
    """
    arc = production.press.profile.feeder_arc
    if arc is None:
        return ()

    def time(point: OperatingPoint) -> Array:
        return np.full(point.pressure.shape, arc_time(arc, point.speed))

    return (
        Limit("feed-time", "time under the feeder", "machine", "s", SHORT_FEED, "at least", time),
    )


def _force(point: OperatingPoint) -> Array:
    return point.force


def _pre_force(point: OperatingPoint) -> Array:
    return point.pre_force


def _ejection_force(point: OperatingPoint) -> Array | None:
    return point.ejection_force


def _tip_separation(point: OperatingPoint) -> Array:
    return point.tip_separation


def _cup_fill(point: OperatingPoint) -> Array:
    return point.cup_fill


def _speed(point: OperatingPoint) -> Array:
    return np.full(point.pressure.shape, point.speed)


def _output(point: OperatingPoint) -> Array:
    return np.full(point.pressure.shape, point.process.production.output(point.speed))


def _solid_fraction(point: OperatingPoint) -> Array:
    return point.solid_fraction


def _strength(point: OperatingPoint) -> Array | None:
    return point.strength


def _breaking_force(point: OperatingPoint) -> Array | None:
    return point.breaking_force


def _tablet_limits(study: Study) -> list[Limit]:
    target = study.target
    low, high = target.solid_fraction.min, target.solid_fraction.max
    lacks = None if target.states_solid_fraction else _window_not_stated
    limits = [
        Limit(
            "solid-fraction-low",
            "solid fraction, lowest",
            "tablet",
            "1",
            low,
            "at least",
            _solid_fraction,
            lacks=lacks,
        ),
        Limit(
            "solid-fraction-high",
            "solid fraction, highest",
            "tablet",
            "1",
            high,
            "at most",
            _solid_fraction,
            lacks=lacks,
        ),
    ]
    wanted: list[tuple[str, str, float | None, Figure, str]] = [
        ("tensile strength", "MPa", target.strength, _strength, ""),
        ("breaking force", "N", target.breaking_force, _breaking_force, LOW_WALL),
    ]
    limits += [
        Limit("strength", label, "tablet", unit, bound, "at least", figure, absent)
        for label, unit, bound, figure, absent in wanted
        if bound is not None
    ]
    return limits


def _window_not_stated(point: OperatingPoint) -> Sentence:
    return Sentence(
        "the solid fraction is then {solid_fraction:.3f}, outside the usual {usual}, which is held "
        "against the tablet since the study states none: state solid_fraction in [target]",
        solid_fraction=float(np.median(point.solid_fraction)),
        usual=USUAL_SOLID_FRACTION,
    )


def all_kept(limits: tuple[Limit, ...], point: OperatingPoint) -> Array:
    """Return for each draw 1 where every limit is kept and 0 where one is not, (..., draws)."""
    kept = np.ones(point.pressure.shape)
    for limit in limits:
        kept = kept * limit.holds(point)
    return kept


def share_within(limits: tuple[Limit, ...], point: OperatingPoint) -> float:
    """Return the share of draws that keep every limit of machine and tablet together."""
    return float(all_kept(tuple(each for each in limits if each.of != "evidence"), point).mean())


def broken(limits: tuple[Limit, ...], point: OperatingPoint, confidence: float) -> list[Limit]:
    """Return the limits that fewer draws keep than the asked confidence, worst first."""
    shares = [(float(limit.holds(point).mean()), limit) for limit in limits]
    failed = [(share, limit) for share, limit in shares if share < confidence]
    return [limit for _, limit in sorted(failed, key=lambda pair: pair[0])]
