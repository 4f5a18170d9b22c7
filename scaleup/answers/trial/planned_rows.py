"""A plan as the rows of its sheet, and as the record that is read back."""

from __future__ import annotations

from scaleup import __version__
from scaleup.answers.trial.plan import TrialPlan, TrialRun
from scaleup.io.trial_record import TrialRecord
from scaleup.io.trial_sheet.columns import PLANNED, Value
from scaleup.model.estimate import Estimate

SHEET_MEASURES = {
    "thickness": "thickness",
    "breaking force": "breaking_force",
    "ejection force": "ejection_force",
}
"""Measure of the sheet: its name in the plan."""


def sheet_rows(plan: TrialPlan) -> list[dict[str, Value]]:
    """Return the rows of the trial sheet in core units, blanks left out."""
    named: dict[str, Value] = {"plan": record_of(plan).short_hash}
    return [named | row for row in _planned(plan)]


def _planned(plan: TrialPlan) -> list[dict[str, Value]]:
    return [_row(plan, run) for run in plan.runs]


def _row(plan: TrialPlan, run: TrialRun) -> dict[str, Value]:
    row: dict[str, Value] = {
        "run": run.name,
        "purpose": run.rung.purpose,
        "study": plan.study.name,
        "press": plan.study.production.press.id,
        "planned start": run.start,
        "planned speed": run.rung.speed,
        "planned force": run.rung.force,
        "planned precompression": run.rung.force * run.rung.pre_share,
        "planned fill depth": run.settings.fill_depth.value,
        "planned tip separation": run.settings.tip_separation.value,
        "target weight": plan.weight,
        "tablets to sample": float(run.tablets),
    }
    for shown, name in SHEET_MEASURES.items():
        row |= _three(shown, run.predicted[name], run.action[name])
    return row


def _three(shown: str, predicted: Estimate, action: Estimate) -> dict[str, Value]:
    return {
        f"predicted {shown}": predicted.value,
        f"lowest {shown}": action.low,
        f"highest {shown}": action.high,
    }


def record_of(plan: TrialPlan) -> TrialRecord:
    """Return what a plan fixes, under its hash."""
    study, rule, drawing = plan.study, plan.rule, plan.calibrated.drawing
    made = study.production
    return TrialRecord(
        study=study.name,
        inputs=study.inputs,
        press=made.press.id,
        tooling=made.tooling.id,
        weight=plan.weight,
        true_density=study.blend.true_density,
        figure=rule.figure,
        unit=rule.unit,
        bound=rule.bound,
        confidence=rule.confidence,
        solid_fraction=rule.solid_fraction,
        speed=rule.speed,
        tablets=rule.tablets,
        friability=rule.friability,
        stop_force=plan.stops.force,
        stop_ejection=plan.stops.ejection,
        stop_breaking_force=plan.stops.breaking_force,
        version=__version__,
        seed=drawing.seed,
        draws=drawing.draws,
        date=plan.options.date,
        command=plan.options.command,
        runs=tuple({name: row[name] for name in PLANNED if name in row} for row in _planned(plan)),
    )
