"""What a trial teaches: prediction against result, the acceptance rule, and what moved."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from scaleup.answers.trial.acceptance import Accepted, accepted, fixed_rule
from scaleup.answers.trial.acceptance_rule import AcceptanceRule, acceptance_rule
from scaleup.answers.trial.adequacy import Adequacy, adequacy, bounded_verdict
from scaleup.answers.trial.causes import Cause, causes, defects_found
from scaleup.answers.trial.centre_runs import CentreRuns, centre_runs
from scaleup.answers.trial.exponent_alone import exponent_alone
from scaleup.answers.trial.filled_sheet import filled_sheet
from scaleup.answers.trial.moved import Moved, moved
from scaleup.answers.trial.plan import LEAST_TABLETS
from scaleup.answers.trial.results import RunResult, result_of, run_of
from scaleup.answers.trial.run_means import RunMeans, run_means
from scaleup.answers.trial.scatter import RunScatter, scatter_of, weight_against_speed
from scaleup.answers.trial.taken_and_seen import by_eye, taken_for_the_fit
from scaleup.answers.window import Window, window_of
from scaleup.arrays import Array
from scaleup.calibration.calibrated_study import CalibratedStudy, calibrated
from scaleup.calibration.fit import NoFit
from scaleup.calibration.observations import Observation
from scaleup.errors import Fault, InputError
from scaleup.io.trial_record import TrialRecord
from scaleup.io.trial_sheet.reading import TrialSheet
from scaleup.model.estimate import Estimate, unavailable
from scaleup.model.run import Run
from scaleup.model.study import Study
from scaleup.sentence import Words
from scaleup.short_repr import short_repr
from scaleup.shown import Shown
from scaleup.transfer.case import TransferCase, transfer_case
from scaleup.transfer.equivalent import Equivalent
from scaleup.transfer.fastest_speed import Fastest
from scaleup.transfer.findings import Findings
from scaleup.transfer.outcomes import press_word, verdict_word
from scaleup.transfer.verdict import CAUTION, Verdict

NO_LAB_FIT = "the runs of the lab alone allow no fit"
NOT_TOLD = "the trial carries no verdict"
WINDOW_CELLS = (24, 16)
"""Speeds and forces of the new window's map, which is not shown: its centre is refined anyway."""


@short_repr
@dataclass(frozen=True)
class Learned(Shown):
    """What a trial taught.

    Examples
    --------
    >>> import scaleup
    >>> analysis = scaleup.Analysis(scaleup.read_study("examples/marram"), draws=200)
    >>> sheet = scaleup.read_trial_sheet("examples/marram/trial-sheet.csv")
    >>> analysis.learn(sheet).verdict.answer
    'transferable with changes'
    """

    before: CalibratedStudy
    after: CalibratedStudy
    results: tuple[RunResult, ...]
    accepted: tuple[Accepted, ...]
    centre: CentreRuns
    """The centre runs against each other, which come before everything else."""
    causes: tuple[Cause, ...]
    """What the trial allows as causes for what it showed, the most probable first."""
    adequacy: Adequacy
    """Why the trial carries no verdict, or what bounds it."""
    moved: tuple[Moved, ...]
    scatter: tuple[RunScatter, ...]
    """How much single tablets of each run differ."""
    weight_spread_with_speed: Estimate
    """k of ``SD of weight ~ speed^k``."""
    changed: tuple[Words, ...]
    """What of the study is another than when the trial was planned."""
    plan: TrialRecord | None
    """What was fixed before the trial; None where its file is not at hand."""
    settings_before: tuple[Equivalent, ...]
    """The equivalents as they were predicted before; empty if the runs allowed no fit."""
    findings: Findings
    """The new equivalents, risks and verdict."""
    left_blank: tuple[str, ...]
    """Planned runs of which nothing was filled in."""
    notes: tuple[Words, ...]
    """What was taken for granted, could not be used, or is to be compared by eye."""
    caution: str = CAUTION

    @property
    def study(self) -> Study:
        """Return the study with the trial's runs."""
        return self.after.study

    @cached_property
    def window(self) -> Window:
        """Return the new operating window, worked out when it is first asked for."""
        return window_of(Findings(self.findings.case, press_word), WINDOW_CELLS)

    @property
    def verdict(self) -> Verdict:
        """Return the verdict as far as the trial carries it."""
        return bounded_verdict(self.findings.verdict, self.adequacy)

    @property
    def withheld(self) -> bool:
        """Return whether the trial carries no verdict, so that no new setting is told."""
        return bool(self.adequacy.withheld)

    @property
    def moved_told(self) -> tuple[Moved, ...]:
        """Return what moved; nothing where the verdict is withheld, for it rests on readings."""
        return () if self.withheld else self.moved

    @property
    def settings(self) -> tuple[Equivalent, ...]:
        """Return the new settings under every match; none where the verdict is withheld."""
        return () if self.withheld else self.findings.case.equivalents

    @property
    def fastest(self) -> Fastest:
        """Return the fastest speed that holds now, or why none is told."""
        return Fastest.unknown(NOT_TOLD) if self.withheld else self.findings.fastest


def learned_from(before: CalibratedStudy, sheet: TrialSheet, confidence: float) -> Learned:
    """Return what the filled rows of a trial sheet teach, at the speed the trial was planned for.

    `before` is the study the trial was planned from.

    Raises
    ------
    InputError
        If no row has a measured tablet, or the runs allow no fit.
    """
    filled = filled_sheet(before.study, sheet)
    after = calibrated(with_trial(before.study, filled.runs, filled.speed), before.drawing)
    if isinstance(after.fit, NoFit):
        raise InputError(Fault(sheet.shown, "", after.fit.why, "runs that allow a fit"))
    new = transfer_case(after, filled.speed, confidence)
    old = None if isinstance(before.fit, NoFit) else transfer_case(before, filled.speed, confidence)
    results = tuple(
        result_of(row, run_of(row, sheet.shown), old, sheet.shown, filled.friable)
        for row in filled.told
    )
    seen = _seen_in_trial(new, filled.runs)
    means = None if old is None else run_means(old, seen)
    found = () if means is None else causes(means, _shown(new, means))
    found = (*defects_found(results), *found)
    centre = centre_runs(results, seen, (new if old is None else old).fit)
    rule = accepted(results, centre, _rule(sheet.plan, new), new, sheet.plan)
    scatter = scatter_of(filled.runs)
    alone = unavailable("1", NO_LAB_FIT) if means is None else exponent_alone(means)
    return Learned(
        before=before,
        after=after,
        results=results,
        accepted=rule,
        centre=centre,
        causes=found,
        adequacy=adequacy(results, rule, centre, found, alone, filled.speed),
        moved=moved(old, new, alone),
        scatter=scatter,
        weight_spread_with_speed=weight_against_speed(scatter),
        changed=filled.changed,
        plan=sheet.plan,
        settings_before=() if old is None else old.equivalents,
        findings=Findings(new, verdict_word),
        left_blank=filled.left_blank,
        notes=(*taken_for_the_fit(filled.told, filled.usable), *by_eye(results)),
    )


def with_trial(study: Study, runs: tuple[Run, ...], speed: float) -> Study:
    """Return the study with the runs of a trial on the press asked about, now its own press.

    `speed` in rpm is the one the trial was planned for.
    """
    asked = replace(study, production=replace(study.production, speed=speed)).asked_as_own
    return replace(asked, lab=replace(asked.lab, runs=(*asked.lab.runs, *runs)))


def _seen_in_trial(case: TransferCase, runs: tuple[Run, ...]) -> tuple[Observation, ...]:
    names = {run.name for run in runs}
    return tuple(
        seen
        for seen in case.observations
        if seen.run.maker == "production" and seen.run.name in names
    )


def _shown(case: TransferCase, means: RunMeans) -> dict[str, Array]:
    """Return the draws of what the fit with the trial shows, by the causes they are of."""
    fit = case.process.fit
    runs, curve = fit.plant.nearest_to(case.production), fit.strength
    exponent = fit.powder.exponent_at(np.array(means.dwell))
    shown: dict[str, Array | None] = {"rate": exponent - means.exponent}
    if runs is not None:
        shown |= {"force-gauge": runs.log_pressure, "density-drift": runs.pressure_drift}
    if curve is not None:
        shown["strength-factor"] = np.log(curve.feeder) if curve.feeder_known else None
        shown["strength-drift"] = curve.drift
    return {code: draws for code, draws in shown.items() if draws is not None}


def _rule(plan: TrialRecord | None, case: TransferCase) -> AcceptanceRule:
    """Return the rule of the plan; without its file, what the study asks for now."""
    if plan is not None:
        return fixed_rule(plan)
    return acceptance_rule(case, case.at_lab_pressure, LEAST_TABLETS)
