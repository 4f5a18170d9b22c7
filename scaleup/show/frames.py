"""The main table of an answer, made once: as CSV for files, as a DataFrame for notebooks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

from scaleup.io.csv_table import csv_table
from scaleup.model.estimate import Estimate

if TYPE_CHECKING:
    from pandas import DataFrame


@dataclass(frozen=True)
class Frame:
    """Rows under headings, the unit of a column in square brackets; what is not known is None.

    A cell is a number, a text, or yes and no as True and False.

    Examples
    --------
    >>> rows = [("M4", 12028.0, True), ("M5", None, False)]
    >>> frame = Frame.of(("run", "force [N]", "inside"), rows)
    >>> print(frame.csv(), end="")
    run,force [N],inside
    M4,12028.0,yes
    M5,,no
    >>> frame.pandas()["force [N]"].sum()
    np.float64(12028.0)
    """

    headings: tuple[str, ...]
    rows: tuple[tuple[object, ...], ...]

    @classmethod
    def of(cls, headings: Sequence[str], rows: Iterable[Sequence[object]]) -> Frame:
        """Return a frame of rows in any form."""
        return cls(tuple(headings), tuple(tuple(row) for row in rows))

    def csv(self) -> str:
        """Return the table as CSV."""
        return csv_table(self.headings, ([_written(cell) for cell in row] for row in self.rows))

    def pandas(self) -> DataFrame:
        """Return the table as a DataFrame, numbers as numbers."""
        from pandas import DataFrame  # noqa: PLC0415  start-up stays quick

        columns = zip(*self.rows, strict=True) if self.rows else ((),) * len(self.headings)
        return DataFrame(
            {name: _column(name, cells) for name, cells in zip(self.headings, columns, strict=True)}
        )


def _written(cell: object) -> object:
    return ("no", "yes")[cell] if isinstance(cell, bool) else cell


def _column(name: str, cells: Sequence[object]) -> Any:
    """Return a column of one kind: numbers if every cell is one or missing."""
    from pandas import Series  # noqa: PLC0415

    known = [cell for cell in cells if cell is not None]
    if not known:
        return Series(cells, dtype="float64" if name.endswith("]") or cells else "object")
    if all(isinstance(cell, bool) for cell in known):
        return Series(cells, dtype="bool" if len(known) == len(cells) else "boolean")
    if all(isinstance(cell, int) for cell in known):
        return Series(cells, dtype="int64" if len(known) == len(cells) else "Int64")
    if all(isinstance(cell, int | float) for cell in known):
        return Series(cells, dtype="float64")
    return Series([None if cell is None else str(cell) for cell in cells], dtype="object")


def headed(name: str, unit: str) -> str:
    """Return a heading with its unit.

    >>> headed("force", "N"), headed("share", "1")
    ('force [N]', 'share')
    """
    return name if unit in ("", "1") else f"{name} [{unit}]"


PARTS = ("match", "reachable", "part", "quantity", "value", "unit", "low", "high", "reason")
"""Headings where each row is one quantity of settings or tablet."""


def part_rows(match: str, reachable: bool, **parts: Any) -> list[tuple[object, ...]]:
    """Return a row under `PARTS` for each quantity of some settings and of a tablet."""
    rows: list[tuple[object, ...]] = []
    for name, part in parts.items():
        for each in fields(part):
            quantity: Estimate = getattr(part, each.name)
            rows.append((
                match, reachable, name, each.name, quantity.value, quantity.unit,
                quantity.low, quantity.high, quantity.reason,
            ))  # fmt: skip
    return rows
