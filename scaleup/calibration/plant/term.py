"""One thing that lies between lab and plant: what it does to pressure and strength, and why."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from scaleup.arrays import Array, Places
from scaleup.calibration.plant.pulse_ratio import PulseRatio
from scaleup.sentence import Sentence, Words
from scaleup.short_repr import short_repr

Grade = Literal["measured", "borrowed", "assumed", "cancels", "off"]
"""What a term rests on; one that cancels is the same on both sides, one that is off is left out."""


def _nothing() -> Array:
    return np.zeros(1)


@dataclass(frozen=True)
class AtSpeed:
    """A figure for each draw that depends on the turret speed in rpm."""

    of: Callable[[float, Places | None], Array]
    which: Places | None = None

    def chosen(self, which: Places) -> AtSpeed:
        """Return the figure for some of its draws."""
        return AtSpeed(self.of, which if self.which is None else self.which[which])

    def __call__(self, speed: float) -> Array:
        """Return the figure at a speed, shape (draws,)."""
        return self.of(speed, self.which)


@short_repr
@dataclass(frozen=True)
class Term:
    """One term; what it adds to a logarithm has shape (draws,), or (1,) where it adds nothing."""

    name: str
    """The name a study switches it off with."""
    label: str
    grade: Grade
    told: Words
    """What its numbers are and rest on."""
    log_pressure: Array = field(default_factory=_nothing)
    """ln of the pressure that densifies over that which the production gauge reads, in terms of
    what the lab's gauge reads."""
    log_strength: Array | AtSpeed = field(default_factory=_nothing)
    """ln of the strength in production over the lab's at equal solid fraction."""
    log_solid_fraction: Array = field(default_factory=_nothing)
    """ln of the true solid fraction over that which the lab's readings give."""
    log_dwell: PulseRatio | None = None
    """ln of the effective dwell over that which the geometry of the press gives."""

    @property
    def counts(self) -> bool:
        """Return whether it adds anything."""
        return self.grade not in ("cancels", "off")

    def strength(self, speed: float) -> Array:
        """Return what it adds to ln(strength) at a turret speed in rpm."""
        given = self.log_strength
        return given(speed) if isinstance(given, AtSpeed) else given

    def chosen(self, which: Places) -> Term:
        """Return the term with some of its draws."""
        return replace(
            self,
            log_pressure=_some(self.log_pressure, which),
            log_solid_fraction=_some(self.log_solid_fraction, which),
            log_strength=self.log_strength.chosen(which)
            if isinstance(self.log_strength, AtSpeed)
            else _some(self.log_strength, which),
            log_dwell=None if self.log_dwell is None else self.log_dwell.chosen(which),
        )

    def shrunk(self, share: float) -> Term:
        """Return the term with that share of its spread left about its middle; 0 leaves none."""

        def less(values: Array) -> Array:
            middle = np.median(values)
            result: Array = middle + share * (values - middle)
            return result

        given = self.log_strength
        if isinstance(given, AtSpeed):
            whole = given.of

            def at_speed(speed: float, which: Places | None) -> Array:
                every = less(whole(speed, None))
                return every if which is None else every[which]

            strength: Array | AtSpeed = AtSpeed(at_speed, given.which)
        else:
            strength = less(given)
        return replace(
            self,
            log_pressure=less(self.log_pressure),
            log_strength=strength,
            log_solid_fraction=less(self.log_solid_fraction),
            log_dwell=None if self.log_dwell is None else self.log_dwell.of_each(less),
        )


def _some(values: Array, which: Places) -> Array:
    return values if values.size == 1 else values[which]


def switched_off(name: str, label: str) -> Term:
    """Return a term that a study leaves out."""
    return Term(name, label, "off", "switched off in the study")


def cancelling(name: str, label: str, what: str) -> Term:
    """Return a term that is the same on both sides."""
    return Term(name, label, "cancels", Sentence("{what} on both sides, so it cancels", what=what))
