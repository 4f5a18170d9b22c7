"""Which decimal sign a log has, and what parts its thousands, by all the cells that are seen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from scaleup.io.log_numbers import PARTED, PLAIN, Numbers


class UnclearNumbersError(ValueError):
    """No way, or more than one way, of writing numbers fits all the cells."""

    def __init__(self, column: str, row: int, cell: str, found: str) -> None:
        super().__init__(found)
        self.column, self.row, self.cell, self.found = column, row, cell, found


def numbers_of(
    columns: Mapping[str, Sequence[str]],
    beside: Sequence[str],
    most: Mapping[str, float],
    usual: str = "",
) -> Numbers:
    """Return how the numbers of some rows are written.

    Parameters
    ----------
    columns
        Name of a column: its cells, quotes taken off. Cells that are no number in any way count
        for nothing here.
    beside
        Cells of columns that are not used; they count where the others leave it open.
    most
        Name of a column: the largest number, in the unit of its heading, that makes sense there.
    usual
        Decimal sign that such a file has where its cells leave it open, empty if it may be either.

    Raises
    ------
    UnclearNumbersError
        If no way fits all the cells, or two do and nothing tells which is meant.

    Examples
    --------
    >>> numbers_of({"time": ["0,001", "0,002"], "force": ["12.345", "9"]}, [], {}).value("12.345")
    12345.0
    >>> numbers_of({"time": ["0.001", "0.002"], "force": ["12.345", "9.1"]}, [], {}).value("12.345")
    12.345
    """
    fits = _fitting(columns)
    plain = [each for each in fits if not each.thousands]
    if len(plain) == 2:  # nothing but whole numbers, which other columns may show more of
        return _by_beside(list(PLAIN), beside) or PLAIN[0]
    both = [each for each in fits if each.thousands and plain and each.decimal != plain[0].decimal]
    if not plain:
        by_beside = _by_beside(fits, beside)
        return by_beside or min(fits, key=lambda each: each.decimal != ".")
    other = next((each for each in both if each.thousands == plain[0].decimal), None)
    if other is None:
        return plain[0]
    clear = _by_beside([plain[0], other], beside) or _by_order(plain[0], other, columns)
    clear = clear or _by_digits(plain[0], other, columns)
    if clear is None and plain[0].decimal == usual:
        return plain[0]
    return clear or _by_sense(plain[0], other, columns, most)


def _fitting(columns: Mapping[str, Sequence[str]]) -> list[Numbers]:
    """Return the ways that fit every cell that is a number in one of them."""
    fits = [*PLAIN, *PARTED]
    for name, cells in columns.items():
        for row, cell in enumerate(cells):
            some = [each for each in fits if each.known.fullmatch(cell)]
            if some:
                fits = some
            elif any(each.known.fullmatch(cell) for each in (*PLAIN, *PARTED)):
                found = f'"{cell}" beside numbers with {fits[0].way}'
                raise UnclearNumbersError(name, row, cell, found)
    return fits


def _by_beside(ways: list[Numbers], beside: Sequence[str]) -> Numbers | None:
    """Return the one way that cells of other columns allow, None if they leave it open."""
    for cell in beside:
        some = [each for each in ways if each.known.fullmatch(cell)]
        if len({each.decimal for each in some}) == 1:
            return some[0]
    return None


def _by_order(
    plain: Numbers, other: Numbers, columns: Mapping[str, Sequence[str]]
) -> Numbers | None:
    """Return the one way in which time increases, None if it does in both."""
    cells = [cell for cell in columns.get("time", ()) if plain.known.fullmatch(cell)]
    rising = [
        each
        for each in (plain, other)
        if all(each.value(a) <= each.value(b) for a, b in pairwise(cells))
    ]
    return rising[0] if len(rising) == 1 else None


def _by_digits(
    plain: Numbers, other: Numbers, columns: Mapping[str, Sequence[str]]
) -> Numbers | None:
    """Return the one way that a program would write, None if either could be.

    One that parts thousands parts them in every number; one that writes 12 for 12.000 writes 12.34
    for 12.340.
    """
    for cells in columns.values():
        whole = [cell.lstrip("+-") for cell in cells if cell.lstrip("+-").isdigit()]
        pointed = [cell for cell in cells if plain.decimal in cell]
        if pointed and any(len(each) > 3 for each in whole):
            return plain
        if any(set(each) != {"0"} for each in whole) and any(e.endswith("0") for e in pointed):
            return other
    return None


def _by_sense(
    plain: Numbers,
    other: Numbers,
    columns: Mapping[str, Sequence[str]],
    most: Mapping[str, float],
) -> Numbers:
    """Return the plain way if the other makes no sense; refuse if both do."""
    first = None
    for name, cells in columns.items():
        for row, cell in enumerate(cells):
            if plain.decimal in cell and other.known.fullmatch(cell):
                first = first or (name, row, cell)
                if abs(other.value(cell)) > most.get(name, float("inf")):
                    return Numbers(plain.decimal, told=True)
    name, row, cell = first or ("", 0, "")
    parted = f"{other.value(cell):.0f}"
    found = f'"{cell}", which may be {plain.value(cell):.3f} or {parted}'
    raise UnclearNumbersError(name, row, cell, found)
