"""A production result on the lab press: on a terminal, as JSON and as a table."""

from __future__ import annotations

from typing import Any

from rich.console import Console
from rich.text import Text

from scaleup.answers.imitation import Imitation
from scaleup.show.frames import PARTS, Frame, part_rows
from scaleup.show.json_form import header, parts_form, powder_form
from scaleup.show.parts import caution, fit_line, press_line, title
from scaleup.show.rows import GROUPS, MEANINGS, Groups, RowSpec
from scaleup.show.side_by_side import WIDE, Column, match_head, run_head, side_by_side
from scaleup.show.terminal import BANDS

IMITATION_FORMAT = "scaleup imitation 1"
LAB_GROUPS: Groups = (
    (
        "to set",
        (
            RowSpec("settings", "main_pressure", "main pressure", "MPa"),
            RowSpec("settings", "main_force", "main force", "kN", 1e-3),
            RowSpec("settings", "hold", "hold", "s"),
            RowSpec("settings", "loading_rate", "loading", "kN/s", 1e-3),
            RowSpec("settings", "stroke_rate", "speed", "1/min"),
            RowSpec("settings", "fill_depth", "fill depth", "mm"),
        ),
    ),
    (
        "the pulse",
        (
            RowSpec("settings", "effective_dwell", "effective dwell", "ms", 1e3),
            RowSpec("settings", "time_above_90", "time above 90 %", "ms", 1e3),
            RowSpec("settings", "contact_time", "contact time", "ms", 1e3),
            RowSpec("settings", "strain_rate", "strain rate", "1/s"),
        ),
    ),
    GROUPS[2],
)


def show_imitation(console: Console, imitation: Imitation) -> None:
    """Print production beside the lab settings, and what can and cannot be imitated."""
    lab = imitation.study.lab
    reference = imitation.reference
    console.print(
        title(
            imitation.study,
            f"from {press_line(imitation.made_on)}, runs {reference.name}, {reference.why}",
            f"back to {lab.press.profile.name} ({lab.press.id}, {lab.tooling.id})",
        )
    )
    console.print(fit_line(imitation.fit))
    last = (*MEANINGS, BANDS, *([imitation.filling] if imitation.filling else []))
    console.print(
        side_by_side(imitation_columns(imitation), LAB_GROUPS, last, wide=console.width >= WIDE)
    )
    told = (("the lab press can imitate", imitation.can), ("it cannot imitate", imitation.cannot))
    for heading, lines in [pair for pair in told if pair[1]]:
        console.print(Text(heading, style="bold"))
        for line in lines:
            console.print(Text(f"  - {line}"))
    console.print(caution(imitation.caution))


def imitation_columns(imitation: Imitation) -> list[Column]:
    """Return the production result and every lab equivalent as columns."""
    return [
        Column(
            run_head("production", imitation.reference.name),
            {"settings": imitation.settings, "tablet": imitation.tablet},
        ),
        *[
            Column(
                match_head(item.match).replace("target", "same"),
                {"settings": item.settings, "tablet": item.tablet},
                "" if item.reachable else item.reason,
            )
            for item in imitation.equivalents
        ],
    ]


def imitation_form(imitation: Imitation) -> dict[str, Any]:
    """Return the imitation as plain lists and dictionaries."""
    study = imitation.study
    return header(study, IMITATION_FORMAT, imitation.drawing.seed) | {
        "draws": imitation.drawing.draws,
        "production": {
            "press": imitation.made_on.press.id,
            "tooling": imitation.made_on.tooling.id,
            "run": imitation.reference.name,
            "settings": parts_form(imitation.settings),
            "tablet": parts_form(imitation.tablet),
        },
        "lab": {"press": study.lab.press.id, "tooling": study.lab.tooling.id},
        "powder": powder_form(imitation.fit),
        "equivalents": [
            {
                "match": item.match,
                "reachable": item.reachable,
                "reason": item.reason,
                "settings": parts_form(item.settings),
                "tablet": parts_form(item.tablet),
            }
            for item in imitation.equivalents
        ],
        "can": list(imitation.can),
        "cannot": list(imitation.cannot),
        "caution": imitation.caution,
    }


def imitation_frame(imitation: Imitation) -> Frame:
    """Return production and every lab equivalent, one quantity on each line."""
    rows = part_rows("production", True, settings=imitation.settings, tablet=imitation.tablet)
    for item in imitation.equivalents:
        rows += part_rows(item.match, item.reachable, settings=item.settings, tablet=item.tablet)
    return Frame(PARTS, tuple(rows))
