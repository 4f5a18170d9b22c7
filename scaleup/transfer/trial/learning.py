"""What a trial teaches: prediction against result, the acceptance rule, and what moved."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.stats import t as student

from scaleup.arrays import Array
from scaleup.errors import Fault, InputError
from scaleup.evidence.fit import Drawing, Fit
from scaleup.files.run_table import Run
from scaleup.files.study import Study
from scaleup.files.trial_sheet import SheetRow
from scaleup.transfer.equivalent import Equivalent, equivalents_of
from scaleup.transfer.findings import Findings, findings
from scaleup.transfer.matches import fastest_speed
from scaleup.transfer.quantity import Quantity, drawn, exactly, unavailable
from scaleup.transfer.question import LabCase, Question, lab_case, question
from scaleup.transfer.trial.ladders import Rung
from scaleup.transfer.trial.plan import ACTION, figures_at, point_of, scatter_of_mean
from scaleup.transfer.verdict import CAUTION
from scaleup.transfer.window import Window, window_of
from scaleup.transfer.wording import percent

MISSES_ALLOWED = 0.10
"""Share of run means that may lie outside their action limits."""
CLEAR = 2.0
"""Standard deviations of difference from which something is said to have moved."""
FRIABLE = 0.01
"""Friability that USP <1216> asks a tablet to stay below, as a share of weight (from memory)."""
WINDOW_CELLS = (24, 16)
"""Speeds and forces of the new window's map, which is not shown: its centre is refined anyway."""
JUDGED = ("solid_fraction", "breaking_force")


@dataclass(frozen=True)
class Compared:
    """One measured mean against its prediction."""

    measure: str
    measured: float
    unit: str
    predicted: Quantity
    residual: float
    """Measured less predicted, in standard deviations of the predicted mean."""
    within: bool
    """Whether it lies between the action limits."""


@dataclass(frozen=True)
class RunResult:
    """One trial run: what was set, and every measured mean against its prediction."""

    name: str
    purpose: str
    line: int
    speed: float
    force: float
    compared: tuple[Compared, ...]
    capped: bool
    friability: float | None
    note: str


@dataclass(frozen=True)
class Moved:
    """One figure before and after the trial."""

    name: str
    before: Quantity
    after: Quantity
    clear: bool
    """Whether the trial moved it by more than its uncertainty explains."""


@dataclass(frozen=True)
class Accepted:
    """One line of the acceptance rule carried out."""

    rule: str
    holds: bool | None
    """None where the sheet does not say."""
    why: str


@dataclass(frozen=True)
class Learned:
    """What a trial taught."""

    before: LabCase
    after: LabCase
    results: tuple[RunResult, ...]
    accepted: tuple[Accepted, ...]
    moved: tuple[Moved, ...]
    failed: tuple[str, ...]
    """In what the lab model failed; empty if nothing speaks against it."""
    settings_before: tuple[Equivalent, ...]
    """The equivalents as they were predicted before; empty if the runs allowed no fit."""
    findings: Findings
    """The new equivalents, risks and verdict."""
    window: Window
    """The new operating window."""
    fastest: Quantity
    fastest_pressure: Quantity
    left_blank: tuple[str, ...]
    """Planned runs without a measured tablet."""
    caution: str = CAUTION

    @property
    def study(self) -> Study:
        """Return the study with the trial's runs."""
        return self.after.study


def learn(
    study: Study,
    rows: tuple[SheetRow, ...],
    *,
    shown: str = "the trial sheet",
    confidence: float | None = None,
    draws: int = 4000,
    seed: int = 1,
) -> Learned:
    """Return what the filled rows of a trial sheet teach about a study.

    Parameters
    ----------
    study
        The study the trial was planned from.
    rows
        As read by `scaleup.files.trial_sheet.read_trial_sheet`; partly filled is fine.
    shown
        The sheet's name in a fault.
    confidence
        With which every limit must hold, the study's if absent.
    draws, seed
        How many parameter sets are drawn, and the seed that repeats them.

    Raises
    ------
    InputError
        If no row has a measured tablet, or the runs allow no fit.
    """
    filled = [row for row in rows if row.number("weight") and row.number("thickness")]
    if not filled:
        allowed = "at least one run with weight and thickness filled in"
        raise InputError(Fault(shown, "", "no measured tablet", allowed))
    asked_confidence = study.target.confidence if confidence is None else confidence
    runs = tuple(_run(row, shown) for row in filled)
    before = lab_case(study, Drawing(draws, seed))
    taught = replace(study, lab=replace(study.lab, runs=(*study.lab.runs, *runs)))
    after = lab_case(taught, Drawing(draws, seed))
    if not isinstance(after.fit, Fit):
        allowed = "runs that allow a fit"
        raise InputError(Fault(shown, "", "; ".join(after.fit.reasons), allowed))
    asked = question(after, study.production, study.production.speed, asked_confidence)
    old = None
    if isinstance(before.fit, Fit):
        old = question(before, study.production, study.production.speed, asked_confidence)
    results = tuple(_result(row, run, old) for row, run in zip(filled, runs, strict=True))
    moved = _moved(old, asked)
    fastest = fastest_speed(asked)
    nowhere = unavailable("rpm", "no speed of the press holds the target within every limit")
    return Learned(
        before=before,
        after=after,
        results=results,
        accepted=_accepted(results, asked),
        moved=moved,
        failed=_failed(results, moved),
        settings_before=() if old is None else equivalents_of(old, before.weight),
        findings=findings(after, asked),
        window=window_of(after, asked, WINDOW_CELLS),
        fastest=nowhere if fastest is None else exactly(fastest[0], "rpm"),
        fastest_pressure=nowhere if fastest is None else exactly(fastest[1], "MPa"),
        left_blank=tuple(row.text("run") for row in rows if row not in filled),
    )


def _run(row: SheetRow, shown: str) -> Run:
    """Return a row as a production run; what was set is what was planned unless filled in."""
    force = row.number("force") or row.number("planned force")
    speed = row.number("speed") or row.number("planned speed")
    if force is None or speed is None:
        found = f"run {row.text('run')} without a force or a speed"
        raise InputError(Fault(shown, f"row {row.line}", found, "both, measured or planned"))
    pre = row.number("precompression")
    if pre is None:
        pre = row.number("planned precompression")
    return Run(
        name=row.text("run") or f"row {row.line}",
        force=force,
        press="production",
        speed=speed,
        precompression=pre,
        weight=row.number("weight"),
        thickness=row.number("thickness"),
        breaking_force=row.number("breaking force"),
        ejection_force=row.number("ejection force"),
        tablets=int(row.number("tablets") or row.number("tablets to sample") or 1),
        note=row.text("note"),
        line=row.line,
    )


def _result(row: SheetRow, run: Run, asked: Question | None) -> RunResult:
    compared = () if asked is None else tuple(_compared(run, asked))
    return RunResult(
        name=run.name,
        purpose=row.text("purpose"),
        line=row.line,
        speed=run.speed or 0.0,
        force=run.force,
        compared=compared,
        capped=row.text("capping seen") == "yes",
        friability=row.number("friability"),
        note=run.note,
    )


def _compared(run: Run, asked: Question) -> list[Compared]:
    """Return every measured mean against the prediction at what was really set and weighed."""
    weight = run.weight or asked.line.charge.weight
    line = asked.line.of_weight(weight)
    share = (run.precompression or 0.0) / run.force
    asked = replace(asked, line=line)
    point = point_of(asked, Rung("", run.speed or asked.speed, run.force, share))
    figures = figures_at(point)
    tip, density = line.side.tip, asked.study.blend.true_density
    thick = np.array(run.thickness)
    measured: dict[str, float | None] = {
        "thickness": run.thickness,
        "solid_fraction": float(weight / (density * tip.volume(thick, tip.width))),
        "breaking_force": run.breaking_force,
        "ejection_force": run.ejection_force,
    }
    found = []
    for name, value in measured.items():
        draws, unit = figures[name]
        if value is not None and draws is not None:
            found.append(_one(name, value, draws, unit, line.fit, run.tablets))
    return found


def _one(name: str, value: float, draws: Array, unit: str, fit: Fit, tablets: int) -> Compared:
    spread = scatter_of_mean(fit, name, float(np.median(draws)), tablets)
    means = draws + spread * np.random.default_rng(1).standard_normal(draws.size)
    low, high = np.quantile(means, [(1.0 - ACTION) / 2.0, (1.0 + ACTION) / 2.0])
    residual = (value - float(np.median(means))) / float(means.std())
    within = bool(low <= value <= high)
    return Compared(name, value, unit, drawn(means, unit), residual, within)


def _accepted(results: tuple[RunResult, ...], asked: Question) -> tuple[Accepted, ...]:
    """Return the acceptance rule of the plan carried out on the results."""
    return _prediction_holds(results), _tablet_met(results, asked), _no_capping(results, asked)


def _prediction_holds(results: tuple[RunResult, ...]) -> Accepted:
    judged = [
        (result.name, item)
        for result in results
        for item in result.compared
        if item.measure in JUDGED
    ]
    rule = "at most one in ten of the means of solid fraction and breaking force outside limits"
    if not judged:
        return Accepted(rule, None, "nothing was predicted or measured")
    out = [f"{name} {item.measure.replace('_', ' ')}" for name, item in judged if not item.within]
    holds = len(out) <= MISSES_ALLOWED * len(judged)
    told = f"{len(out)} of {len(judged)} outside" + (f": {', '.join(out)}" if out else "")
    return Accepted(rule, holds, told)


def _tablet_met(results: tuple[RunResult, ...], asked: Question) -> Accepted:
    rule = "the tablet of the end run meets its target"
    last = [result for result in results if result.purpose == "end"] or list(results[-1:])
    seen_by_all = [row.observation for row in asked.line.fit.runs]
    runs = {seen.run.name: seen for seen in seen_by_all if seen.run.press == "production"}
    seen = runs.get(last[0].name)
    target = asked.target
    if seen is None or target is None or seen.strength is None or seen.solid_fraction is None:
        return Accepted(rule, None, "no target, or no strength measured in it")
    scatter = asked.line.fit.strength_scatter or 0.0
    tablets = seen.run.tablets
    value = seen.strength if target.unit == "MPa" else float(seen.run.breaking_force or 0.0)
    spread = value * scatter / np.sqrt(tablets)
    freedom = max(tablets - 1, 1)
    lowest = value - float(student.ppf(asked.confidence, freedom)) * spread
    window = asked.study.target.solid_fraction
    dense = window.min <= seen.solid_fraction <= window.max
    why = (
        f"run {last[0].name}: {target.label} {target.shown(value)}, with "
        f"{percent(asked.confidence)} confidence at least {target.shown(lowest)} against "
        f"{target.shown(target.bound)}; solid fraction {seen.solid_fraction:.3f}"
    )
    return Accepted(rule, bool(lowest >= target.bound and dense), why)


def _no_capping(results: tuple[RunResult, ...], asked: Question) -> Accepted:
    rule = "no tablet at or below the asked speed caps or laminates"
    capped = [each.name for each in results if each.capped and each.speed <= asked.speed * 1.001]
    friable = [each.name for each in results if (each.friability or 0.0) > FRIABLE]
    told = f"capping in {', '.join(capped)}" if capped else "none seen"
    if friable:
        told += f"; friability above 1 % in {', '.join(friable)}"
    return Accepted(rule, not capped, told)


def _moved(old: Question | None, new: Question) -> tuple[Moved, ...]:
    """Return the rate exponent, the strength curve, the feeder and the needed force, twice each."""
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


def _figures(asked: Question) -> dict[str, tuple[Array, str]]:
    fit = asked.line.fit
    point = asked.line.at(asked.reference.pressure, asked.speed)
    found = {
        "rate exponent": (fit.powder.rate_exponent, "1"),
        "solid fraction at the lab's pressure": (point.solid_fraction, "1"),
    }
    if fit.strength is not None:
        middle = np.full(fit.powder.draws, float(np.median(point.solid_fraction)))
        found["lab strength at that solid fraction"] = (fit.strength.strength(middle), "MPa")
        if fit.strength.feeder_known:
            found["feeder factor on strength"] = (fit.strength.feeder, "1")
    if point.strength is not None:
        found["production strength at the lab's pressure"] = (point.strength, "MPa")
    return found


def _failed(results: tuple[RunResult, ...], moved: tuple[Moved, ...]) -> tuple[str, ...]:
    """Return in what the lab model failed, feeder and rate told apart."""
    told = []
    by_name = {each.name: each for each in moved}
    rate = by_name["rate exponent"]
    if rate.clear:
        told.append(
            f"The rate exponent moved from {_value(rate.before)} to {_value(rate.after)}: the lab "
            "runs did not show how the blend minds speed at production dwell."
        )
    feeder = by_name.get("feeder factor on strength")
    if feeder is not None and _away_from_one(feeder.after):
        told.append(
            f"At equal solid fraction production tablets have {_value(feeder.after)} times the "
            "lab's strength: a shift of the strength curve (shear in the feeder, lubrication), not "
            "an effect of speed; it is estimated apart from the rate exponent."
        )
    return (*told, *_far_off(results))


def _away_from_one(factor: Quantity) -> bool:
    low, high = factor.low, factor.high
    return low is not None and high is not None and not low <= 1.0 <= high


def _far_off(results: tuple[RunResult, ...]) -> list[str]:
    far = [
        f"{result.name} {item.measure.replace('_', ' ')} ({item.residual:+.1f})"
        for result in results
        for item in result.compared
        if item.measure in JUDGED and not item.within
    ]
    if not far:
        return []
    return [f"Means outside the action limits, in standard deviations: {', '.join(far)}."]


def _value(quantity: Quantity) -> str:
    if quantity.value is None or quantity.low is None or quantity.high is None:
        return "an unknown value"
    ends = f"{quantity.low:.3f} to {quantity.high:.3f}"
    return f"{quantity.value:.3f} ({ends})"
