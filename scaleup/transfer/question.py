"""What is asked: a lab result with its fit, a line to make it on, a speed and a confidence."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from scaleup.arrays import Array
from scaleup.calibration.fit import Drawing, Fit, NoFit, fit_study
from scaleup.calibration.observations import Observation, Side, observe, side_of, sides
from scaleup.calibration.unit_doubts import Doubt, doubts
from scaleup.errors import Fault, InputError
from scaleup.model.estimate import Estimate, exactly
from scaleup.model.study import ProductionSide, Study
from scaleup.powder.compression import Pulse, compress
from scaleup.short_repr import short_repr
from scaleup.transfer.draws import require_draws
from scaleup.transfer.filling import filling_of
from scaleup.transfer.limits import Limit, limits_of
from scaleup.transfer.line import Line, production_charge
from scaleup.transfer.reference import Reference, choose_reference
from scaleup.transfer.tested import tested_limits


@short_repr
@dataclass(frozen=True)
class LabCase:
    """A study with its runs read and its powder fitted; the same for every press asked about."""

    study: Study
    observations: tuple[Observation, ...]
    reference: Reference
    fit: Fit | NoFit
    drawing: Drawing

    @property
    def doubts(self) -> tuple[str, ...]:
        """Return why the units are doubtful, none where the study's figures are taken as given."""
        if self.study.as_given:
            return ()
        return tuple(each.message for each in self.unit_doubts)

    @cached_property
    def unit_doubts(self) -> tuple[Doubt, ...]:
        """Return what speaks for a slip of a unit, taken as given or not."""
        return doubts(self.study, self.observations, self.reference.name)

    @property
    def weight(self) -> Estimate:
        """Return the weight of a production tablet in mg: the target's, else the reference's."""
        if self.study.target.weight is not None:
            return exactly(self.study.target.weight, "mg")
        return self.reference.mean(lambda seen: seen.run.weight, "mg", "weight")


def lab_case(study: Study, drawing: Drawing) -> LabCase:
    """Return a study with its fit.

    Raises
    ------
    InputError
        If runs contradict each other, or the tooling cannot work on the press.
    """
    observations = observe(study, sides(study))
    reference = choose_reference(study, observations)
    return LabCase(study, observations, reference, fit_study(study, observations, drawing), drawing)


def refuse(doubts_told: tuple[str, ...], file: str) -> None:
    """Refuse figures in doubt, where an answer has no place of its own to say so.

    Raises
    ------
    InputError
        With every doubt; ``file`` is the run table.
    """
    allowed = "figures that a powder can have"
    mend = "Mend the unit, or confirm the figures with --as-given."
    found = [f"{each[:1].lower()}{each[1:].rstrip('.')}" for each in doubts_told]
    if found:
        raise InputError(Fault(file, "", each, allowed, mend) for each in found)


@short_repr
@dataclass(frozen=True)
class LabPulse:
    """The pulse of the reference runs on the lab press, every figure of shape (draws,)."""

    pulse: Pulse
    solid_fraction: Array


@short_repr
@dataclass(frozen=True)
class Question:
    """What a match is asked: the lab result, the line, and the speed and confidence wanted."""

    study: Study
    reference: Reference
    lab: LabPulse
    line: Line
    limits: tuple[Limit, ...]
    speed: float
    confidence: float

    @property
    def target(self) -> Limit | None:
        """Return the strength or breaking force asked for, if the study asks for one."""
        return next((limit for limit in self.limits if limit.code == "strength"), None)


def question(
    case: LabCase, production: ProductionSide, speed: float, confidence: float
) -> Question:
    """Return what is asked of one production press at a turret speed in rpm.

    Raises
    ------
    TypeError
        If the runs allowed no fit.
    InputError
        If the draws are too few for the confidence.
    """
    if isinstance(case.fit, NoFit):
        raise TypeError("a question takes a fit")
    require_draws(confidence, case.drawing.draws)
    side = side_of(production)
    line = _line(case, case.fit, production, side, speed)
    pulse = lab_pulse(line, case.reference, case.study.blend.true_density)
    limits = (*limits_of(case.study, line), *tested_limits(case.study, line))
    return Question(case.study, case.reference, pulse, line, limits, speed, confidence)


def with_line(asked: Question, line: Line) -> Question:
    """Return the same question about another line."""
    study = asked.study
    pulse = lab_pulse(line, asked.reference, study.blend.true_density)
    limits = (*limits_of(study, line), *tested_limits(study, line))
    return replace(asked, lab=pulse, line=line, limits=limits)


def _line(case: LabCase, fit: Fit, production: ProductionSide, side: Side, speed: float) -> Line:
    seen_by_all = case.observations
    weights = [seen.weight for seen in seen_by_all if seen.run.weight is not None]
    weight = case.reference.weight or float(np.mean(weights))
    feed = production.press.model.feed
    return Line(
        production=production,
        side=side,
        charge=production_charge(case.study, side, weight),
        fit=fit,
        filling=filling_of(case.study, seen_by_all, case.reference.name, feed),
        reference_pressure=case.reference.pressure,
        asked_speed=speed,
    )


def lab_pulse(line: Line, reference: Reference, true_density: float) -> LabPulse:
    """Return the pulse of the reference runs, on the press that made them, for every draw."""
    powder = line.fit.powder
    weight = reference.weight or line.charge.weight
    first = reference.runs[0]
    pulse = compress(
        first.side.press,
        powder,
        first.side.tip.charge(weight, true_density),
        np.full(powder.draws, reference.pressure),
        first.setting,
        first.pre_share,
    )
    return LabPulse(pulse, powder.solid_fraction(pulse.static_pressure))
