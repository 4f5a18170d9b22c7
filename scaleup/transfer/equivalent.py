"""One match carried out: the settings, the tablet, and whether the press can reach them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from scaleup.model.estimate import Estimate
from scaleup.short_repr import short_repr
from scaleup.transfer.limits import Limit, broken, share_within
from scaleup.transfer.line import OperatingPoint
from scaleup.transfer.matches import MATCHES, NoSetting
from scaleup.transfer.question import Question
from scaleup.transfer.settings import (
    Settings,
    Tablet,
    no_settings,
    no_tablet,
    settings_at,
    tablet_at,
)


@short_repr
@dataclass(frozen=True)
class Equivalent:
    """The production settings under one match, with the tablet they predict."""

    match: str
    reachable: bool
    reason: str
    """Why not reachable; empty if it is."""
    weight: Estimate
    """Of the tablet, mg."""
    speed: Estimate | None = None
    """Turret speed dialled, rpm; None where there is no setting."""
    pressure: Estimate | None = None
    """Main pressure dialled, MPa; None where there is no setting."""
    point: OperatingPoint | None = None
    """The operating point behind the figures; none where there is no setting."""
    within: float = 0.0
    """Share of the draws that keep every limit of machine and tablet."""
    broken: tuple[Limit, ...] = ()
    """Limits kept by fewer draws than the asked confidence, worst first."""
    known: tuple[tuple[str, Estimate], ...] = ()
    """Settings that are known although there is no operating point."""

    @cached_property
    def settings(self) -> Settings:
        """Return everything to set, the pulse solved when first asked for."""
        if self.point is None or self.speed is None or self.pressure is None:
            return no_settings(self.reason, **dict(self.known))
        return settings_at(self.point, self.speed, self.pressure)

    @cached_property
    def tablet(self) -> Tablet:
        """Return the tablet that the settings give."""
        if self.point is None:
            return no_tablet(self.reason, weight=self.weight)
        return tablet_at(self.point, self.weight)

    @property
    def dialled(self) -> float:
        """Return the main pressure dialled in MPa, 0 where there is no setting."""
        return 0.0 if self.pressure is None else self.pressure.value or 0.0


def equivalents_of(asked: Question, weight: Estimate) -> tuple[Equivalent, ...]:
    """Return what every match gives, in the order of the comparison."""
    return tuple(_equivalent(name, asked, weight) for name in MATCHES)


def _equivalent(name: str, asked: Question, weight: Estimate) -> Equivalent:
    dialled = MATCHES[name](asked)
    if isinstance(dialled, NoSetting):
        return unreachable(name, dialled.reason, weight)
    if dialled.speed.value is None or dialled.pressure.value is None:
        return unreachable(name, dialled.pressure.reason or dialled.speed.reason, weight)
    point = asked.line.at(dialled.pressure.value, dialled.speed.value)
    failed = broken(asked.limits, point, asked.confidence)
    machine = [limit for limit in failed if limit.of == "machine"]
    reason = dialled.reason or "; ".join(_beyond(limit, point) for limit in machine)
    return Equivalent(
        match=name,
        reachable=not reason,
        reason=reason,
        weight=weight,
        speed=dialled.speed,
        pressure=dialled.pressure,
        point=point,
        within=share_within(asked.limits, point),
        broken=tuple(failed),
    )


def _beyond(limit: Limit, point: OperatingPoint) -> str:
    value = limit.middle(point)
    return f"{limit.label} {limit.shown(value)}, allowed {limit.side} {limit.shown(limit.bound)}"


def unreachable(name: str, reason: str, weight: Estimate, **known: Estimate) -> Equivalent:
    """Return an equivalent of which only what is given is known."""
    return Equivalent(name, False, reason, weight, known=tuple(known.items()))
