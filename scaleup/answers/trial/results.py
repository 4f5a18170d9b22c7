"""What the rows of a filled trial sheet say: runs for the fit, each held against its prediction."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from scaleup.answers.trial.acceptance_rule import FRIABLE
from scaleup.answers.trial.design import AT_CENTRE, Rung, point_of
from scaleup.answers.trial.plan import ACTION, figures_at, scatter_of_mean
from scaleup.arrays import Array
from scaleup.errors import Fault, InputError
from scaleup.io.trial_sheet.reading import SheetRow
from scaleup.model.defects import ON_TABLETS
from scaleup.model.estimate import Estimate, drawn
from scaleup.model.run import Run
from scaleup.model.study import Study
from scaleup.powder.tip import tip_from
from scaleup.short_repr import short_repr
from scaleup.transfer.case import TransferCase
from scaleup.wording import percent, say

AS_PLANNED = 0.02
"""Share by which speed and force may be off the plan for the sheet's action limits to hold, and
precompression by as much of the force."""
LOOSEST, DENSEST = 0.2, 0.999
"""Solid fractions that a tablet can have."""
NOTE = 500
"""Characters of a note that a run table takes."""
AS_WEIGHED = 0.01
"""Share by which the mean weight may be off the target for the sheet's action limits to hold."""
FAR, FAR_BELOW = 3.0, 6.0
"""A mean this many times the predicted one, or less than that part of it, is a mistake of typing or
unit (judgements of this program): kilopond for newton is a tenth, weak tablets are a quarter."""


@dataclass(frozen=True)
class Compared:
    """One measured mean against its prediction."""

    measure: str
    measured: float
    unit: str
    predicted: Estimate
    """At what was really set and weighed."""
    residual: float
    """Measured less predicted, in standard deviations of the predicted mean."""
    lowest: float
    """Action limits: those of the sheet, or, for what it has none of and for runs set otherwise
    than planned, worked out as they would have been."""
    highest: float
    fixed: bool
    """Whether they are the sheet's, fixed before the trial."""

    @property
    def within(self) -> bool:
        """Return whether the mean lies between the action limits."""
        return self.lowest <= self.measured <= self.highest


@short_repr
@dataclass(frozen=True)
class RunResult:
    """One trial run: what was set, and every measured mean against its prediction."""

    name: str
    purpose: str
    line: int
    speed: float
    """rpm."""
    force: float
    """N."""
    precompression: float
    """N."""
    compared: tuple[Compared, ...]
    seen: tuple[str, ...]
    """What was found on its tablets, friable ones among them."""
    looked_for: tuple[str, ...]
    """What the sheet says was looked for, found or not."""
    friability: float | None
    breaking_force: float | None
    """N."""
    ejection_force: float | None
    """N."""
    note: str

    def found(self, *names: str) -> bool | None:
        """Return whether one of some defects was found; None where one was not looked for."""
        if any(name in self.seen for name in names):
            return True
        return False if all(name in self.looked_for for name in names) else None

    @property
    def at_centre(self) -> bool:
        """Return whether it is a run of the centre."""
        return self.purpose in AT_CENTRE


def check_rows(study: Study, rows: tuple[SheetRow, ...], shown: str) -> None:
    """Refuse rows of another study, named twice or known already, or set as no press could be.

    Raises
    ------
    InputError
        With every such fault.
    """
    faults = [*_foreign(study, rows, shown), *_again(study, rows, shown)]
    for row in rows:
        faults += _impossible(study, row, shown)
    if faults:
        raise InputError(dict.fromkeys(faults))


def planned_speed(rows: tuple[SheetRow, ...], shown: str) -> float | None:
    """Return the speed in rpm that a trial was planned for: that of its centre.

    Raises
    ------
    InputError
        If the rows of the centre were planned at different speeds.
    """
    speeds = {
        speed
        for row in rows
        if row.text("purpose") in AT_CENTRE and (speed := row.number("planned speed")) is not None
    }
    if len(speeds) > 1:
        found = " and ".join(f"{speed:g} rpm" for speed in sorted(speeds))
        allowed = f"one planned speed of {', '.join(AT_CENTRE)}"
        raise InputError(Fault(shown, "column planned speed", found, allowed))
    return speeds.pop() if speeds else None


def _foreign(study: Study, rows: tuple[SheetRow, ...], shown: str) -> Iterator[Fault]:
    for column, own in (("study", study.name), ("press", study.production.press.id)):
        for other in dict.fromkeys(row.text(column) for row in rows):
            if other and other != own:
                mend = (
                    "Learn from the sheet that was planned from this study."
                    if column == "study"
                    else "Say --to and --tooling as the trial was planned."
                )
                yield Fault(
                    shown, f"column {column}", f'a sheet of "{other}"', f'a sheet of "{own}"', mend
                )


def _again(study: Study, rows: tuple[SheetRow, ...], shown: str) -> Iterator[Fault]:
    counts = Counter(row.text("run") for row in rows if row.text("run"))
    for name, count in counts.items():
        if count > 1:
            yield Fault(shown, f"run {name}", f"{count} rows", "one row for each run")
    known = {run.name for run in study.lab.runs}
    for row in rows:
        if row.text("run") in known and said(row):
            found = "a run that the study has already"
            mend = (
                "Learn from the study that the trial was planned from, or give the run a new name "
                "in the sheet."
            )
            yield Fault(shown, f"run {row.text('run')}", found, "runs new to the study", mend)


def _impossible(study: Study, row: SheetRow, shown: str) -> Iterator[Fault]:
    made = study.production
    where = f"row {row.line}"
    speed, force = row.number("speed"), row.number("force")
    limits = made.press.profile.speed
    if speed is not None and not 0.99 * limits.min <= speed <= 1.01 * limits.max:
        allowed = f"{limits.min:g} to {limits.max:g} rpm, the range of {made.press.id}"
        yield Fault(shown, f"{where}, speed", f"{speed:g} rpm", allowed)
    yield from _no_tablet(study, row, shown)
    pre = row.number("precompression")
    if pre is not None and force is not None and pre > force:
        found, allowed = f"{say(pre, 'N')} before {say(force, 'N')}", "less than the main force"
        mend = "Check whether force and precompression were exchanged."
        yield Fault(shown, f"{where}, precompression", found, allowed, mend)
    ratings = [made.press.profile.force_limit, made.tooling.profile.tip_force_rating]
    top = min(each for each in ratings if each is not None)
    if force is not None and force > 1.05 * top:
        allowed = f"up to {say(top, 'N')}, which tips and roller take"
        yield Fault(shown, f"{where}, force", say(force, "N"), allowed, "Check number and unit.")


def _no_tablet(study: Study, row: SheetRow, shown: str) -> Iterator[Fault]:
    """Yield that weight and thickness make no tablet of the production tooling."""
    weight, thickness = row.number("weight"), row.number("thickness")
    if weight is None or thickness is None:
        return
    tip = tip_from(study.production.tooling.profile)
    volume = max(float(tip.volume(np.array(thickness), tip.width)), 1e-9)
    solid = weight / (study.blend.true_density * volume)
    if not LOOSEST < solid < DENSEST:
        found = f"{weight:.4g} mg and {thickness:.4g} mm, a solid fraction of {solid:.3g}"
        yield Fault(
            shown, f"row {row.line}, weight and thickness", found,
            f"a solid fraction of {LOOSEST:g} to {DENSEST:g}",
            "Check weight, thickness and their units, its single tablets, and the tooling.",
        )  # fmt: skip


def usable(rows: tuple[SheetRow, ...]) -> tuple[SheetRow, ...]:
    """Return the rows whose tablets were weighed and gauged: what a fit can use."""
    return tuple(row for row in rows if row.number("weight") and row.number("thickness"))


def said(row: SheetRow) -> bool:
    """Return whether anything was filled in that a trial measures or sees."""
    numbers = ("weight", "thickness", "breaking force", "ejection force", "friability")
    return any(row.number(name) is not None for name in numbers) or bool(_looked_for(row))


def _looked_for(row: SheetRow) -> tuple[str, ...]:
    return tuple(name for name in ON_TABLETS if row.text(name))


def _seen(row: SheetRow, friable: float) -> tuple[str, ...]:
    found = tuple(name for name in ON_TABLETS if row.text(name) == "yes")
    return (*found, "friable") if (row.number("friability") or 0.0) > friable else found


def run_of(row: SheetRow, shown: str, friable: float = FRIABLE) -> Run:
    """Return a row as a production run; what was set is what was planned unless filled in.

    Above the share `friable` of weight lost in the drum its tablets are friable.
    """
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
        elapsed=_elapsed(row),
        fill_depth=row.number("fill depth"),
        weight_standard_deviation=row.number("weight SD"),
        thickness_standard_deviation=row.number("thickness SD"),
        breaking_force_standard_deviation=row.number("breaking force SD"),
        force_standard_deviation=row.number("force SD"),
        tablets=int(row.number("tablets") or row.number("tablets to sample") or 1),
        trial=row.text("plan"),
        seen=_seen(row, friable),
        note=_note(row),
        line=row.line,
    )


def _elapsed(row: SheetRow) -> float | None:
    known = row.number("elapsed")
    return row.number("planned start") if known is None else known


def _note(row: SheetRow) -> str:
    """Return the note of a row with what a run table has no column for."""
    parts = [row.text(name) for name in ("note", "stops and deviations") if row.text(name)]
    friability = row.number("friability")
    if friability is not None:
        parts.append(f"friability {percent(friability)}")
    parts += [f"{heading}: {text}" for heading, text in row.extra.items()]
    return "; ".join(parts)[:NOTE]


def result_of(
    row: SheetRow, run: Run, case: TransferCase | None, shown: str, friable: float = FRIABLE
) -> RunResult:
    """Return a row held against what was predicted; without a prediction, only what it says.

    Raises
    ------
    InputError
        If a mean is so far from its prediction that it is no measurement.
    """
    compared: tuple[Compared, ...] = ()
    if case is not None and run.weight is not None and run.thickness is not None:
        compared = tuple(_compared(row, run, case))
    faults = [_far(row, item, shown) for item in compared if not _near(item)]
    if faults:
        raise InputError(faults)
    return RunResult(
        name=run.name,
        purpose=row.text("purpose"),
        line=row.line,
        speed=run.speed or 0.0,
        force=run.force,
        precompression=run.precompression or 0.0,
        compared=compared,
        seen=_seen(row, friable),
        looked_for=_looked_for(row),
        friability=row.number("friability"),
        breaking_force=run.breaking_force,
        ejection_force=run.ejection_force,
        note=row.text("note"),
    )


def _near(item: Compared) -> bool:
    ratio = item.measured / max(item.predicted.value or 0.0, 1e-9)
    return 1.0 / FAR_BELOW <= ratio <= FAR


def _far(row: SheetRow, item: Compared, shown: str) -> Fault:
    name = item.measure.replace("_", " ")
    predicted = say(item.predicted.value or 0.0, item.unit)
    return Fault(
        shown, f"row {row.line}, {name}", say(item.measured, item.unit),
        f"1/{FAR_BELOW:g} to {FAR:g} times what is predicted, {predicted}",
        "Check the number and the unit of the column; leave the cell blank if in doubt.",
    )  # fmt: skip


def _compared(row: SheetRow, run: Run, case: TransferCase) -> Iterator[Compared]:
    """Yield every measured mean against the prediction at what was really set and weighed."""
    weight, thickness = run.weight or 0.0, run.thickness or 0.0
    process = case.process.of_weight(weight)
    share = (run.precompression or 0.0) / run.force
    rung = Rung("", run.speed or case.speed, run.force, share)
    figures = figures_at(point_of(process, rung))
    tip, density = process.side.tip, case.study.blend.true_density
    volume = float(tip.volume(np.array(thickness), tip.width))
    measured: dict[str, float | None] = {
        "thickness": thickness,
        "solid_fraction": weight / (density * volume),
        "breaking_force": run.breaking_force,
        "ejection_force": run.ejection_force,
    }
    for name, value in measured.items():
        draws, unit = figures[name]
        if value is not None and draws is not None:
            spread = scatter_of_mean(process.fit, name, float(np.median(draws)), run.tablets)
            means = draws + spread * case.calibrated.drawing.generator().standard_normal(draws.size)
            yield _one(name, value, means, unit, _fixed(row, run, name))


def _fixed(row: SheetRow, run: Run, measure: str) -> tuple[float, float] | None:
    """Return the action limits of the sheet, None if it has none or the run was set otherwise."""
    name = measure.replace("_", " ")
    low, high = row.number(f"lowest {name}"), row.number(f"highest {name}")
    if low is None or high is None:
        return None
    planned = [row.number(f"planned {each}") for each in ("force", "speed", "precompression")]
    real = (run.force, run.speed, run.precompression or 0.0)
    scales = (planned[0], planned[1], planned[0])  # precompression is a part of the force
    target = row.number("target weight")
    if target is not None and abs((run.weight or 0.0) / target - 1.0) > AS_WEIGHED:
        return None
    for wanted, measured, scale in zip(planned, real, scales, strict=True):
        if wanted is None or measured is None or scale is None:
            return None
        if abs(measured - wanted) > AS_PLANNED * scale:
            return None
    return low, high


def _one(
    name: str, value: float, means: Array, unit: str, fixed: tuple[float, float] | None
) -> Compared:
    ends = np.quantile(means, [(1.0 - ACTION) / 2.0, (1.0 + ACTION) / 2.0])
    low, high = (float(ends[0]), float(ends[1])) if fixed is None else fixed
    residual = (value - float(np.median(means))) / float(means.std())
    return Compared(name, value, unit, drawn(means, unit), residual, low, high, fixed is not None)
