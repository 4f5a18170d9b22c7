"""Columns of figures side by side, with numbered notes for what is not available."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from rich.box import SIMPLE_HEAD
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from scaleup.model.estimate import Estimate
from scaleup.sentence import Words
from scaleup.show.numbers import band_text, cell_text, value_text
from scaleup.show.rows import Groups, RowSpec

WIDE = 124
"""Columns of the terminal from which value and band stand on one line."""
COLUMN_ROOM = 11
"""Characters that a column of the narrow table has."""
LABEL_ROOM = 19
"""Characters that its labels have."""


@dataclass
class Notes:
    """Reasons for values that are not available, numbered as they come up."""

    reasons: list[Words] = field(default_factory=list)

    def mark(self, reason: Words) -> str:
        """Return the mark of a reason, a new one if it has not come up."""
        if reason not in self.reasons:
            self.reasons.append(reason)
        return f"[{self.reasons.index(reason) + 1}]"


@dataclass(frozen=True)
class Column:
    """One column: its head, why it cannot be reached, and the parts that hold its figures."""

    head: str
    parts: dict[str, object]
    unreachable: Words = ""

    def quantity(self, spec: RowSpec) -> Estimate:
        """Return the figure of one row."""
        estimate: Estimate = getattr(self.parts[spec.part], spec.field)
        return estimate


def side_by_side(
    columns: Sequence[Column], groups: Groups, last_lines: Sequence[Words], *, wide: bool
) -> RenderableType:
    """Return the table; below it the reasons for what it lacks, then the lines given to end it."""
    notes = Notes()
    table = Table(box=SIMPLE_HEAD, padding=(0, int(wide)), pad_edge=False, show_edge=False)
    table.add_column("", no_wrap=True)
    for column in columns:
        table.add_column(_head(column, notes), justify="right", overflow="fold")
    for title, specs in groups:
        table.add_row(Text(title, style="bold"))
        for spec in specs:
            factor = spec.shown.factor
            cells = [_cell(column.quantity(spec), factor, notes, wide=wide) for column in columns]
            heading = spec.heading
            if not wide and len(heading) > LABEL_ROOM:  # room for the numbers in 80 columns
                heading = heading.replace(", ", ",\n")
            table.add_row(Text(heading), *cells)
        table.add_section()
    told = [f"[{number}] {reason}" for number, reason in enumerate(notes.reasons, start=1)]
    return Group(table, *[Text(str(line), style="dim") for line in (*told, *last_lines)])


def figure_rows(
    columns: Sequence[Column], groups: Groups, notes: Notes | None = None
) -> list[tuple[str, str, list[str]]]:
    """Return group, heading and cells of every figure, a line break between value and band.

    With `notes` a cell without value has the mark of its reason.
    """

    def cell(quantity: Estimate, factor: float) -> str:
        if quantity.value is None and notes is not None:
            return f"n/a {notes.mark(f'not available: {quantity.reason}')}"
        return cell_text(quantity, factor)

    return [
        (title, spec.heading, [cell(each.quantity(spec), spec.shown.factor) for each in columns])
        for title, specs in groups
        for spec in specs
    ]


def _head(column: Column, notes: Notes) -> Text:
    head = Text(column.head, style="bold")
    if column.unreachable:
        head.append(f"\n{notes.mark(f'not reachable: {column.unreachable}')}", style="red")
    return head


def _cell(quantity: Estimate, factor: float, notes: Notes, *, wide: bool) -> Text:
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


def match_head(match: str) -> str:
    """Return the head of an equivalent's column, in two short lines."""
    if match == "strength":
        return "target\nstrength"
    return match.replace("-", "\n") if "-" in match else f"same\n{match}"


def run_head(side: str, name: str) -> str:
    """Return the head of a column of what was measured."""
    return f"{side}\n{name if len(name) <= COLUMN_ROOM else 'as measured'}"
