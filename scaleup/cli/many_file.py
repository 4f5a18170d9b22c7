"""The table of many studies as it grows, and what an interrupted run left of it."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from scaleup.answers.many import ManyRow, Work, inputs_digest
from scaleup.errors import Fault, InputError
from scaleup.io.csv_table import comment_line, original_text
from scaleup.io.reading_gate import read_bytes
from scaleup.io.writing import appended
from scaleup.show.many import many_frame

LARGEST = 500_000_000
"""Bytes of the largest table that is taken up again."""
MEND = "Choose another name, or begin it anew with --force."
COMMAND = "scaleup compare"


class ManyFile:
    """A CSV table to which the rows of each study are added as they come.

    Its first line is a comment with the options, and a table of other options is refused. A study
    is done if all its rows are there and its files are what they were; one at fault is tried again.

    Raises
    ------
    InputError
        If there is a file that is no such table, or belongs to other options.
    """

    def __init__(self, path: Path, options: str, work: Sequence[Work], force: bool) -> None:
        self.path, self.force = path, force
        self.head = f"{comment_line(f'{COMMAND}: {options}')}\n{many_frame([]).csv()}"
        earlier = [] if force or not path.exists() else self._read()
        self.done = {str(each.name) for each in work if _is_done(each, earlier)}
        self.kept = tuple(row for row in earlier if str(row.study) in self.done)

    @contextmanager
    def adding(self) -> Iterator[Callable[[Sequence[ManyRow]], None]]:
        """Yield what adds rows; they are on the disk when it returns.

        Raises
        ------
        InputError
            If the file cannot be written.
        """
        with appended(self.path, self.head + _lines(self.kept)) as add:
            yield lambda rows: add(_lines(rows))

    def _read(self) -> list[ManyRow]:
        """Return the rows of an earlier run, without a last line that was not finished."""
        text = read_bytes(self.path, str(self.path), LARGEST).decode("utf-8", errors="replace")
        if not text.startswith(self.head) and not self.head.startswith(text):
            raise InputError(Fault(str(self.path), "", *self._others(text), MEND))
        records = list(csv.reader(io.StringIO(text[len(self.head) :], newline="")))
        whole = records if text.endswith("\n") else records[:-1]
        return [row for row in map(_row, whole) if row is not None]

    def _others(self, text: str) -> tuple[str, str]:
        """Return what was found instead of this table, and what it should have been."""
        begin, head = (
            each.partition("\n")[0].removeprefix(f"# {COMMAND}: ") for each in (text, self.head)
        )
        pairs = list(zip(begin.split("; "), head.split("; "), strict=False))
        if len(pairs) < len(head.split("; ")) or not text.startswith(f"# {COMMAND}: "):
            told = "a file that exists and is no table of many studies"
            return told, "a new file, or what an interrupted comparison left"
        unlike = [pair for pair in pairs if pair[0] != pair[1]] or [("other columns", head)]
        found, asked = ("; ".join(each) for each in zip(*unlike, strict=True))
        return f"the table of another comparison ({found[:300]})", asked


def _lines(rows: Sequence[ManyRow]) -> str:
    """Return the lines of some rows, without the headings."""
    return many_frame(rows).csv().removeprefix(many_frame([]).csv())


def _row(cells: Sequence[str]) -> ManyRow | None:
    """Return a row of the table, None if it is not whole."""
    try:
        study, press, answer, rank, of, speed, output, force, reason, inputs = cells
        return ManyRow(
            Path(original_text(study)), original_text(press), answer.startswith("yes"),
            _number(speed), _number(force), _number(output), original_text(reason), answer,
            int(rank) if rank else None, int(of), inputs,
        )  # fmt: skip
    except ValueError:
        return None


def _number(cell: str) -> float | None:
    return float(cell) if cell else None


def _is_done(work: Work, earlier: Sequence[ManyRow]) -> bool:
    rows = [row for row in earlier if str(row.study) == str(work.name)]
    if not rows or len(rows) != rows[0].of or not rows[0].inputs:
        return False
    try:
        return inputs_digest(work.read()) == rows[0].inputs
    except InputError:
        return False
