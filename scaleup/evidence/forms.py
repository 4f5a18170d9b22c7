"""Which hardening forms can be fitted, each with its parameters and what is believed of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.powder.hardening import Hardening, Heckel


@dataclass(frozen=True)
class Form:
    """A hardening form as the fit sees it: columns of unbounded numbers.

    Attributes
    ----------
    name
        As printed.
    parameters
        Names of the columns, in order.
    build
        Makes the hardening of columns with shape (draws,).
    centre, spread
        A wide normal distribution for each column (this project's judgement: it keeps a fit from
        few runs finite and is overruled by three pressures).
    """

    name: str
    parameters: tuple[str, ...]
    build: Callable[[Array], Hardening]
    centre: Array
    spread: Array

    def log_density(self, columns: Array) -> Array:
        """Return the logarithm of the prior density but for a constant, shape (draws,)."""
        density: Array = -0.5 * np.sum(((columns - self.centre) / self.spread) ** 2, axis=1)
        return density


HECKEL = Form(
    name="Heckel",
    parameters=("ln(Y/MPa)", "A"),
    build=lambda columns: Heckel(np.exp(columns[:, 0]), columns[:, 1]),
    centre=np.array([np.log(120.0), 0.6]),
    spread=np.array([1.0, 0.5]),
)
