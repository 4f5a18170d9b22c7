"""Every answer as HTML for a notebook; every text is escaped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from scaleup.answers.assumed import Assumed
from scaleup.answers.budget import BudgetAnswer
from scaleup.answers.comparison import Comparison
from scaleup.answers.imitation import Imitation
from scaleup.answers.judgement import Judgement
from scaleup.answers.speed import SpeedCheck
from scaleup.answers.translation import Translation
from scaleup.answers.trial.learning import Learned
from scaleup.answers.trial.plan import TrialPlan
from scaleup.answers.window import Window
from scaleup.calibration.fit import Fit
from scaleup.calibration.run_fit import Miss
from scaleup.model.study import Study
from scaleup.show.budget import experiments_listing, figure_listing
from scaleup.show.comparison import comparison_listing
from scaleup.show.imitation import LAB_GROUPS, imitation_columns
from scaleup.show.judgement import proposals_listing
from scaleup.show.listing import Listing, figures, words
from scaleup.show.numbers import cell_text
from scaleup.show.page import table
from scaleup.show.parts import EDGES, fastest_told, granted_told, press_line, told
from scaleup.show.powder import forms_text, powder_quantities
from scaleup.show.rows import GROUPS, MEANINGS, Groups
from scaleup.show.side_by_side import Column, Notes, figure_rows
from scaleup.show.speed import curve_listing, margins_listing
from scaleup.show.terminal import BANDS, LAST_LINES, filling_lines, translation_columns
from scaleup.show.trial_learned import (
    causes_told,
    moved_listing,
    results_listing,
    settings_listing,
)
from scaleup.show.trial_plan import runs_listing
from scaleup.show.window import WINDOW_HEADS, window_rows
from scaleup.transfer.matches import force_is
from scaleup.transfer.risks import Risk
from scaleup.wording import say


def card(heading: str, *parts: str) -> str:
    """Return a heading with parts that are HTML already; empty ones are left out."""
    return f"<h4>{escape(heading)}</h4>" + "".join(part for part in parts if part)


def answered(answer: str, reasons: Iterable[object]) -> str:
    """Return an answer in bold with its reasons."""
    return f"<p><b>{escape(answer)}</b>: {escape(' '.join(map(str, reasons)))}</p>"


def small(lines: Iterable[object]) -> str:
    """Return lines in small type."""
    told_lines = "<br>".join(escape(str(line)) for line in lines)
    return f"<p><small>{told_lines}</small></p>" if told_lines else ""


def paragraph(text: object) -> str:
    """Return a paragraph."""
    return f"<p>{escape(str(text))}</p>"


def bullets(lines: Iterable[object]) -> str:
    """Return a list."""
    return f"<ul>{''.join(f'<li>{escape(str(line))}</li>' for line in lines)}</ul>"


def risks_html(risks: Sequence[Risk]) -> str:
    """Return the risks, worst first, with what to do."""
    items = "".join(
        f"<li><b>{escape(item.severity)}</b> {escape(str(item.message))} "
        f"<i>{escape(str(item.action))}</i></li>"
        for item in risks
    )
    return f"<ul>{items}</ul>" if items else paragraph("No risks found by the checks made.")


def closing(assumed: tuple[Assumed, ...], caution: str) -> str:
    """Return what was taken for granted, folded, and the caution."""
    lines = small(granted_told(assumed))
    folded = f"<details><summary>taken for granted</summary>{lines}</details>" if lines else ""
    return folded + f"<p><i>{escape(caution)}</i></p>"


def compared(columns: Sequence[Column], groups: Groups, last: Iterable[object] = ()) -> str:
    """Return figures side by side, with the reasons for what is not available."""
    notes = Notes()
    heads = ["", *[" ".join(each.head.split()) for each in columns]]
    for place, each in enumerate(columns, start=1):
        if each.unreachable:
            heads[place] += f" {notes.mark(f'not reachable: {each.unreachable}')}"
    rows = [[heading, *cells] for _, heading, cells in figure_rows(columns, groups, notes)]
    marked = [f"[{number}] {reason}" for number, reason in enumerate(notes.reasons, start=1)]
    return table("comparison", heads, rows, named=True) + small((*marked, *last))


def translation_html(translation: Translation) -> str:
    """Return verdict, comparison, risks, and what was taken for granted."""
    return card(
        translation.study.name,
        paragraph(
            f"to {press_line(translation.study.production)} at {say(translation.speed, 'rpm')}"
        ),
        answered(translation.verdict.answer, translation.verdict.reasons),
        compared(
            translation_columns(translation), GROUPS, (*LAST_LINES, *filling_lines(translation))
        ),
        paragraph(f"fastest speed that holds: {fastest_told(translation.fastest)}"),
        risks_html(translation.risks),
        closing(translation.assumed, translation.caution),
    )


def judgement_html(judgement: Judgement) -> str:
    """Return verdict, facts, what is missing, and what to press next."""
    what = judgement.proposals
    return card(
        judgement.study.name,
        answered(judgement.verdict.answer, judgement.verdict.reasons),
        listed("what carries it", judgement.facts),
        listed("what is missing", judgement.missing),
        paragraph(f"strength in production now {told(judgement.strength)}"),
        paragraph(f"{force_is(what.needed_by, judgement.confidence)} now {told(judgement.needed)}")
        if what
        else "",
        paragraph(f"nothing worth pressing: {what.reason}") if what and what.reason else "",
        proposals_listing(judgement, what).html("what to press next")
        if what and not what.reason
        else "",
        experiments_listing(judgement.budget.experiments).html()
        if judgement.budget.experiments
        else "",
        closing(judgement.assumed, judgement.caution),
    )


def budget_html(budget: BudgetAnswer) -> str:
    """Return what each band is made of, and what could be measured next."""
    return card(
        budget.study.name,
        *(figure_listing(budget, figure).html() for figure in budget.figures),
        experiments_listing(budget.experiments).html() if budget.experiments else "",
        closing((), budget.caution),
    )


def listed(heading: str, lines: Sequence[object]) -> str:
    """Return lines under a heading, nothing if there are none."""
    return f"<p><b>{escape(heading)}</b></p>{bullets(lines)}" if lines else ""


def speed_html(check: SpeedCheck) -> str:
    """Return the answer, the margins, the fastest speed, the curve and the risks."""
    point = check.point
    margins = ""
    if point is not None:
        listing = margins_listing(point.at_lab_pressure, "at the lab's own force")
        margins = paragraph(listing.title) + listing.html()
        force = "none" if point.holding is None else told(point.holding.force)
        margins += paragraph(f"least force that holds every limit: {force}")
    return card(
        check.study.name,
        paragraph(f"{press_line(check.production)} at {say(check.speed, 'rpm')}"),
        answered(check.answer, check.reasons),
        margins,
        curve_listing(check.curve).html() if check.curve else "",
        paragraph(f"fastest speed that holds: {fastest_told(check.fastest)}"),
        risks_html(check.risks),
        closing(check.assumed, check.caution),
    )


def comparison_html(comparison: Comparison) -> str:
    """Return the presses, best first, with the reason each one loses."""
    reasons = [f"{each.production.press.id}: {each.reason}" for each in comparison.candidates]
    reasons += [f"{each.id} is at fault: {each.reason}" for each in comparison.at_fault]
    return card(
        comparison.study.name,
        comparison_listing(comparison).html("presses"),
        bullets(reasons),
        listed("against every press", comparison.reasons),
        closing(comparison.assumed, comparison.caution),
    )


def window_html(window: Window) -> str:
    """Return the points to run at and the edges of the window; the map is its picture."""
    best = window.recommended
    edges = () if best is None else best.point.edges
    told_edges = [
        f"{EDGES[edge.towards]} {say(edge.at, edge.unit)}: {edge.limit}" for edge in edges
    ]
    return card(
        window.study.name,
        paragraph(press_line(window.production)),
        Listing(words(*WINDOW_HEADS), window_rows(window)).html("points of the window")
        if best is not None
        else "",
        listed("edges from the recommended point", told_edges),
        paragraph(f"fastest speed that holds: {fastest_told(window.fastest)}"),
        bullets(window.reasons) if window.reasons else "",
        closing(window.assumed, window.caution),
    )


def imitation_html(imitation: Imitation) -> str:
    """Return production beside the lab settings, and what can and cannot be imitated."""
    filling = (imitation.filling,) if imitation.filling else ()
    return card(
        imitation.study.name,
        paragraph(
            f"from {press_line(imitation.study.own_production)}, runs {imitation.reference.name}"
        ),
        compared(imitation_columns(imitation), LAB_GROUPS, (*MEANINGS, BANDS, *filling)),
        listed("the lab press can imitate", imitation.can),
        listed("it cannot imitate", imitation.cannot),
        closing((), imitation.caution),
    )


def plan_html(plan: TrialPlan) -> str:
    """Return the runs of a plan, what stands against it, and when it is accepted."""
    return card(
        f"Trial of {plan.study.name}",
        paragraph(str(plan.objective)),
        listed("against this trial", plan.against),
        runs_listing(plan).html("runs of the trial"),
        listed("stop the run on", plan.stop_rules),
        listed("accepted if", plan.acceptance),
        closing(plan.assumed, plan.caution),
    )


def learned_html(learned: Learned) -> str:
    """Return prediction against result, what moved, and the new settings."""
    verdict = learned.verdict
    return card(
        f"What the trial of {learned.study.name} taught",
        answered(verdict.answer, verdict.reasons),
        results_listing(learned.results).html("trial results"),
        listed("what the trial allows as causes", causes_told(learned)),
        moved_listing(learned).html("what moved"),
        settings_listing(learned).html("new settings"),
        closing((), learned.caution),
    )


def study_html(study: Study) -> str:
    """Return what a study says: its presses, its target and its runs."""
    lab, made = study.lab, study.production
    rows = [
        (run.name, run.press, say(run.force, "N"), _known(run.weight, "mg"),
         _known(run.thickness, "mm"), _known(run.breaking_force, "N"))
        for run in lab.runs
    ]  # fmt: skip
    heads = words("run", "press", "force", "weight", "thickness", "breaking force")
    return card(
        study.name,
        paragraph(study.description) if study.description else "",
        paragraph(
            f"from {lab.press.profile.name} ({lab.press.id}, {lab.tooling.id}) to "
            f"{press_line(made)} at {say(made.speed, 'rpm')}"
        ),
        Listing(heads, rows).html("runs"),
    )


def _known(value: float | None, unit: str) -> str:
    return "" if value is None else say(value, unit, 4)


def fit_html(fit: Fit) -> str:
    """Return the hardening forms, the fitted parameters and every run beside the fit."""
    rows = [(name, cell_text(each), unit) for name, each, unit in powder_quantities(fit)]
    runs = [
        (row.observation.run.name, row.observation.run.press, say(row.observation.pressure, "MPa"),
         _miss(row.solid_fraction_miss), _miss(row.strength_miss), "yes" * row.suspicious)
        for row in fit.runs
    ]  # fmt: skip
    heads = ("run", "press", "pressure", "solid fraction off by", "strength off by", "suspicious")
    return card(
        "Fit",
        paragraph(f"hardening form: {forms_text(fit)}; rate exponent {fit.rate.evidence}"),
        Listing((*words("parameter"), *figures("value"), *words("unit")), rows).html("parameters"),
        Listing(words(*heads), runs).html("runs"),
        small(("off by: deleted residuals in standard deviations",)),
    )


def _miss(miss: Miss | None) -> str:
    return "" if miss is None else f"{miss.deviations:+.1f}"
