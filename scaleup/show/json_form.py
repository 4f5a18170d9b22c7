"""A translation as JSON: one header, one form of a quantity."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, fields
from math import isfinite
from typing import Any

import numpy as np

from scaleup import __version__
from scaleup.answers.assumed import Assumed
from scaleup.answers.budget import BudgetAnswer
from scaleup.answers.imitation import LabSettings
from scaleup.answers.translation import Translation
from scaleup.calibration.fit import Fit, NoFit
from scaleup.calibration.plant.evidence import PlantRuns
from scaleup.calibration.run_fit import Miss
from scaleup.model.estimate import Estimate, drawn, exactly
from scaleup.model.study import Study
from scaleup.sentence import Fact, Sentence, facts_of
from scaleup.show.powder import powder_quantities
from scaleup.transfer.case import TransferCase
from scaleup.transfer.equivalent import Equivalent
from scaleup.transfer.fastest_speed import Fastest
from scaleup.transfer.matches import force_is
from scaleup.transfer.risks.registry import Risk
from scaleup.transfer.settings import Settings, Tablet

TRANSLATION_FORMAT = "scaleup translation 1"


def quantity_form(quantity: Estimate) -> dict[str, Any]:
    """Return value, unit, low and high; and the reason where one of them is missing.

    >>> quantity_form(Estimate(45.0, "rpm", 45.0, 45.0))
    {'value': 45.0, 'unit': 'rpm', 'low': 45.0, 'high': 45.0}
    """
    form: dict[str, Any] = {
        "value": quantity.value,
        "unit": quantity.unit,
        "low": quantity.low,
        "high": quantity.high,
    }
    if quantity.reason:
        form["reason"] = quantity.reason
    return form


def fastest_form(fastest: Fastest) -> dict[str, Any]:
    """Return the fastest speed that holds and the pressure to set there."""
    return {
        "fastest_speed": quantity_form(fastest.speed),
        "fastest_speed_pressure": quantity_form(fastest.pressure),
        "fastest_speed_output": quantity_form(fastest.output),
        "fastest_speed_draws": fastest.draws,
        "slowest_speed": quantity_form(fastest.slowest),
    }


def header(study: Study, format_name: str, seed: int) -> dict[str, Any]:
    """Return what every JSON of a study begins with."""
    return {
        "format": format_name,
        "tool": {"name": "scaleup", "version": __version__},
        "inputs": [{"file": file, "sha256": digest} for file, digest in study.inputs],
        "seed": seed,
    }


def translation_form(translation: Translation) -> dict[str, Any]:
    """Return a translation as plain lists and dictionaries."""
    study = translation.study
    return header(study, TRANSLATION_FORMAT, translation.drawing.seed) | {
        "draws": translation.drawing.draws,
        "study": {
            "name": study.name,
            "description": study.description,
            "confidence": translation.confidence,
        },
        "lab": {
            "press": study.lab.press.id,
            "tooling": study.lab.tooling.id,
            "reference": translation.lab.reference.name,
            "settings": parts_form(translation.lab.settings),
            "tablet": parts_form(translation.lab.tablet),
        },
        "production": {
            "press": study.production.press.id,
            "tooling": study.production.tooling.id,
            "speed": quantity_form(exactly(translation.speed, "rpm")),
            **fastest_form(translation.fastest),
        },
        "powder": powder_form(translation.fit),
        "logged_pulses": logged_pulses_form(translation.case),
        "equivalents": [
            _equivalent(item, translation.confidence) for item in translation.equivalents
        ],
        "risks": [risk_form(item) for item in translation.risks],
        "verdict": {
            "answer": translation.verdict.answer,
            "reasons": list(translation.verdict.reasons),
        },
        "budget": budget_rows(translation.budget),
        "assumed": assumed_form(translation.assumed),
        "caution": translation.caution,
    }


def logged_pulses_form(case: TransferCase) -> list[dict[str, Any]]:
    """Return the logged pulses of the press beside those of its geometry, times in s."""
    figures = None if case.fitted is None else case.fitted.logged_figures
    if figures is None:
        return []
    return [
        {
            "log": held.log.name,
            "speed": quantity_form(exactly(held.log.speed, "rpm")),
            "conflict": held.excess > 0.0,
            "effective_dwell_ratio": held.dwell_ratio,
        }
        | {
            each.name: {
                "logged": each.logged,
                "from_geometry": {"value": each.middle, "low": each.low, "high": each.high},
                "unit": "s",
            }
            for each in held.figures
        }
        for held in figures.held
    ]


def _on_a_press(shown: PlantRuns) -> dict[str, Any]:
    """Return what the production runs of one press show of it."""
    logs = {"pressure_offset": shown.log_pressure, "strength_factor": shown.log_strength}
    return {"press": shown.press, "tooling": shown.tooling, "runs": shown.runs} | {
        name: None if draws is None else quantity_form(drawn(np.exp(draws), "1"))
        for name, draws in logs.items()
    }


def powder_form(fit: Fit | NoFit) -> dict[str, Any]:
    """Return the fitted parameters with the evidence for the rate exponent."""
    if isinstance(fit, NoFit):
        return {"evidence": "not available", "reasons": list(fit.reasons)}
    return {
        "forms": [
            {"form": each.name, "corrected_akaike": each.criterion, "weight": each.weight}
            for each in fit.forms
        ],
        "evidence": fit.rate.evidence,
        "source": fit.rate.source,
        "parameters": {name: quantity_form(each) for name, each, _ in powder_quantities(fit)},
        "decades_of_dwell": fit.decades,
        "tested_dwell": quantity_form(drawn(fit.powder.tested_dwell, "s")),
        "relaxation": None
        if fit.relaxation is None
        else {
            "rate_exponent": quantity_form(drawn(fit.relaxation.exponent, "1")),
            "deviations_from_fit": fit.relaxation.apart,
            "conflict": fit.relaxation.conflict,
            "runs": list(fit.relaxation.runs),
        },
        "production_runs": [_on_a_press(each) for each in fit.plant.every_press],
        "runs": [
            {
                "run": row.observation.run.name,
                "line": row.observation.run.line,
                "effective_dwell": row.effective_dwell,
                "solid_fraction": row.solid_fraction,
                "solid_fraction_miss": _miss(row.solid_fraction_miss),
                "strength": row.strength,
                "strength_miss": _miss(row.strength_miss),
            }
            for row in fit.runs
        ],
    }


def _miss(miss: Miss | None) -> dict[str, Any] | None:
    if miss is None:
        return None
    return {
        "deleted_residual": miss.deviations,
        "leverage": miss.leverage,
        "chance": miss.chance,
        "suspicious": miss.suspicious,
    }


def parts_form(part: Settings | LabSettings | Tablet) -> dict[str, Any]:
    """Return every quantity of a part by its name."""
    return {each.name: quantity_form(getattr(part, each.name)) for each in fields(part)}


def _equivalent(item: Equivalent, confidence: float) -> dict[str, Any]:
    return {
        "match": item.match,
        "force_is": force_is(item.match, confidence),
        "reachable": item.reachable,
        "reason": item.reason,
        "share_within_limits": item.within,
        "limits_not_held": [limit.code for limit in item.broken],
        "settings": parts_form(item.settings),
        "tablet": parts_form(item.tablet),
    }


def assumed_form(assumed: tuple[Assumed, ...]) -> list[dict[str, Any]]:
    """Return what was taken for granted, what decides first."""
    return [
        asdict(each) | {"facts": facts_form(facts_of(each.value, each.instead))} for each in assumed
    ]


def budget_rows(budget: BudgetAnswer) -> list[dict[str, Any]]:
    """Return every share: figure, term, evidence, share, and what would shrink it."""
    return [
        {
            "figure": row.figure,
            "term": row.term,
            "evidence": row.evidence,
            "share": row.share,
            "told": row.told,
            "shrink": None
            if row.shrink is None
            else {
                "by": row.shrink.experiment.name,
                "narrower": row.shrink.narrower,
            },
        }
        for row in budget.rows
    ]


def risk_form(item: Risk) -> dict[str, Any]:
    """Return a finding as a dictionary."""
    return {
        "code": item.code,
        "severity": item.severity,
        "message": item.message,
        "evidence": item.evidence,
        "action": item.action,
        "effect": item.effect,
        "about": item.about,
        "facts": facts_form(item.facts),
    }


def facts_form(facts: Mapping[str, Fact | str]) -> dict[str, Any]:
    """Return facts by name: value and unit of a number, the text of a word.

    >>> facts_form({"speed": Fact(60.0, "rpm"), "match": "strength"})
    {'speed': {'value': 60.0, 'unit': 'rpm'}, 'match': 'strength'}
    """
    return {
        name: {"value": fact.value if isfinite(fact.value) else None, "unit": fact.unit}
        if isinstance(fact, Fact)
        else fact
        for name, fact in facts.items()
    }


def json_text(form: dict[str, Any]) -> str:
    """Return JSON text; a number that is not finite is a fault of the program, never written."""
    return json.dumps(form, indent=2, ensure_ascii=False, allow_nan=False, default=_text) + "\n"


def _text(sentence: object) -> str:
    if isinstance(sentence, Sentence):
        return str(sentence)
    raise TypeError(f"JSON has no {type(sentence).__name__}")
