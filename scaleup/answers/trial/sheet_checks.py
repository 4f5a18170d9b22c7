"""Is the sheet that of its plan, and the study the one it was planned for?"""

from __future__ import annotations

from collections.abc import Iterator

from scaleup import __version__
from scaleup.errors import Fault, InputError
from scaleup.io.trial_record import TrialRecord
from scaleup.io.trial_sheet.columns import RUN_COLUMNS, Value, by_name, shown_value
from scaleup.io.trial_sheet.reading import SheetRow, TrialSheet
from scaleup.model.study import Study
from scaleup.sentence import Fact, Sentence, Words

ROUNDING = 1e-4
"""Share by which a planned number may differ from the plan's: it is written with five digits."""
SAME_WEIGHT, SAME_DENSITY = 0.002, 1e-4
MEND = "Put back what was planned; what was really set goes into the columns to fill in."


def check_sheet(sheet: TrialSheet) -> None:
    """Refuse a sheet whose planned cells are not those of its plan.

    Raises
    ------
    InputError
        With every cell that was changed, what it holds and what was planned.
    """
    plan = sheet.plan
    if plan is None:
        return
    planned = {str(row["run"]): row for row in plan.runs}
    faults: list[Fault] = []
    for row in sheet.rows:
        faults += _other_plan(row, plan, sheet.shown)
        known = planned.get(row.text("run"))
        if known is not None:
            faults += _changed(row, known, sheet.shown)
    if faults:
        raise InputError(faults[:1] if _of_another_plan(sheet, plan) else faults)


def _of_another_plan(sheet: TrialSheet, plan: TrialRecord) -> bool:
    return any(row.text("plan") not in ("", plan.short_hash) for row in sheet.rows)


def _other_plan(row: SheetRow, plan: TrialRecord, shown: str) -> Iterator[Fault]:
    hash_ = row.text("plan")
    if hash_ != plan.short_hash:
        found = f"a sheet of plan {hash_}" if hash_ else "no plan"
        allowed = f"the sheet of plan {plan.short_hash}, as the plan's own file says"
        yield Fault(shown, row.where("plan"), found, allowed, "Take sheet and plan of one trial.")


def _changed(row: SheetRow, planned: dict[str, Value], shown: str) -> Iterator[Fault]:
    columns = by_name(RUN_COLUMNS)
    for name, wanted in planned.items():
        column = columns[name]
        found = row.values.get(name)
        if not _same(found, wanted):
            yield Fault(
                shown,
                row.where(name) + (f", {name}" if name in row.cells else ""),
                _told(shown_value(column, found), column.unit),
                f"{_told(shown_value(column, wanted), column.unit)}, as planned",
                MEND,
            )


def _same(found: Value, wanted: Value) -> bool:
    if isinstance(wanted, float) and isinstance(found, float):
        return abs(found - wanted) <= ROUNDING * max(abs(wanted), 1e-9)
    return found == wanted


def _told(value: Value, unit: str) -> str:
    return "a blank cell" if value is None else f"{value} {unit}".rstrip()


def check_study(study: Study, sheet: TrialSheet) -> tuple[Words, ...]:
    """Return what of a study is another than when the trial was planned, where that may be.

    Raises
    ------
    InputError
        If press, tooling, weight or true density are others: the predictions and limits of the
        sheet are then of another tablet.
    """
    plan = sheet.plan
    if plan is None:
        return ()
    faults = list(_another_tablet(study, plan, sheet.shown))
    if faults:
        raise InputError(faults)
    return tuple(_changes(study, plan))


def _another_tablet(study: Study, plan: TrialRecord, shown: str) -> Iterator[Fault]:
    made = study.production
    mend = (
        "Learn with the study as it was planned, and change it afterwards in the study that "
        "--out writes; or plan anew."
    )
    for what, planned, now in (
        ("press", plan.press, made.press.id),
        ("tooling", plan.tooling, made.tooling.id),
    ):
        if planned != now:
            yield Fault(shown, what, f"a trial planned on {planned}", now,
                        "Say --to and --tooling as the trial was planned.")  # fmt: skip
    weight = study.target.weight
    if weight is not None and abs(weight / plan.weight - 1.0) > SAME_WEIGHT:
        yield Fault(
            shown, "target weight", f"a trial planned for {plan.weight:.4g} mg",
            f"{weight:.4g} mg, as the study asks for", mend,
        )  # fmt: skip
    density = study.blend.true_density
    if abs(density / plan.true_density - 1.0) > SAME_DENSITY:
        yield Fault(
            shown, "true density", f"a trial planned with {plan.true_density:.4g} g/cm³",
            f"{density:.4g} g/cm³, as the study states", mend,
        )  # fmt: skip


def _changes(study: Study, plan: TrialRecord) -> Iterator[Words]:
    target = study.target
    asked = {"tensile strength": target.strength, "breaking force": target.breaking_force}
    now = next((name for name, value in asked.items() if value is not None), "")
    if now != plan.figure or asked.get(now) != plan.bound:
        yield Sentence(
            "The study now asks for {now}; the trial was planned for {planned}, and its acceptance "
            "is of that.",
            now=_asked(now, asked.get(now)),
            planned=_asked(plan.figure, plan.bound),
        )
    window = (target.solid_fraction.min, target.solid_fraction.max)
    if window != plan.solid_fraction:
        yield Sentence(
            "The study now allows solid fractions of {low:%} to {high:%}; the trial was planned "
            "for {first:%} to {last:%}, and its acceptance is of that.",
            low=window[0],
            high=window[1],
            first=plan.solid_fraction[0],
            last=plan.solid_fraction[1],
        )
    known = dict(plan.inputs)
    files = [file for file, digest in study.inputs if known.get(file) != digest]
    if files:
        yield f"Changed since the plan was made: {', '.join(files)}."
    if plan.version != __version__:
        yield f"Planned with version {plan.version}, learned with {__version__}."


def _asked(figure: str, bound: float | None) -> Words:
    if bound is None:
        return "no strength"
    unit = "MPa" if figure == "tensile strength" else "N"
    return Sentence("{figure} of {bound}", figure=figure, bound=Fact(bound, unit))
