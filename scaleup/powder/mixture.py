"""Draws of which some follow one hardening form and some another."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import accumulate, pairwise

import numpy as np

from scaleup.arrays import Array
from scaleup.powder.hardening import Hardening


@dataclass(frozen=True)
class Mixture:
    """Hardening forms side by side along the draws: the uncertainty of the form itself.

    Attributes
    ----------
    forms
        One hardening for each stretch of draws, in order.
    """

    forms: tuple[Hardening, ...]

    @property
    def stretches(self) -> tuple[slice, ...]:
        """Return which draws follow which form."""
        ends = accumulate((form.scale.size for form in self.forms), initial=0)
        return tuple(slice(start, end) for start, end in pairwise(ends))

    def _each(self, call: Callable[[Hardening, Array], Array], argument: Array) -> Array:
        return np.concatenate(
            [
                call(form, argument[..., part])
                for form, part in zip(self.forms, self.stretches, strict=True)
            ],
            axis=-1,
        )

    @property
    def scale(self) -> Array:
        """Return the scale of every draw in MPa."""
        return np.concatenate([form.scale for form in self.forms])

    def densification(self, static_pressure: Array) -> Array:
        """Return D of the ejected tablet, last axis over draws."""
        return self._each(lambda form, x: form.densification(x), static_pressure)

    def slope(self, static_pressure: Array) -> Array:
        """Return dD/dP in 1/MPa, last axis over draws."""
        return self._each(lambda form, x: form.slope(x), static_pressure)

    def static_pressure(self, densification: Array) -> Array:
        """Return the static pressure in MPa, last axis over draws."""
        return self._each(lambda form, d: form.static_pressure(d), densification)

    def single(self, draw: int) -> Hardening:
        """Return the form that one draw follows."""
        for form, part in zip(self.forms, self.stretches, strict=True):
            if part.start <= draw < part.stop:
                return form.single(draw - part.start)
        raise IndexError(f"there is no draw {draw}")

    def named(self) -> tuple[tuple[str, Array, str], ...]:
        """Return the parameters of every form, each over its own draws."""
        return tuple(row for form in self.forms for row in form.named())
