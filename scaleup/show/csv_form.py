"""Answers as CSV: a translation as a long table, one line for each quantity."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import fields

from scaleup.files.text import plain_text
from scaleup.transfer.imitation import LabSettings
from scaleup.transfer.settings import Settings, Tablet
from scaleup.transfer.translation import Translation

HEADINGS = ("match", "reachable", "part", "quantity", "value", "unit", "low", "high", "reason")


def csv_text(translation: Translation) -> str:
    """Return the lab result and every equivalent, one quantity on each line."""
    lab = translation.lab
    lines = [
        line for part in (lab.settings, lab.tablet) for line in quantity_lines("lab", "yes", part)
    ]
    for item in translation.equivalents:
        for part in (item.settings, item.tablet):
            lines += quantity_lines(item.match, "yes" if item.reachable else "no", part)
    return table_text(HEADINGS, lines)


def table_text(headings: Sequence[str], lines: Iterable[Sequence[object]]) -> str:
    """Return a table as CSV; no text in it is taken for a formula by a spreadsheet."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(headings)
    for line in lines:
        writer.writerow([plain_text(cell) if isinstance(cell, str) else cell for cell in line])
    return out.getvalue()


def quantity_lines(
    match: str, reachable: str, part: Settings | LabSettings | Tablet
) -> Iterator[list[object]]:
    """Yield a line of the long table for each quantity of a part."""
    name = "tablet" if isinstance(part, Tablet) else "settings"
    for each in fields(part):
        quantity = getattr(part, each.name)
        yield [
            match, reachable, name, each.name, quantity.value, quantity.unit,
            quantity.low, quantity.high, quantity.reason,
        ]  # fmt: skip
