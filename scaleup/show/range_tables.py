"""The ranges of sense of profiles on a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.table import Table

from scaleup.model.press_proportions import ECCENTRIC, EVERY_PRESS, HYDRAULIC, ROTARY
from scaleup.model.profile_ranges import RANGES
from scaleup.model.proportions import Proportion
from scaleup.model.sense import Sense
from scaleup.model.tooling_proportions import PROPORTIONS


def range_table() -> Table:
    """Return what every key can be."""
    return _table("key", RANGES.items())


def proportion_table() -> Table:
    """Return what several keys can be together."""
    return _table("keys together", _named((*EVERY_PRESS, *HYDRAULIC, *ECCENTRIC, *ROTARY)))


def _named(proportions: Iterable[Proportion[Any]]) -> Iterator[tuple[str, Sense]]:
    for each in (*proportions, *PROPORTIONS):
        yield f"{each.where}: {each.label.removeprefix('a ').rstrip(',')}", each.sense


def _table(first: str, rows: Iterable[tuple[str, Sense]]) -> Table:
    table = Table(box=SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False, show_edge=False)
    for heading in (first, "can be", "usual", "why"):
        table.add_column(heading, overflow="fold")
    for name, sense in rows:
        can, usual = sense.within(sense.can), sense.within(sense.usual)
        table.add_row(name, can, usual, sense.reason)
    return table
