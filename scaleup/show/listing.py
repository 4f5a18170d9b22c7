"""A table of texts, made once: printed on a terminal, or put into a page or a notebook."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.box import SIMPLE_HEAD
from rich.table import Table
from rich.text import Text

from scaleup.show.page import table as html_table


@dataclass(frozen=True)
class Head:
    """The head of a column, and how its cells lie on a terminal."""

    name: str
    left: bool = False
    whole: bool = False
    """Whether its cells stay on one line."""


def words(*names: str, whole: bool = False) -> tuple[Head, ...]:
    """Return heads of columns of words, which begin at the left."""
    return tuple(Head(name, left=True, whole=whole) for name in names)


def figures(*names: str, whole: bool = False) -> tuple[Head, ...]:
    """Return heads of columns of figures, which end at the right."""
    return tuple(Head(name, whole=whole) for name in names)


@dataclass(frozen=True)
class Listing:
    """Heads, rows of texts, and what is said of the table above it."""

    heads: tuple[Head, ...]
    rows: Sequence[Sequence[str]]
    title: str = ""
    styles: Sequence[str] = ()
    """Of each row on a terminal; plain if absent."""
    gap: int = 1

    def rich(self) -> Table:
        """Return the table for a terminal."""
        table = Table(box=SIMPLE_HEAD, padding=(0, self.gap, 0, 0), pad_edge=False, show_edge=False)
        if self.title:
            table.title, table.title_justify, table.title_style = self.title, "left", "bold"
        for head in self.heads:
            justify = "left" if head.left else "right"
            table.add_column(head.name, justify=justify, no_wrap=head.whole)  # type: ignore[arg-type]
        styles = self.styles or [""] * len(self.rows)
        for row, style in zip(self.rows, styles, strict=True):
            table.add_row(*map(Text, map(str, row)), style=style)
        return table

    def html(self, caption: str = "") -> str:
        """Return the table for a page or a notebook."""
        texts = next((at for at, head in enumerate(self.heads) if not head.left), len(self.heads))
        return html_table(
            caption or self.title or "table",
            [" ".join(head.name.split()) for head in self.heads],
            [list(map(str, row)) for row in self.rows],
            texts,
        )
