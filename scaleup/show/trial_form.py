"""The plan of a trial as JSON, and as a frame."""

from __future__ import annotations

from typing import Any

from scaleup.answers.experiments import Experiment
from scaleup.answers.trial.plan import TrialPlan, TrialRun
from scaleup.answers.trial.planned_rows import record_of
from scaleup.answers.trial.stop_limits import StopLimits
from scaleup.model.estimate import Estimate, exactly, unavailable
from scaleup.show.frames import Frame
from scaleup.show.json_form import assumed_form, header, parts_form, powder_form, quantity_form
from scaleup.show.trial_words import precompression

PLAN_FORMAT = "scaleup trial plan 1"


def plan_form(plan: TrialPlan) -> dict[str, Any]:
    """Return the plan as plain lists and dictionaries."""
    return header(plan.study, PLAN_FORMAT, plan.calibrated.drawing.seed) | {
        "draws": plan.calibrated.drawing.draws,
        "plan": record_of(plan).hash,
        "planned": bool(plan.runs),
        "withheld": list(plan.withheld),
        "first": [_first_form(each) for each in plan.first],
        "objective": plan.objective,
        "against": list(plan.against),
        "weight": quantity_form(exactly(plan.weight, "mg")),
        "weight_limits": quantity_form(Estimate(plan.weight, "mg", *plan.weight_limits)),
        "runs": [
            {
                "run": run.name,
                "purpose": run.rung.purpose,
                "speed": quantity_form(exactly(run.rung.speed, "rpm")),
                "force": quantity_form(exactly(run.rung.force, "N")),
                "precompression_share": run.rung.pre_share,
                "tablets": run.tablets,
                "block": run.rung.block,
                "start": quantity_form(exactly(run.start, "s")),
                "settings": _settings_form(run),
                "predicted": {name: quantity_form(each) for name, each in run.predicted.items()},
                "action_limits": {name: quantity_form(each) for name, each in run.action.items()},
            }
            for run in plan.runs
        ],
        "reasons": list(plan.reasons),
        "stops": _stops_form(plan.stops),
        "stop_rules": list(plan.stop_rules),
        "instructions": list(plan.instructions),
        "acceptance": list(plan.acceptance),
        "powder": quantity_form(plan.powder),
        "time": quantity_form(plan.time),
        "notes": list(plan.notes),
        "powder_fit": powder_form(plan.calibrated.fit),
        "assumed": assumed_form(plan.assumed),
        "caution": plan.caution,
    }


def _settings_form(run: TrialRun) -> dict[str, Any]:
    """Return the settings of a run; its precompression is its own, not that of the study."""
    return parts_form(run.settings) | {"precompression_force": quantity_form(precompression(run))}


def _stops_form(stops: StopLimits) -> dict[str, Any]:
    limits = {
        "force": stops.force,
        "ejection_force": stops.ejection,
        "breaking_force": stops.breaking_force,
    }
    return {
        name: quantity_form(unavailable("N", "nothing states it") if limit is None
                            else exactly(limit, "N"))
        for name, limit in limits.items()
    }  # fmt: skip


def _first_form(each: Experiment) -> dict[str, Any]:
    return {
        "name": each.name,
        "told": each.told,
        "cost": each.cost.told,
        "narrower": {name.replace(" ", "_"): share for name, share in each.narrower.items()},
    }


HEADINGS = (
    "run", "purpose", "speed [rpm]", "force [N]", "precompression [N]", "tablets", "quantity",
    "value", "unit", "low", "high", "lowest", "highest", "reason",
)  # fmt: skip


def plan_frame(plan: TrialPlan) -> Frame:
    """Return a line for each predicted mean of each run, with its band and its action limits."""
    return Frame.of(HEADINGS, [row for run in plan.runs for row in _rows(run)])


def _rows(run: TrialRun) -> list[tuple[object, ...]]:
    rung = run.rung
    set_to = (
        run.name, rung.purpose, rung.speed, rung.force, rung.force * rung.pre_share, run.tablets
    )  # fmt: skip
    return [
        (
            *set_to, name, each.value, each.unit, each.low, each.high, run.action[name].low,
            run.action[name].high, each.reason,
        )
        for name, each in run.predicted.items()
    ]  # fmt: skip
