"""Production presses side by side: on a terminal, as JSON and as a table."""

from __future__ import annotations

from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from scaleup.answers.comparison import Candidate, Comparison
from scaleup.show.frames import Frame
from scaleup.show.json_form import assumed_form, header, powder_form, quantity_form
from scaleup.show.listing import Listing, figures, words
from scaleup.show.parts import caution, confidence_line, fit_line, granted_lines, title
from scaleup.show.speed import set_point_form
from scaleup.transfer.margins import SetPoint
from scaleup.units_shown import main_force_unit
from scaleup.wording import percent_of_draws, significant

COMPARISON_FORMAT = "scaleup comparison 1"
HOW_TO_READ = (
    "speed and force: the fastest speed that holds with its least force; where none does, the "
    "slowest speed with the force that comes closest. Each limit is asked by itself, so all "
    "together may be kept by fewer draws than asked"
)
HEADINGS = (
    "rank", "press", "holds", "speed [rpm]", "output [1/h]", "force [N]", "share_within_limits",
    "stopped_by", "changes", "reason",
)  # fmt: skip


def show_comparison(console: Console, comparison: Comparison) -> None:
    """Print the candidates, best first, with the reason each one loses."""
    lab = comparison.study.lab
    tooling = comparison.study.production.tooling.id
    line = f"from {lab.press.profile.name} ({lab.press.id}) to presses with {tooling}"
    console.print(title(comparison.study, f"{line}; {confidence_line(comparison.confidence)}"))
    console.print(fit_line(comparison.fit))
    console.print(comparison_listing(comparison).rich())
    console.print(Text(HOW_TO_READ, style="dim"))
    for number, each in enumerate(comparison.candidates, start=1):
        head = Text(f"{number} {each.production.press.id}", style="bold")
        head.append(f" {each.production.press.profile.name}", style="not bold")
        console.print(head)
        console.print(Padding(Text(str(each.reason)), (0, 0, 0, 4)))
        for change in each.changes:
            console.print(Padding(Text(f"change needed: {change}", style="red"), (0, 0, 0, 4)))
    for at_fault in comparison.at_fault:
        console.print(Text(f"{at_fault.id} is at fault", style="bold"))
        console.print(Padding(Text(at_fault.reason), (0, 0, 0, 4)))
    for reason in comparison.reasons:
        console.print(Text(f"against every press: {reason}", style="bold red"))
    console.print(granted_lines(comparison.assumed))
    console.print(caution(comparison.caution))


def comparison_listing(comparison: Comparison) -> Listing:
    """Return a row for each press, best first, those at fault last."""
    unit = main_force_unit()
    rows: list[tuple[str, ...]] = [
        (
            f"{number} {each.production.press.id}",
            _holds(each),
            str(each.told),
            str(each.output_told).removesuffix(" tablets/h"),
            *_dialled(each.set_point),
        )
        for number, each in enumerate(comparison.candidates, start=1)
    ]
    rows += [
        (f"- {each.id}", "no", *["n/a"] * 4, "profile at fault") for each in comparison.at_fault
    ]
    figure_heads = ("holds", "speed", "tablets/h", unit.name, "all kept\nby")
    heads = (*words("press", whole=True), *figures(*figure_heads, whole=True))
    return Listing((*heads, *words("binds there")), rows)


def _dialled(point: SetPoint | None) -> tuple[str, str, str]:
    if point is None:
        return "n/a", "n/a", ""
    force = significant((point.force.value or 0.0) * main_force_unit().factor, 3)
    return force, percent_of_draws(point.within, point.point.draws), point.binding.limit.label


def _holds(candidate: Candidate) -> str:
    return {"yes with changes": "with changes", "not enough evidence": "not known"}.get(
        candidate.answer, candidate.answer
    )


def comparison_form(comparison: Comparison) -> dict[str, Any]:
    """Return the comparison as plain lists and dictionaries."""
    return header(comparison.study, COMPARISON_FORMAT, comparison.drawing.seed) | {
        "draws": comparison.drawing.draws,
        "confidence": comparison.confidence,
        "tooling": comparison.study.production.tooling.id,
        "candidates": [
            {
                "press": each.production.press.id,
                "sha256": each.production.press.sha256,
                "holds": each.holds,
                "answer": each.answer,
                "speed": quantity_form(each.speed),
                "output": quantity_form(each.output),
                "dialled": None if each.set_point is None else set_point_form(each.set_point),
                "stopped_by": each.stopped_by,
                "changes": list(each.changes),
                "reason": each.reason,
            }
            for each in comparison.candidates
        ],
        "at_fault": [{"press": each.id, "reason": each.reason} for each in comparison.at_fault],
        "reasons": list(comparison.reasons),
        "powder": powder_form(comparison.fit),
        "assumed": assumed_form(comparison.assumed),
        "caution": comparison.caution,
    }


def comparison_frame(comparison: Comparison) -> Frame:
    """Return one line for each candidate, and one without rank for each press at fault."""
    ranked = [
        (
            number, each.production.press.id, _holds(each), each.speed.value, each.output.value,
            None if each.set_point is None else each.set_point.force.value,
            None if each.set_point is None else each.set_point.within, each.stopped_by,
            "; ".join(map(str, each.changes)), each.reason,
        )
        for number, each in enumerate(comparison.candidates, start=1)
    ]  # fmt: skip
    at_fault = [
        (None, each.id, "no", None, None, None, None, "", "", each.reason)
        for each in comparison.at_fault
    ]
    return Frame.of(HEADINGS, [*ranked, *at_fault])
