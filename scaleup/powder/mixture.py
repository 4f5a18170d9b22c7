"""Draws of which some follow one hardening form and some another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate, pairwise

import numpy as np

from scaleup.arrays import Array, Places
from scaleup.powder.hardening import Hardening
from scaleup.powder.law import Powder
from scaleup.short_repr import short_repr


@short_repr
@dataclass(frozen=True)
class Mixture:
    """Hardening forms side by side along the draws: the uncertainty of the form itself.

    Attributes
    ----------
    forms
        One hardening for each stretch of draws, in order.
    """

    forms: tuple[Hardening, ...]

    @cached_property
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

    @cached_property
    def scale(self) -> Array:
        """Return the scale of every draw in MPa."""
        return np.concatenate([form.scale for form in self.forms])

    def densification(self, static_pressure: Array) -> Array:
        """Return D of the ejected tablet, last axis over draws."""
        return self._each(lambda form, x: form.densification(x), static_pressure)

    def slope(self, static_pressure: Array) -> Array:
        """Return dD/dP in 1/MPa, last axis over draws."""
        return self._each(lambda form, x: form.slope(x), static_pressure)

    def densification_and_slope(self, static_pressure: Array) -> tuple[Array, Array]:
        """Return both, last axis over draws."""
        pairs = [
            form.densification_and_slope(static_pressure[..., part])
            for form, part in zip(self.forms, self.stretches, strict=True)
        ]
        levels, slopes = zip(*pairs, strict=True)
        return np.concatenate(levels, axis=-1), np.concatenate(slopes, axis=-1)

    def static_pressure(self, densification: Array) -> Array:
        """Return the static pressure in MPa, last axis over draws."""
        return self._each(lambda form, d: form.static_pressure(d), densification)

    def chosen(self, which: Places) -> Hardening:
        """Return some of the draws, their places rising, each with the form it follows."""
        parts = []
        for form, part in zip(self.forms, self.stretches, strict=True):
            inside = which[(which >= part.start) & (which < part.stop)]
            if inside.size:
                parts.append(form.chosen(inside - part.start))
        return parts[0] if len(parts) == 1 else Mixture(tuple(parts))

    def named(self) -> tuple[tuple[str, Array, str], ...]:
        """Return the parameters of every form, each over its own draws."""
        return tuple(row for form in self.forms for row in form.named())


def stretches_of(hardening: Hardening) -> tuple[tuple[Hardening, slice], ...]:
    """Return every form with the draws that follow it; one of all draws, if it is no mixture.

    Examples
    --------
    >>> from scaleup.powder.hardening import Heckel
    >>> [part for _, part in stretches_of(Heckel(np.full(3, 100.0), np.full(3, 0.6)))]
    [slice(0, 3, None)]
    """
    if isinstance(hardening, Mixture):
        return tuple(zip(hardening.forms, hardening.stretches, strict=True))
    return ((hardening, slice(0, hardening.scale.size)),)


def side_by_side(powders: Sequence[Powder]) -> Powder:
    """Return one powder with the draws of several, one after another.

    Examples
    --------
    >>> from scaleup.powder.hardening import Heckel
    >>> one = np.ones(1)
    >>> soft = Powder(Heckel(90.0 * one, 0.6 * one), 0.05 * one, 400.0 * one, one, 0.0 * one)
    >>> side_by_side([soft, soft]).hardening.scale
    array([90., 90.])
    """
    if len(powders) == 1:
        return powders[0]
    return Powder(
        Mixture(tuple(each.hardening for each in powders)),
        np.concatenate([each.rate_exponent for each in powders]),
        np.concatenate([each.elastic for each in powders]),
        np.concatenate([each.tested_dwell for each in powders]),
        np.concatenate([each.curvature for each in powders]),
        np.concatenate([each.middle_dwell for each in powders]),
    )
