"""A translation on a terminal: verdict, comparison, risks, caution."""

from __future__ import annotations

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.text import Text

from scaleup.answers.translation import Translation
from scaleup.calibration.fit import Fit
from scaleup.presses.profile_figures import VELOCITY_TRAVEL
from scaleup.sentence import Words
from scaleup.show.frames import PARTS, Frame, part_rows
from scaleup.show.numbers import band_text, value_text
from scaleup.show.parts import (
    SEVERITY_STYLE,
    answer,
    caution,
    confidence_line,
    decides_told,
    fastest_told,
    fit_line,
    granted_lines,
    press_line,
    slowest_told,
    title,
)
from scaleup.show.powder import powder_quantities
from scaleup.show.rows import GROUPS, MEANINGS
from scaleup.show.side_by_side import WIDE, Column, match_head, run_head, side_by_side
from scaleup.show.told_once import Once, told_once
from scaleup.transfer.risks.registry import Risk
from scaleup.wording import say

BANDS = (
    "bands hold 90 % of the draws; of pressure, force and speed: the settings required across "
    "plausible fits; other figures: at the value set; values are the middle of the draws, but the "
    "force of target strength meets it with the asked confidence"
)
LAST_LINES = (f"* one punch, {VELOCITY_TRAVEL:g} mm before its deepest point", *MEANINGS, BANDS)


def show_translation(console: Console, translation: Translation) -> None:
    """Print a translation: who, verdict, comparison, risks, what was taken, and the caution."""
    verdict = translation.verdict
    console.print(_heading(translation))
    console.print(answer("\nverdict", verdict.answer, verdict.reasons))
    console.print()
    console.print(
        side_by_side(
            translation_columns(translation),
            GROUPS,
            (*LAST_LINES, *filling_lines(translation)),
            wide=console.width >= WIDE,
        )
    )
    console.print(_fastest(translation))
    console.print()
    once = told_once(translation.risks, translation.assumed)
    console.print(risk_list(translation.risks, once))
    console.print()
    console.print(granted_lines(once.assumed, all_told=bool(translation.assumed)))
    console.print(caution(translation.caution))


def translation_frame(translation: Translation) -> Frame:
    """Return the lab result and every equivalent, one quantity on each line."""
    lab = translation.lab
    rows = part_rows("lab", True, settings=lab.settings, tablet=lab.tablet)
    for item in translation.equivalents:
        rows += part_rows(item.match, item.reachable, settings=item.settings, tablet=item.tablet)
    return Frame(PARTS, tuple(rows))


def filling_lines(translation: Translation) -> tuple[Words, ...]:
    """Return what another way of filling dies does to the fill depth, nothing where it is none."""
    point = next((item.point for item in translation.equivalents if item.point), None)
    filling = None if point is None else point.process.filling
    return () if filling is None or not filling.told else (filling.told,)


def _heading(translation: Translation) -> RenderableType:
    study, lab = translation.study, translation.study.lab
    reference = translation.lab.reference
    return Group(
        title(
            study,
            f"from {lab.press.profile.name} ({lab.press.id}, {lab.tooling.id}), "
            f"runs {reference.name}, {reference.why}",
            f"to {press_line(study.production)} at {say(translation.speed, 'rpm')}; "
            f"{confidence_line(translation.confidence)}",
        ),
        fit_line(translation.fit, translation.case.logged_pulse),
        *_powder(translation),
    )


def _powder(translation: Translation) -> list[Text]:
    fit = translation.fit
    if not isinstance(fit, Fit):
        return []
    told = ", ".join(
        f"{name} {value_text(quantity, most=4)} ({band_text(quantity, most=4)}) {unit}".rstrip()
        for name, quantity, unit in powder_quantities(fit)
    )
    return [Text(f"powder: {told}", style="dim")]


def translation_columns(translation: Translation) -> list[Column]:
    """Return the lab result and every equivalent as columns."""
    lab = translation.lab
    first = Column(
        run_head("lab", lab.reference.name), {"settings": lab.settings, "tablet": lab.tablet}
    )
    rest = [
        Column(
            match_head(item.match),
            {"settings": item.settings, "tablet": item.tablet},
            "" if item.reachable else item.reason,
        )
        for item in translation.equivalents
    ]
    return [first, *rest]


def _fastest(translation: Translation) -> Text:
    text = f"fastest speed that holds: {fastest_told(translation.fastest)}"
    top = translation.study.production.press.profile.speed.max
    if (translation.fastest.speed.value or 0.0) >= top:
        text += ", the fastest of the press"
    slowest = slowest_told(translation.fastest, translation.study.production)
    return Text("\n".join(filter(None, (text, slowest))))


def risk_list(risks: tuple[Risk, ...], once: Once) -> RenderableType:
    """Return the risks with their evidence and what to do."""
    if not risks:
        return Text("risks: none found by the checks made")
    shown: list[RenderableType] = [Text("risks, worst first", style="bold")]
    for item in risks:
        head = Text(f"{item.severity} ", style=SEVERITY_STYLE[item.severity])
        head.append(str(item.message), style="default")
        head.append(decides_told(item, once), style="yellow")
        body = Text(f"{item.evidence}\n", style="dim")
        body.append(f"Do: {item.action}", style="default not dim")
        shown.append(head)
        shown.append(Padding(body, (0, 0, 0, 4)))
    return Group(*shown)
