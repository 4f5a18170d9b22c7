"""The figures of a trial as its pages tell them: always in kN, N, mm, mg and rpm."""

from __future__ import annotations

from collections.abc import Iterator

from scaleup.answers.trial.plan import TrialPlan, TrialRun
from scaleup.model.estimate import Estimate
from scaleup.show.trial_words import precompression, weight_text
from scaleup.wording import significant

NONE = "n/a"


def kilonewtons(force: float) -> str:
    """Return a force in N as a press shows it.

    >>> kilonewtons(15240.0), kilonewtons(0.0)
    ('15.2', 'none')
    """
    return significant(force / 1e3, 3) if force else "none"


def millimetres(length: Estimate) -> str:
    """Return a length to set, to hundredths."""
    return NONE if length.value is None else f"{length.value:.2f}"


def set_to(run: TrialRun) -> dict[str, str]:
    """Return what a run is set to, by name and unit."""
    return {
        "turret speed|rpm": significant(run.rung.speed, 3),
        "main force|kN": kilonewtons(run.rung.force),
        "precompression|kN": kilonewtons(precompression(run).value or 0.0),
        "fill depth|mm": millimetres(run.settings.fill_depth),
        "tip separation|mm": millimetres(run.settings.tip_separation),
    }


def predicted_mean(run: TrialRun, name: str) -> tuple[str, str]:
    """Return a predicted mean and its action limits, without their unit."""
    predicted, action = run.predicted[name], run.action[name]
    if predicted.value is None:
        return NONE, NONE
    low, high = (_mean(end, predicted.unit) for end in (action.low, action.high))
    return _mean(predicted.value, predicted.unit), f"{low}–{high}"


def _mean(value: float | None, unit: str) -> str:
    if value is None:
        return "…"
    return f"{value:.3f}" if unit == "mm" else significant(value, 3)


def weight_limits(plan: TrialPlan) -> str:
    """Return between which weights in mg a single tablet has to be."""
    return "–".join(weight_text(each) for each in plan.weight_limits)


def stop_at(limit: float | None, side: str, unit: str = "N") -> str:
    """Return at which force in N a run is stopped at once, with the digits of the stop rules.

    >>> stop_at(34200.0, "above", "kN"), stop_at(61.16, "below"), stop_at(None, "above")
    ('above 34.2', 'below 61.2', 'n/a')
    """
    if limit is None:
        return NONE
    return f"{side} {significant(limit / 1e3 if unit == 'kN' else limit, 3)}"


def not_available(plan: TrialPlan) -> Iterator[str]:
    """Yield why a figure of the runs is not available, each once."""
    named = {
        "fill depth": [run.settings.fill_depth for run in plan.runs],
        "tip separation": [run.settings.tip_separation for run in plan.runs],
        "breaking force": [run.predicted["breaking_force"] for run in plan.runs],
        "ejection force": [run.predicted["ejection_force"] for run in plan.runs],
    }
    for name, estimates in named.items():
        for reason in dict.fromkeys(each.reason for each in estimates if each.value is None):
            yield f"{name} not available: {reason}"
