"""One match carried out: the settings, the tablet, and whether the press can reach them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from scaleup.calibration.observations import side_of
from scaleup.model.estimate import Estimate, exactly
from scaleup.sentence import Sentence, Words, joined
from scaleup.short_repr import short_repr
from scaleup.transfer.limits import Limit, broken, share_within
from scaleup.transfer.matches import MATCHES, NoSetting
from scaleup.transfer.operating_point import OperatingPoint
from scaleup.transfer.process_model import rotary
from scaleup.transfer.settings import (
    Settings,
    Tablet,
    machine_settings,
    no_settings,
    no_tablet,
    settings_at,
    tablet_at,
)

if TYPE_CHECKING:
    from scaleup.transfer.case import TransferCase


@short_repr
@dataclass(frozen=True)
class Equivalent:
    """The production settings under one match, with the tablet they predict."""

    match: str
    reachable: bool
    reason: Words
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


def equivalent_under(match: str, case: TransferCase) -> Equivalent:
    """Return what a match gives; what geometry alone says where the runs allow no fit."""
    if case.no_fit is not None:
        return _without_fit(match, case, case.no_fit.why)
    weight = case.calibrated.weight
    dialled = MATCHES[match](case)
    if isinstance(dialled, NoSetting):
        return unreachable(match, dialled.reason, weight)
    if dialled.speed.value is None or dialled.pressure.value is None:
        return unreachable(match, dialled.pressure.reason or dialled.speed.reason, weight)
    point = case.process.at(dialled.pressure.value, dialled.speed.value)
    failed = broken(case.limits, point, case.confidence)
    machine = [limit for limit in failed if limit.of == "machine"]
    reason: Words = dialled.reason
    if not reason and machine:
        reason = joined("; ", (_beyond(limit, point) for limit in machine))
    return Equivalent(
        match=match,
        reachable=not reason,
        reason=reason,
        weight=weight,
        speed=dialled.speed,
        pressure=dialled.pressure,
        point=point,
        within=share_within(case.limits, point),
        broken=tuple(failed),
    )


def _beyond(limit: Limit, point: OperatingPoint) -> Sentence:
    return Sentence(
        "{limit} {value}, allowed {side} {bound}",
        limit=limit.label,
        value=limit.fact(limit.middle(point)),
        side=limit.side,
        bound=limit.fact(limit.bound),
    )


def unreachable(name: str, reason: Words, weight: Estimate, **known: Estimate) -> Equivalent:
    """Return an equivalent of which only what is given is known."""
    return Equivalent(name, False, reason, weight, known=tuple(known.items()))


def _without_fit(match: str, case: TransferCase, reason: str) -> Equivalent:
    """Return the settings that geometry gives, and the lab's pressure for the pressure match."""
    side, speed = side_of(case.production), exactly(case.speed, "rpm")
    known = machine_settings(case.production, rotary(side), speed)
    if match == "pressure":
        pressure = case.reference.pressure
        known["main_pressure"] = exactly(pressure, "MPa")
        known["main_force"] = exactly(pressure * side.tip.area, "N")
    return unreachable(match, reason, case.calibrated.weight, **known)
