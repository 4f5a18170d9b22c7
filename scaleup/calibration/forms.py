"""Which hardening forms can be fitted, each with its parameters and what is believed of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from scaleup.arrays import Array
from scaleup.powder.hardening import Hardening, Heckel, Kawakita, KuentzLeuenberger

FLATTEST = 1e-3
"""1/MPa; the slope taken where the runs show a curve that does not rise."""
LOOSEST, DENSEST = 0.05, 3.0
"""D of the unloaded powder between which a fit begins."""


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
    start
        First values of the columns from pressures in MPa and D of the runs.
    centre, spread
        A wide normal distribution for each column (this project's judgement: it keeps a fit from
        few runs finite and is overruled by three pressures).
    room
        How far from the first values the dwell of a solved pulse has to be known.
    lowest
        Below it a column is impossible; the other forms cannot build a powder looser than nothing.
    """

    name: str
    parameters: tuple[str, ...]
    build: Callable[[Array], Hardening]
    start: Callable[[Array, Array], tuple[float, float]]
    centre: Array
    spread: Array
    room: Array
    lowest: Array

    def log_density(self, columns: Array) -> Array:
        """Return the logarithm of the prior density but for a constant, shape (draws,)."""
        density = -0.5 * np.sum(((columns - self.centre) / self.spread) ** 2, axis=1)
        return np.where(np.all(columns >= self.lowest, axis=1), density, -np.inf)


def _line(x: Array, y: Array) -> tuple[float, float]:
    slope, intercept = np.polyfit(x, y, 1)
    return float(slope), float(intercept)


def _heckel_start(pressure: Array, level: Array) -> tuple[float, float]:
    """Return a straight line through the runs in Heckel's variable."""
    slope, intercept = _line(pressure, level)
    return -float(np.log(max(slope, FLATTEST))), intercept


def _kuentz_start(pressure: Array, level: Array) -> tuple[float, float]:
    """Return Heckel's slope and the critical porosity that puts the middle run on the curve."""
    slope, _ = _line(pressure, level)
    scale = 1.0 / max(slope, FLATTEST)
    middle = np.array([np.median(pressure)])
    rise = KuentzLeuenberger(np.array([scale]), np.zeros(1)).densification(middle)
    rest = float(np.median(level) - rise[0])
    return float(np.log(scale)), float(np.log(np.clip(rest, LOOSEST, DENSEST)))


def _kawakita_start(pressure: Array, level: Array) -> tuple[float, float]:
    """Return the straight line of ``1/eps = (1 + P/S)/a``."""
    slope, intercept = _line(pressure, np.exp(level))
    loose = float(np.clip(np.log(max(intercept, 1.0)), LOOSEST, DENSEST))
    return float(loose - np.log(max(slope, FLATTEST))), float(np.log(loose))


HECKEL = Form(
    name="Heckel",
    parameters=("ln(Y/MPa)", "A"),
    build=lambda columns: Heckel(np.exp(columns[:, 0]), columns[:, 1]),
    start=_heckel_start,
    centre=np.array([np.log(120.0), 0.6]),
    spread=np.array([1.0, 0.5]),
    room=np.array([0.4, 0.15]),
    lowest=np.array([-np.inf, LOOSEST]),
)
KUENTZ_LEUENBERGER = Form(
    name="Kuentz-Leuenberger",
    parameters=("ln(S/MPa)", "ln D_0"),
    build=lambda columns: KuentzLeuenberger(np.exp(columns[:, 0]), np.exp(columns[:, 1])),
    start=_kuentz_start,
    centre=np.array([np.log(120.0), np.log(0.5)]),
    spread=np.array([1.0, 0.7]),
    room=np.array([0.4, 0.3]),
    lowest=np.full(2, -np.inf),
)
KAWAKITA = Form(
    name="Kawakita",
    parameters=("ln(S/MPa)", "ln D_0"),
    build=lambda columns: Kawakita(np.exp(columns[:, 0]), np.exp(columns[:, 1])),
    start=_kawakita_start,
    centre=np.array([np.log(80.0), np.log(0.6)]),
    spread=np.array([1.3, 0.7]),
    room=np.array([0.6, 0.3]),
    lowest=np.full(2, -np.inf),
)
FORMS: dict[str, Form] = {
    "heckel": HECKEL,
    "kuentz-leuenberger": KUENTZ_LEUENBERGER,
    "kawakita": KAWAKITA,
}
"""Every form by the name a study fixes it with; a new form is one class and one line here."""
