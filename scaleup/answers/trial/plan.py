"""A production trial planned from the predictions of a study."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from scaleup.answers.assumed import Assumed
from scaleup.answers.experiments import Experiment, experiments
from scaleup.answers.proposals import proposals
from scaleup.answers.trial.acceptance_rule import AcceptanceRule, acceptance_rule, rule_told
from scaleup.answers.trial.centre import CentreSetting, centre_setting
from scaleup.answers.trial.design import Design, Rung, design_of, point_of
from scaleup.answers.trial.documents import equipment, instructions, materials, notes
from scaleup.answers.trial.options import TrialOptions
from scaleup.answers.trial.stop_limits import StopLimits, stop_rules
from scaleup.answers.trial.worth import cost_of
from scaleup.arrays import Array
from scaleup.calibration.arguments import speed_faults
from scaleup.calibration.calibrated_study import CalibratedStudy
from scaleup.calibration.fit import Fit
from scaleup.calibration.plant.evidence import PlantEvidence, PlantRuns
from scaleup.errors import Fault, InputError
from scaleup.model.estimate import Estimate, exactly, unavailable
from scaleup.model.study import Study
from scaleup.sentence import Fact, Sentence, Words, joined
from scaleup.short_repr import short_repr
from scaleup.shown import Shown
from scaleup.transfer.budget import Budget
from scaleup.transfer.case import TransferCase
from scaleup.transfer.findings import Findings
from scaleup.transfer.operating_point import OperatingPoint
from scaleup.transfer.recommended import fastest_with_margin, largest_output, place_told
from scaleup.transfer.settings import Settings, settings_at
from scaleup.transfer.verdict import CAUTION

ACTION = 0.99
"""Share of run means that lie between the action limits if the prediction is right."""
STRENGTH_WITHIN = 0.05
"""Half width of the 90 % band that the mean breaking force of a run is to have, as a share."""
LEAST_TABLETS = 10
NORMAL = 1.645
MEASURES = ("weight", "thickness", "solid_fraction", "tensile_strength", "breaking_force",
            "ejection_force")  # fmt: skip
OFFERED = 3
"""How many things to do first are offered where no trial is planned."""


@short_repr
@dataclass(frozen=True)
class TrialRun:
    """One planned run with what it is set to and predicted to give."""

    name: str
    rung: Rung
    tablets: int
    start: float
    """s after the start of the trial at which its setting begins."""
    settings: Settings
    """Everything to set; what cannot be told says why."""
    predicted: dict[str, Estimate]
    """Of the mean of the sampled tablets, by the names of `MEASURES`."""
    action: dict[str, Estimate]
    """Action limits of the same: outside them the run is stopped and looked into."""


@short_repr
@dataclass(frozen=True)
class TrialPlan(Shown):
    """The whole trial; it has no runs where none would be safe.

    Examples
    --------
    >>> import scaleup
    >>> analysis = scaleup.Analysis(scaleup.read_study("examples/marram"), draws=200)
    >>> [run.name for run in analysis.plan_trial().runs][:3]
    ['T1', 'T2', 'T3']
    """

    calibrated: CalibratedStudy
    speed: float
    confidence: float
    options: TrialOptions
    runs: tuple[TrialRun, ...]
    reasons: tuple[Words, ...]
    """Why these settings."""
    against: tuple[Words, ...]
    """What speaks against the trial, though it may be run."""
    withheld: tuple[Words, ...]
    """What must be true first, where no trial is planned; empty if one is."""
    first: tuple[Experiment, ...]
    """What would tell, where no trial is planned, the worthiest first."""
    objective: Words
    equipment: tuple[Words, ...]
    materials: tuple[Words, ...]
    weight: float
    """Target weight of a tablet in mg."""
    stops: StopLimits
    stop_rules: tuple[Words, ...]
    instructions: tuple[Words, ...]
    """How the runs are gone through: gates, start-up, stop and restart."""
    rule: AcceptanceRule
    """Fixed before the trial."""
    powder: Estimate
    """mg."""
    time: Estimate
    """s."""
    notes: tuple[Words, ...]
    assumed: tuple[Assumed, ...] = ()
    """What no input states and the program supplied."""
    caution: str = CAUTION

    @property
    def study(self) -> Study:
        """Return the study the plan is of."""
        return self.calibrated.study

    @property
    def acceptance(self) -> tuple[Words, ...]:
        """Return the acceptance rule in words."""
        return rule_told(self.rule)

    @property
    def weight_limits(self) -> tuple[float, float]:
        """Return between which weights in mg a single tablet has to be."""
        tolerance = self.options.weight_tolerance
        return self.weight * (1.0 - tolerance), self.weight * (1.0 + tolerance)


def plan_of(findings: Findings, options: TrialOptions, assumed: tuple[Assumed, ...]) -> TrialPlan:
    """Return the plan of a production trial of a case, at its press and speed.

    It is withheld, with what must be true first, where a risk stops the transfer whatever is set,
    where most draws break a limit at the best setting, or where a stop limit is near.

    Raises
    ------
    InputError
        If the runs allow no fit, the speed is not one of the press, or units are in doubt.
    """
    case, against = findings.case, findings.standing
    study = case.study
    options.check()
    case.calibrated.refuse_doubts()
    _require_fit_and_speed(case)
    tablets = options.tablets or _tablets(case.fit)
    setting = centre_setting(case)
    withheld = (*(_mended(each) for each in against.stops), *setting.withheld)
    design = None if withheld else design_of(case, setting, options, tablets)
    runs = () if design is None else _runs(case, design, setting, options, tablets)
    cost = cost_of(case, [run.rung.speed for run in runs], options)
    return TrialPlan(
        calibrated=case.calibrated,
        speed=case.speed,
        confidence=case.confidence,
        options=options,
        runs=runs,
        reasons=() if design is None else (*design.reasons, *_learned_on(case), _window_says(case)),
        against=(*against.lacks, *against.changes, *setting.against),
        withheld=withheld,
        first=_first(case) if withheld else (),
        objective=_objective(study, case.speed),
        equipment=equipment(study),
        materials=materials(study, case.process.charge.weight),
        weight=case.process.charge.weight,
        stops=setting.stops,
        stop_rules=stop_rules(setting.stops),
        instructions=instructions(design),
        rule=acceptance_rule(case, setting.point, tablets),
        powder=exactly(cost.powder + (options.hold_up if runs else 0.0), "mg"),
        time=exactly(cost.time, "s"),
        notes=notes(study),
        assumed=assumed,
    )


def _mended(stop: Words) -> Sentence:
    return Sentence(
        "this is mended, or shown to do no harm at the trial's pressure: {why}", why=stop
    )


def _first(case: TransferCase) -> tuple[Experiment, ...]:
    """Return what can be measured without the production press, the worthiest first."""
    able = experiments(Budget.of(case), proposals(case))
    return tuple(each for each in able if each.name != "trial_run")[:OFFERED]


def _learned_on(case: TransferCase) -> list[Sentence]:
    """Return where production runs were made that the plan starts from, if there are any."""
    plant = case.process.fit.plant
    runs = plant.nearest_to(case.production)
    if runs is None:
        return []
    names = [each.run.name for each in case.observations if each.run.maker == runs.maker]
    here = case.production.press.id
    other: Words = ""
    if runs.press != here:
        other = Sentence(
            ": another press than {here}, so only the strength factor is taken over, as borrowed",
            here=here,
        )
    return [
        Sentence(
            "The plan starts from {count} production runs learned on {press}{other}{rest}.",
            count=len(names),
            press=runs.press,
            other=other,
            rest=_of_the_powder(plant, runs),
        ),
    ]


def _of_the_powder(plant: PlantEvidence, learned: PlantRuns) -> Words:
    """Return which further production runs tell of the powder and not of the press."""
    rest = [each for each in plant.every_press if each is not learned]
    if not rest:
        return ""
    parts = [Sentence("{runs} on {press}", runs=each.runs, press=each.press) for each in rest]
    return Sentence("; {rest} tell of the powder alone", rest=joined(", ", parts))


def _runs(
    case: TransferCase,
    design: Design,
    setting: CentreSetting,
    options: TrialOptions,
    tablets: int,
) -> tuple[TrialRun, ...]:
    known: dict[tuple[float, float, float], tuple[Settings, _Predicted]] = {}
    runs = []
    for place, rung in enumerate(design.rungs):
        key = rung.speed, rung.force, rung.pre_share
        if key not in known:  # one prediction for every run of the centre
            known[key] = _predicted(case, rung, setting.stops, tablets)
        settings, (predicted, action) = known[key]
        name = f"T{_first_new(case.study) + place}"
        runs.append(
            TrialRun(name, rung, tablets, place * options.time, settings, predicted, action)
        )
    return tuple(runs)


_Predicted = tuple[dict[str, Estimate], dict[str, Estimate]]


def _predicted(
    case: TransferCase, rung: Rung, stops: StopLimits, tablets: int
) -> tuple[Settings, _Predicted]:
    """Return what a rung is set to, and what its mean is predicted to be, with action limits."""
    point, fit = point_of(case.process, rung), case.fit
    rng = case.calibrated.drawing.generator()  # the same numbers for every rung
    area = case.process.charge.tip_area
    settings = settings_at(point, exactly(rung.speed, "rpm"), exactly(rung.force / area, "MPa"))
    if rung.pre_share:
        pre = exactly(rung.force * rung.pre_share, "N")
        settings = replace(settings, precompression_force=pre)
    else:
        none = unavailable("N", "none in this run")
        settings = replace(settings, precompression_force=none)
    predicted, action = {}, {}
    for measure, (draws, unit) in figures_at(point).items():
        if draws is None:
            reason = f"the lab runs say nothing of {measure.replace('_', ' ')}"
            predicted[measure] = action[measure] = unavailable(unit, reason)
            continue
        middle = float(np.median(draws))
        spread = scatter_of_mean(fit, measure, middle, tablets)
        if measure == "thickness":  # of tablets yet to be weighed
            spread = float(np.hypot(spread, WEIGHT_SCATTER * middle / np.sqrt(tablets)))
        means = draws + spread * rng.standard_normal(draws.size)
        predicted[measure] = _between(means, unit, 0.90)
        action[measure] = _short_of_a_stop(measure, _between(means, unit, ACTION), stops)
    return settings, (predicted, action)


def _short_of_a_stop(measure: str, action: Estimate, stops: StopLimits) -> Estimate:
    """Return action limits that do not reach beyond what stops the run anyhow."""
    low, high = action.low or 0.0, action.high or 0.0
    if measure == "breaking_force" and stops.breaking_force is not None:
        low = max(low, stops.breaking_force)
    if measure == "ejection_force" and stops.ejection is not None:
        high = min(high, stops.ejection)
    return replace(action, low=low, high=high)


def _between(means: Array, unit: str, share: float) -> Estimate:
    low, middle, high = np.quantile(means, [(1.0 - share) / 2.0, 0.5, (1.0 + share) / 2.0])
    return Estimate(float(middle), unit, float(low), float(high))


def _tablets(fit: Fit) -> int:
    """Return how many tablets give the mean breaking force within 5 %."""
    scatter = fit.strength_scatter or 0.08
    return max(LEAST_TABLETS, ceil((NORMAL * scatter / STRENGTH_WITHIN) ** 2))


def _objective(study: Study, speed: float) -> Sentence:
    return Sentence(
        "To find out whether {press} makes the tablet of {study} at {speed}, and to measure how "
        "speed-sensitive the blend is at production dwell.",
        press=study.production.press.profile.name,
        study=study.name,
        speed=Fact(speed, "rpm"),
    )


def _require_fit_and_speed(case: TransferCase) -> None:
    if case.no_fit is not None:
        raise InputError(
            Fault(
                case.study.lab.runs_file, "", case.no_fit.why,
                "runs that allow a fit, so that a trial can be predicted",
                "See scaleup judge for what is missing.",
            )
        )  # fmt: skip
    outside = list(speed_faults(case.production, case.speed, "production.speed"))
    if outside:
        raise InputError(replace(fault, file="study.toml") for fault in outside)


def _window_says(case: TransferCase) -> Sentence:
    """Return the point that the operating window recommends, beside the speed of the trial."""
    margin = case.study.target.margin
    place = fastest_with_margin(case, margin)
    if place is None:
        return Sentence(
            "No point of the operating window has a margin of {margin:%}.", margin=margin
        )
    return Sentence(
        "The operating window recommends {place}, {why}; the trial is of the asked {asked}.",
        place=place_told(*place),
        why=largest_output(margin),
        asked=Fact(case.speed, "rpm"),
    )


def _first_new(study: Study) -> int:
    """Return the number of the first trial run: after every T1, T2, ... that the study has."""
    taken = [
        int(run.name[1:])
        for run in study.lab.runs
        if run.name[:1] == "T" and run.name[1:].isascii() and run.name[1:].isdigit()
    ]
    return max(taken, default=0) + 1


def figures_at(point: OperatingPoint) -> dict[str, tuple[Array | None, str]]:
    """Return draws and unit of every measure at an operating point."""
    weight = np.full(point.draws, point.process.charge.weight)
    return {
        "weight": (weight, "mg"),
        "thickness": (point.thickness, "mm"),
        "solid_fraction": (point.solid_fraction, "1"),
        "tensile_strength": (point.strength, "MPa"),
        "breaking_force": (point.breaking_force, "N"),
        "ejection_force": (point.ejection_force, "N"),
    }


def scatter_of_mean(fit: Fit, name: str, value: float, tablets: int) -> float:
    """Return the standard deviation of the mean of so many tablets about what is predicted.

    Of a thickness that is of tablets of one known weight.
    """
    shares = {
        "weight": WEIGHT_SCATTER,
        "thickness": fit.solid_fraction_scatter,
        "tensile_strength": fit.strength_scatter or 0.0,
        "breaking_force": fit.strength_scatter or 0.0,
        "ejection_force": EJECTION_SCATTER,
    }
    one = fit.solid_fraction_scatter if name == "solid_fraction" else shares[name] * value
    return one / float(np.sqrt(tablets))


WEIGHT_SCATTER, EJECTION_SCATTER = 0.015, 0.10
"""Usual scatter of a tablet's weight and ejection force, as shares (this project's judgement)."""
