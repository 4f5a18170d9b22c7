"""What a trial teaches: prediction against result, the acceptance rule, and what moved."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from scaleup.answers.trial.acceptance import JUDGED, Accepted, accepted
from scaleup.answers.trial.results import (
    RunResult,
    check_rows,
    planned_speed,
    result_of,
    run_of,
    said,
    usable,
)
from scaleup.answers.window import Window, window_of
from scaleup.arrays import Array
from scaleup.calibration.calibrated_study import CalibratedStudy, calibrated
from scaleup.calibration.fit import NoFit
from scaleup.errors import Fault, InputError
from scaleup.io.trial_sheet.reading import SheetRow, TrialSheet
from scaleup.model.estimate import Estimate, drawn, unavailable
from scaleup.model.study import Study
from scaleup.sentence import Fact, Sentence, Words, joined
from scaleup.short_repr import short_repr
from scaleup.shown import Shown
from scaleup.transfer.case import TransferCase, transfer_case
from scaleup.transfer.equivalent import Equivalent
from scaleup.transfer.findings import Findings
from scaleup.transfer.outcomes import press_word, verdict_word
from scaleup.transfer.verdict import CAUTION

CLEAR = 2.0
"""Standard deviations of difference from which something is said to have moved."""
WINDOW_CELLS = (24, 16)
"""Speeds and forces of the new window's map, which is not shown: its centre is refined anyway."""


@dataclass(frozen=True)
class Moved:
    """One figure before and after the trial."""

    name: str
    before: Estimate
    after: Estimate
    clear: bool
    """Whether the trial moved it by more than its uncertainty explains."""


@short_repr
@dataclass(frozen=True)
class Learned(Shown):
    """What a trial taught.

    Examples
    --------
    >>> import scaleup
    >>> analysis = scaleup.Analysis(scaleup.read_study("examples/marram"), draws=200)
    >>> sheet = scaleup.read_trial_sheet("examples/marram/trial-sheet.csv")
    >>> analysis.learn(sheet).findings.verdict.answer
    'transferable with changes'
    """

    before: CalibratedStudy
    after: CalibratedStudy
    results: tuple[RunResult, ...]
    accepted: tuple[Accepted, ...]
    moved: tuple[Moved, ...]
    failed: tuple[Words, ...]
    """In what the lab model failed; empty if nothing speaks against it."""
    settings_before: tuple[Equivalent, ...]
    """The equivalents as they were predicted before; empty if the runs allowed no fit."""
    findings: Findings
    """The new equivalents, risks and verdict."""
    window: Window
    """The new operating window."""
    left_blank: tuple[str, ...]
    """Planned runs of which nothing was filled in."""
    notes: tuple[Words, ...]
    """What was taken for granted, could not be used, or is to be compared by eye."""
    caution: str = CAUTION

    @property
    def study(self) -> Study:
        """Return the study with the trial's runs."""
        return self.after.study


def learned_from(before: CalibratedStudy, sheet: TrialSheet, confidence: float) -> Learned:
    """Return what the filled rows of a trial sheet teach, at the speed the trial was planned for.

    `before` is the study the trial was planned from.

    Raises
    ------
    InputError
        If no row has a measured tablet, or the runs allow no fit.
    """
    study, rows, shown = before.study, sheet.rows, sheet.shown
    check_rows(study, rows, shown)
    filled = usable(rows)
    if not filled:
        allowed = "at least one run with both weight and thickness filled in"
        raise InputError(Fault(shown, "", "no run with weight and thickness", allowed))
    runs = tuple(run_of(row, shown) for row in filled)
    taught = replace(study, lab=replace(study.lab, runs=(*study.lab.runs, *runs)))
    after = calibrated(taught, before.drawing)
    if isinstance(after.fit, NoFit):
        raise InputError(Fault(shown, "", after.fit.why, "runs that allow a fit"))
    speed = planned_speed(rows, shown) or study.production.speed
    case = transfer_case(after, speed, confidence)
    old = None if isinstance(before.fit, NoFit) else transfer_case(before, speed, confidence)
    told = tuple(row for row in rows if said(row))
    results = tuple(result_of(row, run_of(row, shown), old, shown) for row in told)
    moved = _moved(old, case)
    return Learned(
        before=before,
        after=after,
        results=results,
        accepted=accepted(results, case),
        moved=moved,
        failed=_failed(results, moved),
        settings_before=() if old is None else old.equivalents,
        findings=Findings(case, verdict_word),
        window=window_of(Findings(case, press_word), WINDOW_CELLS),
        left_blank=tuple(row.text("run") for row in rows if row not in told),
        notes=(*_taken(told, filled), *_by_eye(results, case)),
    )


def _taken(told: tuple[SheetRow, ...], filled: tuple[SheetRow, ...]) -> Iterator[str]:
    """Yield what of the sheet could not be used for the fit, and what was taken for granted."""
    for row in told:
        if row not in filled:
            lacks = [name for name in ("weight", "thickness") if row.number(name) is None]
            yield (
                f"run {row.text('run')} is left out of the fit: no {' and no '.join(lacks)}; what "
                "else it says counts for the acceptance rule"
            )
    counted = [row.text("run") for row in filled if row.number("tablets") is None]
    if counted:
        yield f"tablets left blank in {', '.join(counted)}: taken as sampled as planned"


def _by_eye(results: tuple[RunResult, ...], case: TransferCase) -> Iterator[Words]:
    """Yield capping above the asked speed, and what precompression did as far as was looked at."""
    fast = [each for each in results if each.capped and each.speed > case.speed * 1.001]
    if fast:
        at = (
            Sentence("{run} at {speed}", run=each.name, speed=Fact(each.speed, "rpm"))
            for each in fast
        )
        yield Sentence("capping above the asked speed: {runs}", runs=joined(", ", at))
    levels = {each.precompression for each in results}
    looked = [each for each in results if each.friability is not None or each.capped is not None]
    if len(levels) > 1 and looked:
        levelled = sorted(looked, key=lambda each: each.precompression)
        parts = [_level(each) for each in levelled if _centre(each)]
        if len(parts) > 1:
            levels_seen = joined("; ", parts)
            yield Sentence("by precompression, at the centre: {levels}", levels=levels_seen)


def _centre(result: RunResult) -> bool:
    return result.purpose in ("start-up", "precompression", "end")


def _level(result: RunResult) -> Sentence:
    """Return the precompression of a run, and what was seen of its tablets."""
    worn: Words = "friability not measured"
    if result.friability is not None:
        worn = Sentence("friability {friability:%}", friability=result.friability)
    pressed = Fact(result.precompression, "N") if result.precompression else "none"
    capped = {True: "capping", False: "no capping", None: "capping not looked for"}
    return Sentence(
        "{run} {precompression}: {worn}, {capped}",
        run=result.name,
        precompression=pressed,
        worn=worn,
        capped=capped[result.capped],
    )


def _moved(old: TransferCase | None, new: TransferCase) -> tuple[Moved, ...]:
    """Return the rate exponent, the strength and the feeder factor, before and after."""
    figures = _figures(new)
    earlier = {} if old is None else _figures(old)
    rows = []
    for name, (draws, unit) in figures.items():
        now = drawn(draws, unit)
        if name not in earlier:
            rows.append(Moved(name, unavailable(unit, "not known before the trial"), now, False))
            continue
        then = earlier[name][0]
        apart = abs(float(np.median(draws) - np.median(then)))
        rows.append(Moved(name, drawn(then, unit), now, apart > CLEAR * float(then.std())))
    return tuple(rows)


def _figures(case: TransferCase) -> dict[str, tuple[Array, str]]:
    fit = case.process.fit
    point = case.process.at(case.reference.pressure, case.speed)
    figures = {
        "rate exponent": (fit.powder.rate_exponent, "1"),
        "solid fraction at the lab's pressure": (point.solid_fraction, "1"),
    }
    if fit.strength is not None:
        middle = np.full(fit.powder.draws, float(np.median(point.solid_fraction)))
        figures["lab strength at that solid fraction"] = (fit.strength.strength(middle), "MPa")
        if fit.strength.feeder_known:
            figures["feeder factor on strength"] = (fit.strength.feeder, "1")
    if point.strength is not None:
        figures["production strength at the lab's pressure"] = (point.strength, "MPa")
    return figures


def _failed(results: tuple[RunResult, ...], moved: tuple[Moved, ...]) -> tuple[Words, ...]:
    """Return in what the lab model failed, feeder and rate told apart."""
    told: list[Words] = []
    by_name = {each.name: each for each in moved}
    rate = by_name["rate exponent"]
    if rate.clear:
        told.append(
            Sentence(
                "The rate exponent moved from {before} to {after}: the lab runs did not show how "
                "speed-sensitive the blend is at production dwell.",
                before=_value(rate.before),
                after=_value(rate.after),
            )
        )
    feeder = by_name.get("feeder factor on strength")
    if feeder is not None and _away_from_one(feeder.after):
        told.append(
            Sentence(
                "At equal solid fraction production tablets have {factor} times the lab's "
                "strength: a shift of the strength curve (shear in the feeder, lubrication), not "
                "an effect of speed; it is estimated apart from the rate exponent.",
                factor=_value(feeder.after),
            )
        )
    return (*told, *_far_off(results))


def _away_from_one(factor: Estimate) -> bool:
    low, high = factor.low, factor.high
    return low is not None and high is not None and not low <= 1.0 <= high


def _far_off(results: tuple[RunResult, ...]) -> list[Words]:
    far = [
        Sentence(
            "{run} {measure} ({residual:+.1f})",
            run=result.name,
            measure=item.measure.replace("_", " "),
            residual=item.residual,
        )
        for result in results
        for item in result.compared
        if item.measure in JUDGED and not item.within
    ]
    if not far:
        return []
    told = "Means outside the action limits, in standard deviations: {means}."
    return [Sentence(told, means=joined(", ", far))]


def _value(quantity: Estimate) -> Words:
    if quantity.value is None or quantity.low is None or quantity.high is None:
        return "an unknown value"
    return Sentence(
        "{value:.3f} ({low:.3f} to {high:.3f})",
        value=Fact(quantity.value, quantity.unit),
        low=Fact(quantity.low, quantity.unit),
        high=Fact(quantity.high, quantity.unit),
    )
