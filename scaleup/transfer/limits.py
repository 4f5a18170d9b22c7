"""What an operating point must keep to: of the machine, and of the tablet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from scaleup.arrays import Array
from scaleup.files.study import Study
from scaleup.transfer.line import Line, OperatingPoint
from scaleup.transfer.wording import say

Figure = Callable[[OperatingPoint], "Array | None"]


@dataclass(frozen=True)
class Limit:
    """A bound on one figure of an operating point."""

    code: str
    label: str
    of: Literal["machine", "tablet"]
    unit: str
    bound: float
    side: Literal["at most", "at least"]
    figure: Figure

    def holds(self, point: OperatingPoint) -> Array:
        """Return for each draw 1 where the bound is kept and 0 where not, shape (draws,)."""
        draws = point.pressure.size
        value = self.figure(point)
        if value is None:
            return np.zeros(draws)
        kept = value <= self.bound if self.side == "at most" else value >= self.bound
        return np.broadcast_to(kept, (draws,)).astype(np.float64)

    def middle(self, point: OperatingPoint) -> float:
        """Return the median of the figure; not-a-number if it cannot be had."""
        value = self.figure(point)
        return float("nan") if value is None else float(np.median(value))

    def shown(self, value: float) -> str:
        """Return a value of the figure in words."""
        return say(value, self.unit)

    def margin(self, point: OperatingPoint) -> Array | None:
        """Return how far inside the bound the figure is, as a share of the bound."""
        value = self.figure(point)
        if value is None:
            return None
        inside = self.bound - value if self.side == "at most" else value - self.bound
        result: Array = inside / self.bound
        return result


def limits_of(study: Study, line: Line) -> tuple[Limit, ...]:
    """Return every limit that the profiles and the study state; none is assumed."""
    return (*_machine_limits(line), *_tablet_limits(study))


def _machine_limits(line: Line) -> list[Limit]:
    press, tooling = line.production.press.model, line.production.tooling.model
    found = [
        Limit(
            "main-roller", "main roller force", "machine", "N",
            press.main_roller.force_limit, "at most", lambda point: point.force,
        ),
        Limit(
            "speed-high", "turret speed, fastest", "machine", "rpm",
            press.speed.max, "at most", _speed,
        ),
        Limit(
            "speed-low", "turret speed, slowest", "machine", "rpm",
            press.speed.min, "at least", _speed,
        ),
    ]  # fmt: skip
    if tooling.tip_force_rating is not None:
        found.append(
            Limit(
                "tip-rating",
                "tip force",
                "machine",
                "N",
                tooling.tip_force_rating,
                "at most",
                lambda point: point.force,
            )  # fmt: skip
        )
    if press.pre_roller is not None and line.pre_share > 0.0:
        found.append(
            Limit(
                "pre-roller",
                "precompression force",
                "machine",
                "N",
                press.pre_roller.force_limit,
                "at most",
                lambda point: point.pre_force,
            )  # fmt: skip
        )
    if press.ejection_limit is not None and line.fit.ejection is not None:
        found.append(
            Limit(
                "ejection-force",
                "ejection force",
                "machine",
                "N",
                press.ejection_limit,
                "at most",
                lambda point: point.ejection_force,
            )  # fmt: skip
        )
    return found


def _speed(point: OperatingPoint) -> Array:
    return np.full(point.pressure.size, point.speed)


def _tablet_limits(study: Study) -> list[Limit]:
    target = study.target
    found = [
        Limit(
            "solid-fraction-low", "solid fraction, lowest", "tablet", "1",
            target.solid_fraction.min, "at least", lambda point: point.solid_fraction,
        ),
        Limit(
            "solid-fraction-high", "solid fraction, highest", "tablet", "1",
            target.solid_fraction.max, "at most", lambda point: point.solid_fraction,
        ),
    ]  # fmt: skip
    if target.strength is not None:
        found.append(
            Limit(
                "strength",
                "tensile strength",
                "tablet",
                "MPa",
                target.strength,
                "at least",
                lambda point: point.strength,
            )  # fmt: skip
        )
    if target.breaking_force is not None:
        found.append(
            Limit(
                "strength",
                "breaking force",
                "tablet",
                "N",
                target.breaking_force,
                "at least",
                lambda point: point.breaking_force,
            )  # fmt: skip
        )
    return found


def share_within(limits: tuple[Limit, ...], point: OperatingPoint) -> float:
    """Return the share of draws that keep every limit together."""
    kept = np.ones(point.pressure.size)
    for limit in limits:
        kept = kept * limit.holds(point)
    return float(kept.mean())


def broken(limits: tuple[Limit, ...], point: OperatingPoint, confidence: float) -> list[Limit]:
    """Return the limits that fewer draws keep than the asked confidence, worst first."""
    shares = [(float(limit.holds(point).mean()), limit) for limit in limits]
    failed = [(share, limit) for share, limit in shares if share < confidence]
    return [limit for _, limit in sorted(failed, key=lambda pair: pair[0])]
