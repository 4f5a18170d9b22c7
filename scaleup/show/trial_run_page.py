"""The page of one run: what is set, when it is stopped, and what is seen."""

from __future__ import annotations

from scaleup.answers.trial.design import BETWEEN as BETWEEN_BLOCKS
from scaleup.answers.trial.design import CLIMBING, END, FORCE, PRE, RESTART, SPEED, START
from scaleup.answers.trial.documents import BETWEEN, SAMPLING, START_UP, STOP_AND_RESTART
from scaleup.answers.trial.plan import TrialPlan, TrialRun
from scaleup.io.trial_sheet.columns import MOMENTS, YES_NO
from scaleup.io.trial_sheet.writing import spread_over_samples
from scaleup.model.defects import ON_TABLETS
from scaleup.show.page import paragraph
from scaleup.show.trial_figures import predicted_mean, set_to, stop_at, weight_limits
from scaleup.show.trial_page_parts import (
    TrialSheetPage,
    form_table,
    heading,
    signatures,
    ticked,
    unit_heading,
)
from scaleup.show.trial_words import weight_text

ROWS_OF_TABLETS = 6
"""Tablets of each sample that have room on the page."""
MEANING = {
    START: "The first run at the centre: it shows whether the prediction holds on this press.",
    CLIMBING: "A step towards the centre, at a force that is new on this press.",
    SPEED: "The force of the centre at another turret speed: set the force anew. It shows "
    "how speed-sensitive the blend is.",
    FORCE: "Another main force at the speed of the centre: it shows how the tablet "
    "changes with force.",
    PRE: "Another precompression at the main force of the centre: look for capping "
    "and compare friability.",
    RESTART: "The centre after a stop.",
    BETWEEN_BLOCKS: "The centre again: it shows whether anything has drifted.",
    END: "The last run, at the centre: the acceptance rule is about its tablets.",
}
"""What each purpose of a run is."""
EVERY_TRIAL = (SAMPLING, START_UP, STOP_AND_RESTART, BETWEEN)
INSTRUCTED = {
    START: START_UP, RESTART: STOP_AND_RESTART, BETWEEN_BLOCKS: BETWEEN, END: BETWEEN
}  # fmt: skip
"""What the instructions of a plan say of a purpose, beside the gate before each step of a climb."""


def run_page(plan: TrialPlan, run: TrialRun) -> TrialSheetPage:
    """Return the page of a run."""
    shown, more = _tablets_shown(run.tablets)
    return TrialSheetPage(
        run.name,
        run.rung.purpose,
        f"planned start {run.start / 60.0:.0f} min; sample {run.tablets} tablets",
        parts=(
            paragraph(_purpose(plan, run)),
            _settings_table(run),
            heading("Limits"),
            _limits_table(plan, run),
            paragraph(STOP_ALSO, "small"),
            heading("Samples"),
            _samples_table(run),
            heading(f"Single tablets, each {weight_limits(plan)} mg{more}"),
            _tablets_tables(run, shown),
            _means(run),
            heading("Seen on tablets"),
            _seen_table(run),
            heading("Stops, deviations, remarks"),
            '<div class="lines"></div>',
            signatures("done by", "checked by"),
        ),
    )


STOP_ALSO = (
    "Stop at once also on capping, lamination, picking or sticking, and on any doubt. A mean "
    "outside its action limits: stop the feeder, look into it, then go on or end."
)


def _purpose(plan: TrialPlan, run: TrialRun) -> str:
    """Return what a run is for and what to do in it, as the instructions of the plan say."""
    purpose = run.rung.purpose
    told = [str(each) for each in plan.instructions if each == INSTRUCTED.get(purpose)]
    if purpose == CLIMBING:
        told = [str(each) for each in plan.instructions if each not in EVERY_TRIAL]
    return " ".join([MEANING.get(purpose, ""), *told]).strip()


def _settings_table(run: TrialRun) -> str:
    planned = set_to(run)
    heads = [unit_heading(*name.split("|")) for name in planned]
    heads += [unit_heading("feeder speed", "rpm"), unit_heading("elapsed", "min")]
    rows = [
        ["planned", *planned.values(), "", f"{run.start / 60.0:.0f}"],
        ["really set", *[""] * len(heads)],
    ]
    return form_table(f"{run.name} set values", ["", *heads], rows, (13, *[12] * len(heads)))


def _limits_table(plan: TrialPlan, run: TrialRun) -> str:
    names = ("thickness", "breaking_force", "ejection_force")
    means = [predicted_mean(run, name) for name in names]
    heads = [
        unit_heading("thickness", "mm"), unit_heading("breaking force", "N"),
        unit_heading("ejection force", "N"), unit_heading("weight", "mg"),
        unit_heading("main force", "kN"),
    ]  # fmt: skip
    stops = plan.stops
    rows = [
        ["mean, predicted", *[value for value, _ in means], weight_text(plan.weight), ""],
        ["mean, action limits", *[limits for _, limits in means], "", ""],
        ["stop at once", "", stop_at(stops.breaking_force, "below"),
         stop_at(stops.ejection, "above"), "", stop_at(stops.force, "above", "kN")],
    ]  # fmt: skip
    filled = [[cell or "–" for cell in row] for row in rows]
    return form_table(f"{run.name} limits", ["", *heads], filled, (20, *[16] * 5))


def _samples_table(run: TrialRun) -> str:
    heads = [
        "sample", "time", unit_heading("main force, mean", "kN"), unit_heading("main force, SD",
        "kN"), unit_heading("precompression", "kN"), unit_heading("ejection force", "N"),
        unit_heading("hopper level", "%"), unit_heading("temperature", "°C"),
        unit_heading("humidity", "%"),
    ]  # fmt: skip
    rows = [[moment, *[""] * (len(heads) - 1)] for moment in MOMENTS]
    return form_table(f"{run.name} samples", heads, rows, (9, 10, 12, 12, 12, 12, 11, 11, 11))


def _tablets_shown(tablets: int) -> tuple[dict[str, list[int]], str]:
    """Return the numbers of the tablets of each sample on the page, and how many are elsewhere."""
    shown: dict[str, list[int]] = {moment: [] for moment in MOMENTS}
    for moment, number in spread_over_samples(tablets):
        if len(shown[moment]) < ROWS_OF_TABLETS:
            shown[moment].append(number)
    more = tablets - sum(map(len, shown.values()))
    return shown, f": {more} more go on the tablets sheet of the workbook" if more else ""


def _tablets_tables(run: TrialRun, shown: dict[str, list[int]]) -> str:
    heads = [
        unit_heading("weight", "mg"), unit_heading("thickness", "mm"),
        unit_heading("breaking force", "N"),
    ]  # fmt: skip
    tables = [
        form_table(f"{run.name} tablets, {moment}", [moment, *heads],
                   [[str(number), "", "", ""] for number in numbers], (20, 25, 27, 28))
        for moment, numbers in shown.items()
        if numbers
    ]  # fmt: skip
    return f'<div class="three">{"".join(tables)}</div>'


def _means(run: TrialRun) -> str:
    heads = [
        unit_heading("tablets"),
        *[unit_heading(f"{name}{kind}", unit)
          for name, unit in (("weight", "mg"), ("thickness", "mm"), ("breaking force", "N"))
          for kind in ("", " SD")],
        unit_heading("friability", "%"),
    ]  # fmt: skip
    rows = [["means", *[""] * len(heads)]]
    return form_table(f"{run.name} means", ["of the run", *heads], rows, (12, *[11] * len(heads)))


def _seen_table(run: TrialRun) -> str:
    rows = [[moment, *[ticked(*YES_NO)] * len(ON_TABLETS)] for moment in MOMENTS]
    return form_table(f"{run.name} seen on tablets", ["sample", *ON_TABLETS], rows,
                      (9, *[13] * len(ON_TABLETS)))  # fmt: skip
