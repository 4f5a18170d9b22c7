"""Many studies by many presses: one row for each, on a terminal, as JSON and as a table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rich.console import Console
from rich.text import Text

from scaleup import __version__
from scaleup.answers.many import ManyRow
from scaleup.model.estimate import Estimate, exactly, unavailable
from scaleup.show.comparison import HOW_TO_READ
from scaleup.show.frames import Frame
from scaleup.show.json_form import quantity_form
from scaleup.show.listing import Listing, figures, words
from scaleup.transfer.verdict import CAUTION
from scaleup.units_shown import main_force_unit
from scaleup.wording import at_most, say, significant

MANY_FORMAT = "scaleup comparison of studies 1"
HEADINGS = (
    "study", "press", "answer", "rank", "of", "speed [rpm]", "output [1/h]", "force [N]", "reason",
    "inputs",
)  # fmt: skip


def show_many(console: Console, rows: Sequence[ManyRow]) -> None:
    """Print a row for each study and press, then why the others are not first."""
    console.print(many_listing(rows).rich())
    console.print(Text(HOW_TO_READ, style="dim"))
    for row in rows:
        if not row.holds:
            name = f"{row.study} {row.press}".rstrip()
            console.print(Text.assemble((name, "bold"), ": ", row.reason))
    console.print(Text(f"caution: {CAUTION}", style="italic"))


def many_listing(rows: Sequence[ManyRow]) -> Listing:
    """Return a row for each study and press."""
    force = main_force_unit()
    told = [
        (
            str(row.study),
            row.press or "-",
            row.answer,
            "n/a" if row.speed is None else at_most(row.speed, "rpm"),
            "n/a" if row.output is None else say(row.output, "1/h").removesuffix(" tablets/h"),
            "n/a" if row.force is None else significant(row.force * force.factor, 3),
        )
        for row in rows
    ]
    heads = (*words("study", "press"), *words("holds"), *figures("speed", "tablets/h", force.name))
    return Listing(heads, told)


def many_frame(rows: Sequence[ManyRow]) -> Frame:
    """Return one line for each study and press."""
    return Frame.of(
        HEADINGS,
        [
            (
                str(row.study), row.press, row.answer, row.rank, row.of, row.speed, row.output,
                row.force, row.reason, row.inputs,
            )
            for row in rows
        ],
    )  # fmt: skip


def many_form(rows: Sequence[ManyRow]) -> dict[str, Any]:
    """Return the rows as plain lists and dictionaries."""
    return {
        "format": MANY_FORMAT,
        "tool": {"name": "scaleup", "version": __version__},
        "rows": [
            {
                "study": str(row.study),
                "press": row.press,
                "holds": row.holds,
                "answer": row.answer,
                "rank": row.rank,
                "speed": quantity_form(_known(row.speed, "rpm", row.reason)),
                "output": quantity_form(_known(row.output, "1/h", row.reason)),
                "force": quantity_form(_known(row.force, "N", row.reason)),
                "reason": row.reason,
                "inputs": row.inputs,
            }
            for row in rows
        ],
        "caution": CAUTION,
    }


def _known(value: float | None, unit: str, reason: str) -> Estimate:
    return unavailable(unit, reason) if value is None else exactly(value, unit)
