"""Answers as CSV: a translation as a long table, one line for each quantity."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields

from scaleup.answers.imitation import LabSettings
from scaleup.answers.translation import Translation
from scaleup.io.csv_table import csv_table
from scaleup.transfer.settings import Settings, Tablet

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
    return csv_table(HEADINGS, lines)


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
