"""What the band of a figure is made of: what goes of it when one term is held at its middle.

Every draw has its own value of every term. A figure worked out again on the same draws with one
term at its middle has less variance; the share that goes is the term's. Terms of the law are held
the same way: what they do to a pressure or to a strength is taken off again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from scaleup.arrays import Array, Places
from scaleup.calibration.plant.plant import Plant
from scaleup.calibration.plant.term import AtSpeed, Grade, Term
from scaleup.powder.law import LOG_10
from scaleup.sentence import Sentence, Words
from scaleup.short_repr import short_repr
from scaleup.transfer.case import TransferCase
from scaleup.transfer.feasible import needed_pressure
from scaleup.transfer.matches import pressure_for_state
from scaleup.transfer.process_model import ProcessModel

ENOUGH = 1000
"""Draws that the shares are worked out with."""
FigureName = Literal["strength", "solid fraction", "needed force"]
EXPONENT, CURVATURE, HARDENING, CURVE = "exponent", "curvature", "densification", "strength curve"


@dataclass(frozen=True)
class Share:
    """What one term takes of the band of one figure."""

    figure: FigureName
    term: Term
    share: float
    """Of the variance of the figure's logarithm that goes when the term is held."""


@short_repr
@dataclass(frozen=True)
class Budget:
    """The terms behind the figures of a case, and what each takes of their bands."""

    case: TransferCase
    """With the draws that the shares are worked out with."""

    @classmethod
    def of(cls, case: TransferCase) -> Budget:
        """Return the budget of a case that has a fit, over evenly many of its draws."""
        draws = case.process.fit.powder.draws
        case.lab_pulse  # noqa: B018  solved once, for all draws
        if draws <= ENOUGH:
            return cls(case)
        places = np.linspace(0, draws - 1, ENOUGH).astype(np.intp)
        return cls(case.with_draws(places))

    @cached_property
    def terms(self) -> tuple[Term, ...]:
        """Return the terms of the law and of the plant that count."""
        own = [term for term in self.case.process.plant.terms if term.counts]
        return (*law_terms(self.case), *own)

    @cached_property
    def figures(self) -> dict[FigureName, Callable[[ProcessModel], Array]]:
        """Return how each figure is worked out: strength and solid fraction at the lab's pressure.

        The needed force is that of the target, else that which gives the lab's solid fraction.
        """
        case, pressure = self.case, self.case.reference.pressure
        draws: dict[FigureName, Callable[[ProcessModel], Array]] = {}
        if case.fit.strength is not None:
            draws["strength"] = lambda process: _strength(process, pressure, case.speed)
        draws["solid fraction"] = lambda process: process.at(pressure, case.speed).solid_fraction
        draws["needed force"] = self._needed
        return draws

    def _needed(self, process: ProcessModel) -> Array:
        case, area = self.case, process.charge.tip_area
        if case.target is not None and case.fit.strength is not None:
            needed = needed_pressure(process, case.speed, case.target)
            if np.mean(np.isfinite(needed)) > 0.5:
                return needed * area
        state = case.lab_pulse.pulse.static_pressure
        return pressure_for_state(process, state, case.reference.pressure, case.speed) * area

    def figure(self, name: FigureName, plant: Plant | None = None) -> Array:
        """Return a figure of every draw, with other terms if they are given."""
        process = self.case.process
        return self.figures[name](process if plant is None else process.with_plant(plant))

    @cached_property
    def now(self) -> dict[FigureName, Array]:
        """Return every figure as it is."""
        return {name: self.figure(name) for name in self.figures}

    def with_left(self, left: dict[str, float]) -> Plant:
        """Return the plant with that share left of the spread of some terms, by their names."""
        plant = self.case.process.plant
        undone = [undoing(term, left[term.name]) for term in self.terms if term.name in left]
        return Plant((*plant.terms, *undone))

    def width(self, name: FigureName, left: dict[str, float]) -> float:
        """Return the width of a figure's band, over that of now, with so much left of terms."""
        return _spread(self.figure(name, self.with_left(left))) / _spread(self.now[name])

    @cached_property
    def shares(self) -> tuple[Share, ...]:
        """Return every share, figure by figure, the largest first."""
        parts: list[Share] = []
        for name, values in self.now.items():
            whole = max(_variance(values), 1e-300)
            of_figure = [
                Share(name, term, 1.0 - _variance(self._fixed(name, term)) / whole)
                for term in self.terms
            ]
            parts += sorted(of_figure, key=lambda each: -each.share)
        return tuple(parts)

    def _fixed(self, name: FigureName, term: Term) -> Array:
        return self.figure(name, self.with_left({term.name: 0.0}))


def _strength(process: ProcessModel, pressure: float, speed: float) -> Array:
    strength = process.at(pressure, speed).strength
    if strength is None:
        raise TypeError("the runs have no strength")
    return strength


def _variance(values: Array) -> float:
    """Return the variance of a logarithm, of the draws that have one."""
    known = values[np.isfinite(values) & (values > 0.0)]
    return float(np.var(np.log(known)))


def _spread(values: Array) -> float:
    return max(float(np.sqrt(_variance(values))), 1e-12)


def undoing(term: Term, left: float) -> Term:
    """Return what takes a term back towards its middle, that share of its spread being left."""

    def off(values: Array) -> Array:
        result: Array = (1.0 - left) * (np.median(values) - values)
        return result

    shrunk = term.shrunk(left)

    def at_speed(speed: float, which: Places | None) -> Array:
        whole = shrunk.strength(speed) - term.strength(speed)
        return whole if which is None else whole[which]

    return Term(
        f"{term.name}, held",
        term.label,
        term.grade,
        term.told,
        log_pressure=off(term.log_pressure),
        log_strength=AtSpeed(at_speed)
        if isinstance(term.log_strength, AtSpeed)
        else off(term.log_strength),
        log_solid_fraction=off(term.log_solid_fraction),
        log_dwell=None if term.log_dwell is None else term.log_dwell.of_each(off),
    )


def law_terms(case: TransferCase) -> tuple[Term, ...]:
    """Return what the fit leaves open, as if it lay between lab and plant.

    The exponent counts by the decades between the middle of the tested dwells and the production
    pulse, its change likewise; densification by the pressure at the middle dwell that gives one
    solid fraction; the strength curve by its height at that solid fraction.
    """
    powder, fit = case.fit.powder, case.fit
    pressure = case.reference.pressure
    dwell = case.process.by_the_law.at(pressure, case.speed).effective_dwell
    decades = powder.decades_from_middle(dwell)
    slope = LOG_10 * powder.rate_exponent
    bend = np.log(powder.weakening(dwell))
    middle = powder.middle_dwell
    solid = powder.solid_fraction_after(np.array(pressure), middle)
    level = np.full(powder.draws, -np.log1p(-np.median(solid)))
    state = powder.hardening.static_pressure(level)
    hardness = np.log(pressure / powder.peak_pressure(state, middle))
    told = _told(case)
    grade = fit.rate.evidence
    terms = [
        Term(EXPONENT, "rate exponent", _grade(grade), told, log_pressure=slope * decades),
        Term(
            CURVATURE,
            "change of the rate exponent with dwell",
            "measured" if fit.decades >= 1.0 else "assumed",
            _change_told(case),
            log_pressure=bend,
        ),
        Term(
            HARDENING,
            "densification of the runs",
            "measured",
            "scatter of the runs about the fit",
            log_pressure=hardness,
        ),
    ]
    if fit.strength is not None:
        there = np.full(powder.draws, np.median(solid))
        height = np.log(fit.strength.strength(there))
        terms.append(
            Term(CURVE, "strength curve of the runs", "measured",
                 "scatter of breaking forces about the curve", log_strength=height)
        )  # fmt: skip
    return tuple(terms)


def _grade(evidence: str) -> Grade:
    return next(each for each in ("measured", "borrowed", "assumed") if each == evidence)


def _told(case: TransferCase) -> Words:
    low, middle, high = np.quantile(case.fit.powder.rate_exponent, (0.05, 0.5, 0.95))
    return Sentence("{middle:.3f} ({low:.3f} to {high:.3f})", low=low, middle=middle, high=high)


def _change_told(case: TransferCase) -> Words:
    low, high = np.quantile(case.fit.powder.curvature, (0.05, 0.95))
    return Sentence("{low:%} to {high:%} of itself for each decade", low=low, high=high)
