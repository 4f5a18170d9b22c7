"""A production trial planned from the predictions of a study."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from scaleup.answers.assumed import Assumed
from scaleup.answers.trial.ladders import KEEP_BELOW, Ladders, Rung, ceiling, ladders
from scaleup.arrays import Array
from scaleup.calibration.arguments import (
    HOLD_UP,
    MINUTES,
    TABLETS,
    number_faults,
    speed_faults,
    whole_number_faults,
)
from scaleup.calibration.calibrated_study import CalibratedStudy
from scaleup.calibration.fit import Fit
from scaleup.errors import Fault, InputError
from scaleup.model.estimate import Estimate, exactly, unavailable
from scaleup.model.study import Study
from scaleup.powder.precompression import precompression_counts
from scaleup.sentence import Fact, Sentence, Words
from scaleup.short_repr import short_repr
from scaleup.shown import Shown
from scaleup.transfer.case import TransferCase
from scaleup.transfer.findings import Findings
from scaleup.transfer.operating_point import OperatingPoint
from scaleup.transfer.process_model import ProcessModel
from scaleup.transfer.recommended import fastest_with_margin, largest_output, place_told
from scaleup.transfer.verdict import CAUTION

ACTION = 0.99
"""Share of run means that lie between the action limits if the prediction is right."""
STRENGTH_WITHIN = 0.05
"""Half width of the 90 % band that the mean breaking force of a run is to have, as a share."""
LEAST_TABLETS = 10
NORMAL = 1.645
WASTE = 0.10
"""Share of powder lost at start-up and to set the press (this project's judgement)."""
SCALE_CHANGE = 10.0
MEASURES = ("weight", "thickness", "solid_fraction", "tensile_strength", "breaking_force",
            "ejection_force")  # fmt: skip


@dataclass(frozen=True)
class TrialOptions:
    """What the plan leaves to whoever runs the trial.

    Examples
    --------
    >>> TrialOptions(tablets=20, hold_up=2e6).minutes
    3.0
    """

    tablets: int | None = None
    """Tablets to sample from each run; from the scatter of the study if absent."""
    minutes: float = 3.0
    """How long each run is held, minutes."""
    setting_minutes: float = 5.0
    """How long it takes to set and settle the press for each run, minutes."""
    hold_up: float = 0.0
    """Powder in mg that hopper and feeder hold and that is not pressed."""

    def check(self) -> None:
        """Refuse what no trial can be planned with.

        Raises
        ------
        InputError
            With every fault found.
        """
        faults = [
            *number_faults("minutes", self.minutes, MINUTES),
            *number_faults("setting_minutes", self.setting_minutes, MINUTES),
            *number_faults("hold_up", self.hold_up, HOLD_UP),
        ]
        if self.tablets is not None:
            faults += whole_number_faults("tablets", self.tablets, TABLETS)
        if faults:
            raise InputError(faults)


@short_repr
@dataclass(frozen=True)
class TrialRun:
    """One planned run with what it is predicted to give."""

    name: str
    rung: Rung
    tablets: int
    predicted: dict[str, Estimate]
    """Of the mean of the sampled tablets, by the names of `MEASURES`."""
    action: dict[str, Estimate]
    """Action limits of the same: outside them the run is stopped and looked into."""


@short_repr
@dataclass(frozen=True)
class TrialPlan(Shown):
    """The whole trial.

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
    """Severe findings that no setting mends; a trial is then hardly worth its powder."""
    objective: Words
    equipment: tuple[Words, ...]
    materials: tuple[Words, ...]
    stop_rules: tuple[Words, ...]
    acceptance: tuple[Words, ...]
    """The rule fixed before the trial."""
    powder: Estimate
    """mg."""
    time: Estimate
    """s."""
    notes: tuple[str, ...]
    assumed: tuple[Assumed, ...] = ()
    """What no input states and the program supplied."""
    caution: str = CAUTION

    @property
    def study(self) -> Study:
        """Return the study the plan is of."""
        return self.calibrated.study


def plan_of(findings: Findings, options: TrialOptions, assumed: tuple[Assumed, ...]) -> TrialPlan:
    """Return the plan of a production trial of a case, at its press and speed.

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
    rungs = ladders(case, tablets)
    runs = tuple(
        _run(f"T{number}", rung, tablets, case)
        for number, rung in enumerate(rungs.rungs, start=_first_new(study))
    )
    return TrialPlan(
        calibrated=case.calibrated,
        speed=case.speed,
        confidence=case.confidence,
        options=options,
        runs=runs,
        reasons=(*rungs.reasons, _window_says(case)),
        against=(*against.lacks, *against.stops, *against.changes),
        objective=_objective(study, case.speed),
        equipment=_equipment(study),
        materials=_materials(study, case.process.charge.weight),
        stop_rules=_stop_rules(case),
        acceptance=acceptance_rule(case, tablets),
        powder=exactly(_powder(case, rungs, options), "mg"),
        time=exactly(60.0 * len(runs) * (options.minutes + options.setting_minutes), "s"),
        notes=_notes(study),
        assumed=assumed,
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


def point_of(process: ProcessModel, rung: Rung) -> OperatingPoint:
    """Return the operating point of a rung, its own precompression included."""
    shares, powder = (rung.pre_share, process.pre_share), process.fit.powder
    if shares[0] != shares[1] and any(precompression_counts(powder, share) for share in shares):
        production = replace(process.production, precompression=rung.pre_share or None)
        process = replace(process, production=production)
    return process.at(rung.force / process.charge.tip_area, rung.speed)


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


def _run(name: str, rung: Rung, tablets: int, case: TransferCase) -> TrialRun:
    point, fit = point_of(case.process, rung), case.fit
    predicted, action = {}, {}
    rng = case.calibrated.drawing.generator()
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
        action[measure] = _between(means, unit, ACTION)
    return TrialRun(name, rung, tablets, predicted, action)


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


def _equipment(study: Study) -> tuple[Words, ...]:
    made = study.production
    press, tooling = made.press.profile, made.tooling.profile
    rating = tooling.tip_force_rating
    rated: Words = ""
    if rating is not None:
        rated = Sentence(", tips rated {rating}", rating=Fact(rating, "N"))
    return (
        Sentence(
            "{name} ({press}): {stations} stations, {slowest:g} to {fastest:g} rpm, main roller up "
            "to {force_limit}, {feed} feeder",
            name=press.name,
            press=made.press.id,
            stations=press.stations,
            slowest=Fact(press.speed.min, "rpm"),
            fastest=Fact(press.speed.max, "rpm"),
            force_limit=Fact(press.main_roller.force_limit, "N"),
            feed=press.feed,
        ),
        Sentence(
            "tooling {name} ({tooling}): {shape}{rated}",
            name=tooling.name,
            tooling=made.tooling.id,
            shape=tooling.shape,
            rated=rated,
        ),
        "balance, thickness gauge, breaking force tester, friability drum; all in calibration",
    )


def _materials(study: Study, weight: float) -> tuple[Sentence, ...]:
    parts = [
        Sentence("{name} {percent:.4g} %", name=part.name, percent=Fact(100.0 * part.share, "%"))
        for part in study.blend.components
    ]
    density = Sentence(
        "true density {density:.3f} g/cm³, tablets of {weight:4}",
        density=Fact(study.blend.true_density, "g/cm³"),
        weight=Fact(weight, "mg"),
    )
    whole = Sentence("blend of {study}, {density}", study=study.name, density=density)
    return (*parts, density) if parts else (whole,)


def _stop_rules(case: TransferCase) -> tuple[Words, ...]:
    """Return when a run is stopped at once, with the bounds of profiles and target."""
    bounds = {limit.code: limit for limit in case.limits}
    rules = [
        Sentence(
            "main force above {ceiling}, {share:%} of what tips and roller allow",
            ceiling=Fact(ceiling(case), "N"),
            share=KEEP_BELOW,
        )
    ]
    if "ejection-force" in bounds:
        most = Fact(bounds["ejection-force"].bound, "N")
        rules.append(Sentence("ejection force above {most}", most=most))
    if "strength" in bounds:
        limit = bounds["strength"]
        rules.append(
            Sentence(
                "mean {figure} below {least} in two samples, one after the other",
                figure=limit.label,
                least=limit.fact(limit.bound),
            )
        )
    return (
        *rules,
        "capping, lamination, picking or sticking seen on any tablet",
        "a mean outside the action limits of the sheet: stop, look into it, then go on or end",
        "unusual noise, heat or vibration, or any doubt of the operator",
    )


def acceptance_rule(case: TransferCase, tablets: int) -> tuple[Words, ...]:
    """Return the rule that decides, in words; `acceptance.accepted` carries it out."""
    target = case.target
    strong: Words = "the"
    if target is not None:
        strong = Sentence(
            "the mean {figure} of {tablets} tablets of the end run is, with {confidence:%} "
            "confidence, at least {least}, and its",
            figure=target.label,
            tablets=tablets,
            confidence=case.confidence,
            least=target.fact(target.bound),
        )
    window = case.study.target.solid_fraction
    return (
        (
            "The prediction holds if at most one in ten of the run means of solid fraction and of "
            "breaking force lie outside their action limits."
        ),
        Sentence(
            "The tablet is met if {strong} solid fraction {which}is {low:%} to {high:%}.",
            strong=strong,
            which="of the end run " if target is None else "",
            low=window.min,
            high=window.max,
        ),
        "No tablet at or below the asked speed caps or laminates.",
    )


def _powder(case: TransferCase, ladder: Ladders, options: TrialOptions) -> float:
    made = sum(case.production.output(rung.speed) / 60.0 * options.minutes for rung in ladder.rungs)
    return made * case.process.charge.weight * (1.0 + WASTE) + options.hold_up


SCALE_NOTE = (
    "Going from a single-station press to a rotary one changes the operating principle, and a "
    f"batch more than {SCALE_CHANGE:g} times the reference batch changes the scale: FDA's guidance "
    "for industry on scale-up and post-approval changes of immediate-release solid oral dosage "
    "forms (SUPAC-IR, November 1995, cited from memory) treats both. Which level of change this "
    "is, and what it takes, is for regulatory affairs and quality to decide."
)
AIR_NOTE = (
    "Precompression lets air out, which is outside this law: compare the levels by capping and "
    "friability, not by the predicted strength."
)


def _notes(study: Study) -> tuple[str, ...]:
    if study.production.press.profile.pre_roller is None:
        return (SCALE_NOTE,)
    return SCALE_NOTE, AIR_NOTE
