"""A translation on a terminal: comparison, risks, verdict, caution."""

from __future__ import annotations

from dataclasses import dataclass, field

from rich.box import SIMPLE_HEAD
from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from scaleup.evidence.fit import Fit
from scaleup.presses.figures import VELOCITY_TRAVEL
from scaleup.show.numbers import band_text, value_text
from scaleup.show.rows import GROUPS, RowSpec
from scaleup.transfer.equivalent import Equivalent
from scaleup.transfer.quantity import Quantity
from scaleup.transfer.risks.registry import Risk
from scaleup.transfer.translation import LabResult, Translation
from scaleup.transfer.wording import percent, say

WIDE = 124
"""Columns from which value and band stand on one line."""
COLUMN_ROOM = 11
"""Characters that a column of the narrow table has."""
SEVERITY_STYLE = {"severe": "bold red", "serious": "yellow", "watch": "cyan"}
VERDICT_STYLE = {
    "transferable": "bold green",
    "transferable with changes": "bold yellow",
    "not transferable": "bold red",
    "not enough evidence": "bold magenta",
}


@dataclass
class Notes:
    """Reasons for values that are not available, numbered as they come up."""

    reasons: list[str] = field(default_factory=list)

    def mark(self, reason: str) -> str:
        """Return the mark of a reason, a new one if it has not come up."""
        if reason not in self.reasons:
            self.reasons.append(reason)
        return f"[{self.reasons.index(reason) + 1}]"


def show_translation(console: Console, translation: Translation) -> None:
    """Print a translation: who, comparison, risks, verdict and caution."""
    console.print(_heading(translation))
    console.print(comparison(translation, wide=console.width >= WIDE))
    console.print(_fastest(translation))
    console.print()
    console.print(_risks(translation.risks))
    console.print(_verdict(translation))


def _heading(translation: Translation) -> RenderableType:
    study = translation.study
    production, lab = study.production, study.lab
    lines = [
        Text(study.name, style="bold"),
        Text(
            f"from {lab.press.model.name} ({lab.press.id}, {lab.tooling.id}), "
            f"runs {translation.lab.reference.name}, {translation.lab.reference.why}"
        ),
        Text(
            f"to {production.press.model.name} ({production.press.id}, {production.tooling.id}) "
            f"at {say(translation.speed, 'rpm')}, limits asked with "
            f"{percent(translation.confidence)} confidence"
        ),
        *_powder(translation),
    ]
    return Group(*lines)


def _powder(translation: Translation) -> list[Text]:
    fit = translation.fit
    if not isinstance(fit, Fit):
        return [Text("powder: not available: " + "; ".join(fit.reasons))]
    from scaleup.show.powder import forms_text, powder_quantities  # noqa: PLC0415

    told = ", ".join(
        f"{name} {value_text(quantity, most=4)} ({band_text(quantity, most=4)}) {unit}".rstrip()
        for name, quantity, unit in powder_quantities(fit)
    )
    return [
        Text(f"hardening form: {forms_text(fit)}; rate exponent {fit.rate.evidence}", style="dim"),
        Text(f"powder: {told}", style="dim"),
    ]


def comparison(translation: Translation, *, wide: bool) -> RenderableType:
    """Return the table of lab and equivalents, with the reasons for what it lacks below it."""
    notes = Notes()
    table = Table(box=SIMPLE_HEAD, padding=(0, int(wide)), pad_edge=False, show_edge=False)
    table.add_column("", no_wrap=True)
    table.add_column(_lab_head(translation.lab), justify="right", overflow="fold")
    for item in translation.equivalents:
        table.add_column(_head(item, notes), justify="right", overflow="fold")
    for title, specs in GROUPS:
        table.add_row(Text(title, style="bold"))
        for spec in specs:
            table.add_row(*_cells(spec, translation, notes, wide=wide))
        table.add_section()
    footnotes = [f"{mark} {text}" for mark, text in _footnotes(notes)]
    footnotes.append(f"* one punch, {VELOCITY_TRAVEL:g} mm before its deepest point")
    footnotes.append(
        "bands hold 90 % of the draws; of pressure, force and speed: what the single draws need; "
        "other figures: at the value set"
    )
    return Group(table, *[Text(line, style="dim") for line in footnotes])


def _footnotes(notes: Notes) -> list[tuple[str, str]]:
    return [(f"[{number}]", reason) for number, reason in enumerate(notes.reasons, start=1)]


def _lab_head(lab: LabResult) -> Text:
    name = lab.reference.name
    return Text(f"lab\n{name if len(name) <= COLUMN_ROOM else 'as measured'}", style="bold")


def _head(item: Equivalent, notes: Notes) -> Text:
    name = item.match.replace("-", "\n") if "-" in item.match else f"same\n{item.match}"
    if item.match == "strength":
        name = "target\nstrength"
    head = Text(name, style="bold")
    if not item.reachable:
        head.append(f"\n{notes.mark(f'not reachable: {item.reason}')}", style="red")
    return head


def _cells(
    spec: RowSpec, translation: Translation, notes: Notes, *, wide: bool
) -> list[RenderableType]:
    parts = [getattr(translation.lab, spec.part)]
    parts += [getattr(item, spec.part) for item in translation.equivalents]
    quantities = [getattr(part, spec.field) for part in parts]
    return [
        Text(spec.heading),
        *[_cell(each, spec.factor, notes, wide=wide) for each in quantities],
    ]


def _cell(quantity: Quantity, factor: float, notes: Notes, *, wide: bool) -> Text:
    if quantity.value is None:
        return Text(f"n/a {notes.mark(f'not available: {quantity.reason}')}", style="dim")
    text = Text(value_text(quantity, factor))
    band = band_text(quantity, factor)
    if band and not wide and len(band) > COLUMN_ROOM:
        band = band.replace("–", "–\n")
    if band:
        text.append(f" ({band})" if wide else f"\n{band}", style="dim")
    elif quantity.reason:
        text.append(f" {notes.mark(quantity.reason)}", style="dim")
    return text


def _fastest(translation: Translation) -> Text:
    fastest = translation.fastest
    if fastest.value is None:
        return Text(f"fastest speed within every limit: not available: {fastest.reason}")
    pressure = translation.fastest_pressure.value or 0.0
    end = ""
    if fastest.value >= translation.study.production.press.model.speed.max:
        end = ", the fastest of the press"
    return Text(
        f"fastest speed within every limit: {say(fastest.value, 'rpm')}{end}, "
        f"at {say(pressure, 'MPa')}"
    )


def _risks(risks: tuple[Risk, ...]) -> RenderableType:
    if not risks:
        return Text("risks: none found by the checks made")
    shown: list[RenderableType] = [Text("risks, worst first", style="bold")]
    for item in risks:
        head = Text(f"{item.severity} ", style=SEVERITY_STYLE[item.severity])
        head.append(item.message, style="default")
        body = Text(f"{item.evidence}\n", style="dim")
        body.append(f"Do: {item.action}", style="default not dim")
        shown.append(head)
        shown.append(Padding(body, (0, 0, 0, 4)))
    return Group(*shown)


def _verdict(translation: Translation) -> RenderableType:
    verdict = translation.verdict
    head = Text("\nverdict: ", style="bold")
    head.append(verdict.answer, style=VERDICT_STYLE[verdict.answer])
    return Group(
        head,
        *[Padding(Text(reason), (0, 0, 0, 4)) for reason in verdict.reasons],
        Text(f"caution: {translation.caution}", style="italic"),
    )
