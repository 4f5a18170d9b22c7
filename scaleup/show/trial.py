"""A trial: the plan as sheet and page, what it taught on a terminal and as JSON."""

from __future__ import annotations

from typing import Any

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from scaleup import __version__
from scaleup.files.trial_sheet import Value, csv_sheet, xlsx_sheet
from scaleup.show.json_form import header, powder_form, quantity_form, risk_form
from scaleup.show.page import bullets, page, paragraph, section, table
from scaleup.show.parts import caution, confidence_line, fit_line, press_line, title, told
from scaleup.transfer.quantity import Quantity, exactly
from scaleup.transfer.trial.learning import Accepted, Compared, Learned, RunResult
from scaleup.transfer.trial.plan import TrialPlan, TrialRun
from scaleup.transfer.verdict import Verdict
from scaleup.transfer.wording import say

PLAN_FORMAT = "scaleup trial plan 1"
LEARNED_FORMAT = "scaleup trial learned 1"
HOW_TO_READ = (
    "Values are the predicted means of the tablets sampled; in brackets the action limits, between "
    "which 99 of 100 means lie if the prediction is right. Sample weight, thickness, breaking "
    "force and ejection force of each tablet, friability of the run, and look at every tablet for "
    "capping."
)
SHEET_MEASURES = {
    "thickness": "thickness",
    "breaking force": "breaking_force",
    "ejection force": "ejection_force",
}
"""Measure of the sheet: its name in the plan."""


def sheet_rows(plan: TrialPlan) -> list[dict[str, Value]]:
    """Return the rows of the trial sheet in core units, blanks left out."""
    return [_sheet_row(run) for run in plan.runs]


def _sheet_row(run: TrialRun) -> dict[str, Value]:
    row: dict[str, Value] = {
        "run": run.name,
        "purpose": run.rung.purpose,
        "planned speed": run.rung.speed,
        "planned force": run.rung.force,
        "planned precompression": run.rung.force * run.rung.pre_share,
        "tablets to sample": float(run.tablets),
    }
    for shown, name in SHEET_MEASURES.items():
        row[f"predicted {shown}"] = run.predicted[name].value
        row[f"lowest {shown}"] = run.action[name].low
        row[f"highest {shown}"] = run.action[name].high
    return row


def plan_csv(plan: TrialPlan) -> str:
    """Return the trial sheet as CSV."""
    what = f"Trial sheet of {plan.study.name}."
    how = "Fill in the columns from speed on; leave blank what was not measured."
    head = [f"{what} {how}", plan.caution]
    return csv_sheet(sheet_rows(plan), head)


def plan_xlsx(plan: TrialPlan) -> bytes:
    """Return the trial sheet as a workbook with the plan beside it."""
    lines = [f"Trial of {plan.study.name}", plan.objective, *_plan_lines(plan), plan.caution]
    return xlsx_sheet(sheet_rows(plan), {"plan": lines})


def _plan_lines(plan: TrialPlan) -> list[str]:
    parts = (
        ("Against this trial", plan.against),
        ("Why these settings", plan.reasons),
        ("Equipment", plan.equipment),
        ("Materials", plan.materials),
        ("Stop the run on", plan.stop_rules),
        ("Accepted if", plan.acceptance),
        ("Notes", plan.notes),
    )
    lines = []
    for heading, texts in parts:
        if texts:
            lines += [heading, *[f"   {text}" for text in texts]]
    return [*lines, _needs(plan)]


def _needs(plan: TrialPlan) -> str:
    kilograms = (plan.powder.value or 0.0) / 1e6
    minutes = (plan.time.value or 0.0) / 60.0
    rest = "" if plan.options.hold_up else ", and what hopper and feeder hold besides"
    return (
        f"Powder about {kilograms:.3g} kg{rest}; time about {minutes:.0f} min, "
        f"{plan.options.minutes:g} min for each of {len(plan.runs)} runs and "
        f"{plan.options.setting_minutes:g} min to set it."
    )


def plan_page(plan: TrialPlan) -> str:
    """Return the plan as a page."""
    study = plan.study
    parts = [
        paragraph(plan.objective),
        paragraph(plan.caution, "caution"),
        *[paragraph(text, "against") for text in plan.against],
        section("Materials", bullets(plan.materials)),
        section("Equipment", bullets(plan.equipment)),
        section(
            "Runs, in order",
            bullets(plan.reasons),
            table(
                "runs of the trial",
                ("run", "purpose", "speed", "main force", "precompression", "tablets",
                 "thickness", "solid fraction", "strength", "breaking force", "ejection force"),
                [_page_row(run) for run in plan.runs],
                texts=2,
            ),
            paragraph(HOW_TO_READ),
        ),
        section("Stop the run on", bullets(plan.stop_rules)),
        section("Acceptance rule, fixed before the trial", bullets(plan.acceptance, ordered=True)),
        section("Powder and time", paragraph(_needs(plan))),
        section("Notes", bullets(plan.notes)),
    ]  # fmt: skip
    files = ", ".join(f"{file} {digest[:12]}" for file, digest in study.inputs)
    foot = [f"scaleup {__version__}, seed {plan.case.drawing.seed}, inputs: {files}"]
    return page(f"Trial plan: {study.name}", parts, foot)


def _page_row(run: TrialRun) -> list[str]:
    rung = run.rung
    names = ("thickness", "solid_fraction", "tensile_strength", "breaking_force", "ejection_force")
    return [
        run.name,
        rung.purpose,
        say(rung.speed, "rpm"),
        say(rung.force, "N"),
        "none" if rung.pre_share == 0.0 else say(rung.force * rung.pre_share, "N"),
        str(run.tablets),
        *[_with_limits(run.predicted[name], run.action[name]) for name in names],
    ]


def _with_limits(predicted: Quantity, action: Quantity) -> str:
    if predicted.value is None:
        return "n/a"
    whole = Quantity(predicted.value, predicted.unit, action.low, action.high)
    text = told(whole)
    value, _, rest = text.partition(" (")
    ends, _, unit = rest.partition(")")
    return f"{value}{unit}\n({ends})"


def show_plan(console: Console, plan: TrialPlan) -> None:
    """Print the runs of a plan and what they need."""
    console.print(
        title(
            plan.study,
            f"trial on {press_line(plan.study.production)}; {confidence_line(plan.confidence)}",
        )
    )
    console.print(fit_line(plan.case.fit))
    for text in plan.against:
        console.print(Text(f"against this trial: {text}", style="bold red"))
    grid = Table(box=SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False, show_edge=False)
    for name in (
        "run",
        "purpose",
        "rpm",
        "kN",
        "pre kN",
        "n",
        "breaking force, N",
        "thickness, mm",
    ):
        grid.add_column(name, justify="left" if name in ("run", "purpose") else "right")
    for run in plan.runs:
        rung = run.rung
        grid.add_row(
            run.name, rung.purpose, f"{rung.speed:.3g}", f"{rung.force / 1e3:.3g}",
            f"{rung.force * rung.pre_share / 1e3:.3g}", str(run.tablets),
            *[_limits(run, name) for name in ("breaking_force", "thickness")],
        )  # fmt: skip
    console.print(grid)
    console.print(Text("predicted means with their action limits", style="dim"))
    for reason in plan.reasons:
        console.print(Text(f"- {reason}"))
    console.print(Text(_needs(plan)))
    console.print(caution(plan.caution))


def _limits(run: TrialRun, name: str) -> str:
    predicted, action = run.predicted[name], run.action[name]
    if predicted.value is None:
        return "n/a"
    return told(Quantity(predicted.value, predicted.unit, action.low, action.high), unit=False)


def show_learned(console: Console, found: Learned) -> None:
    """Print prediction against result, the acceptance rule, what moved, and the new answer."""
    console.print(
        title(found.study, f"what the trial on {press_line(found.study.production)} taught")
    )
    console.print(fit_line(found.after.fit))
    console.print(_results(found.results))
    if found.left_blank:
        console.print(Text(f"left blank: {', '.join(found.left_blank)}", style="dim"))
    console.print(Text("acceptance rule", style="bold"))
    for item in found.accepted:
        console.print(Text(f"  {_verdict(item):12s} {item.rule}: {item.why}"))
    console.print(_moved(found))
    for text in found.failed or ("nothing in the trial speaks against the lab model",):
        console.print(Text(f"- {text}"))
    console.print(_after(found.findings.verdict))
    if found.fastest.value is not None:
        console.print(
            Text(
                f"fastest speed that holds now: {told(found.fastest)} at "
                f"{told(found.fastest_pressure)}"
            )
        )
    console.print(caution(found.caution))


def _results(results: tuple[RunResult, ...]) -> Table:
    grid = Table(box=SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False, show_edge=False)
    for name in ("run", "rpm", "kN", "measure", "measured", "predicted", "residual", "limits"):
        grid.add_column(name, justify="left" if name in ("run", "measure", "limits") else "right")
    for result in results:
        for number, item in enumerate(result.compared):
            first = (result.name, f"{result.speed:.3g}", f"{result.force / 1e3:.3g}")
            grid.add_row(*(first if number == 0 else ("", "", "")), *_compared(item))
    return grid


def _compared(item: Compared) -> tuple[str, ...]:
    return (
        item.measure.replace("_", " "),
        told(exactly(item.measured, item.unit)),
        told(item.predicted, unit=False),
        f"{item.residual:+.1f}",
        "within" if item.within else "outside",
    )


def _verdict(item: Accepted) -> str:
    return {True: "holds", False: "does not", None: "not known"}[item.holds]


def _moved(found: Learned) -> Table:
    grid = Table(box=SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False, show_edge=False)
    for name in ("what moved", "before", "after", ""):
        grid.add_column(name)
    for each in found.moved:
        then = told(each.before) if each.before.value is not None else "not known"
        grid.add_row(each.name, then, told(each.after), "moved" if each.clear else "")
    return grid


def _after(verdict: Verdict) -> Text:
    return Text(f"verdict now: {verdict.answer}. {' '.join(verdict.reasons)}", style="bold")


def plan_form(plan: TrialPlan) -> dict[str, Any]:
    """Return the plan as plain lists and dictionaries."""
    return header(plan.study, PLAN_FORMAT, plan.case.drawing.seed) | {
        "draws": plan.case.drawing.draws,
        "objective": plan.objective,
        "against": list(plan.against),
        "runs": [
            {
                "run": run.name,
                "purpose": run.rung.purpose,
                "speed": quantity_form(exactly(run.rung.speed, "rpm")),
                "force": quantity_form(exactly(run.rung.force, "N")),
                "precompression_share": run.rung.pre_share,
                "tablets": run.tablets,
                "predicted": {name: quantity_form(each) for name, each in run.predicted.items()},
                "action_limits": {name: quantity_form(each) for name, each in run.action.items()},
            }
            for run in plan.runs
        ],
        "reasons": list(plan.reasons),
        "stop_rules": list(plan.stop_rules),
        "acceptance": list(plan.acceptance),
        "powder": quantity_form(plan.powder),
        "time": quantity_form(plan.time),
        "notes": list(plan.notes),
        "powder_fit": powder_form(plan.case.fit),
        "caution": plan.caution,
    }


def learned_form(found: Learned) -> dict[str, Any]:
    """Return what was learned as plain lists and dictionaries."""
    return header(found.study, LEARNED_FORMAT, found.after.drawing.seed) | {
        "draws": found.after.drawing.draws,
        "results": [
            {
                "run": result.name,
                "purpose": result.purpose,
                "speed": quantity_form(exactly(result.speed, "rpm")),
                "force": quantity_form(exactly(result.force, "N")),
                "capping_seen": result.capped,
                "friability": result.friability,
                "compared": [
                    {
                        "measure": item.measure,
                        "measured": quantity_form(exactly(item.measured, item.unit)),
                        "predicted": quantity_form(item.predicted),
                        "standardised_residual": item.residual,
                        "within_action_limits": item.within,
                    }
                    for item in result.compared
                ],
            }
            for result in found.results
        ],
        "acceptance": [
            {"rule": item.rule, "holds": item.holds, "why": item.why} for item in found.accepted
        ],
        "moved": [
            {
                "figure": each.name,
                "before": quantity_form(each.before),
                "after": quantity_form(each.after),
                "clear": each.clear,
            }
            for each in found.moved
        ],
        "failed": list(found.failed),
        "left_blank": list(found.left_blank),
        "fastest_speed": quantity_form(found.fastest),
        "fastest_speed_pressure": quantity_form(found.fastest_pressure),
        "verdict": {
            "answer": found.findings.verdict.answer,
            "reasons": list(found.findings.verdict.reasons),
        },
        "risks": [risk_form(item) for item in found.findings.risks],
        "powder": powder_form(found.after.fit),
        "caution": found.caution,
    }
