"""The answer to a proposed turret speed: on a terminal, as JSON and as a table."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from rich.console import Console, Group, RenderableType
from rich.text import Text

from scaleup.answers.speed import SpeedCheck, SpeedPoint
from scaleup.model.estimate import Estimate, exactly
from scaleup.show.frames import Frame
from scaleup.show.json_form import (
    assumed_form,
    fastest_form,
    header,
    powder_form,
    quantity_form,
    risk_form,
)
from scaleup.show.listing import Listing, figures, words
from scaleup.show.numbers import band_text, value_text
from scaleup.show.parts import (
    answer,
    caution,
    confidence_line,
    fastest_told,
    finding_heads,
    fit_line,
    granted_lines,
    in_unit,
    press_line,
    slowest_told,
    title,
    told,
)
from scaleup.show.plot import Curve, plot_text
from scaleup.show.told_once import Once, told_once
from scaleup.transfer.limits import Limit
from scaleup.transfer.margins import Margin, SetPoint
from scaleup.transfer.unchecked import Unchecked
from scaleup.units_shown import main_force_unit
from scaleup.wording import percent, percent_of_draws, say

SPEED_FORMAT = "scaleup speed 1"
HEADINGS = (
    "speed [rpm]", "output [1/h]", "figure", "value", "low", "high", "unit", "share_within_limits",
    "holding_force [N]", "holding_low [N]", "holding_high [N]", "answer",
)  # fmt: skip
PLOT_WIDTH = 76


def show_speed(console: Console, check: SpeedCheck) -> None:
    """Print the answer, the margins, the fastest speed, the curve and the risks."""
    what = f"{say(check.speed, 'rpm')}, {told(check.output)}"
    console.print(
        title(
            check.study,
            f"{press_line(check.production)} at {what}; {confidence_line(check.confidence)}",
        )
    )
    console.print(fit_line(check.fit))
    console.print(answer("\nis this speed all right", check.answer, check.reasons))
    point = check.point
    unchecked = () if point is None else point.at_lab_pressure.unchecked
    once = told_once(check.risks, check.assumed, unchecked)
    if point is not None:
        console.print(_margins(point.at_lab_pressure, "at the lab's own force", once))
        if point.holding is not None and point.answer == "yes with changes":
            console.print(_margins(point.holding, "at the least force that holds", None))
        console.print(_holding(point))
    console.print(_fastest(check))
    if check.curve:
        console.print(curve_listing(check.curve).rich())
        console.print(_plot(check.curve, min(console.width, PLOT_WIDTH)))
    console.print()
    console.print(finding_heads(check.risks, once))
    console.print(granted_lines(once.assumed, all_told=bool(check.assumed)))
    console.print(caution(check.caution))


def _margins(item: SetPoint, where: str, once: Once | None) -> RenderableType:
    """Return the margins, and below them why a figure or a bound is not known.

    `once` says which limits that are not checked are still to be told; None if none is.
    """
    untold = () if once is None else tuple(filter(once.tells, item.unchecked))
    shown = margins_listing(item, where, untold).rich()
    return Group(shown, *[Text(f"  {line}", style="dim") for line in _reasons(item, untold, once)])


def margins_listing(
    item: SetPoint, where: str, unchecked: tuple[Unchecked, ...] | None = None
) -> Listing:
    """Return every limit with the figure, what is left of the bound, and how many draws keep it.

    `unchecked` are the limits told as not checked, all of them if absent.
    """
    unchecked = item.unchecked if unchecked is None else unchecked
    binding = item.binding
    rows = [_margin(each, binds=each is binding) for each in item.margins]
    styles = ["bold" if each is binding else "dim" * each.watched for each in item.margins]
    rows += [_not_checked(lacking) for lacking in unchecked]
    styles += ["dim"] * len(unchecked)
    heads = (*words("limit"), *figures("allowed", "here", "left", "kept by", whole=True))
    return Listing(heads, rows, f"margins {where}, {told(item.force)}", styles)


def _reasons(item: SetPoint, untold: tuple[Unchecked, ...], once: Once | None) -> Iterator[str]:
    """Yield why a figure or a bound of the table is not known."""
    for each in item.margins:
        if each.value.value is None:
            yield f"{each.limit.label}: not available: {each.value.reason}"
    for lacking in untold:
        yield f"{lacking.label}: {lacking.why(once.told if once else frozenset())}"


def _not_checked(lacking: Unchecked) -> tuple[str, ...]:
    bound, value = lacking.bound, lacking.value
    side = "≥" if lacking.side == "at least" else "≤"
    return (
        f"{lacking.label} (not checked)",
        "not stated" if bound.value is None else f"{side} {told(bound)}",
        "n/a" if value.value is None else told(value),
        "n/a",
        "n/a",
    )


def _margin(margin: Margin, *, binds: bool) -> tuple[str, ...]:
    limit = margin.limit
    name = limit.label + (" (binds)" if binds else "") + (" (watched)" if margin.watched else "")
    side = "≥" if limit.side == "at least" else "≤"
    allowed = f"{side} {told(exactly(limit.bound, limit.unit))}"
    if margin.value.value is None:
        return name, allowed, "n/a", "n/a", "n/a"
    return (
        name,
        allowed,
        told(margin.value),
        percent(margin.room.value or 0.0),
        margin.kept_by,
    )


def _holding(point: SpeedPoint) -> Text:
    if point.holding is None:
        return Text(f"force that holds every limit at {say(point.speed, 'rpm')}: none")
    holding = point.holding
    return Text(
        f"least force that holds every limit at {say(point.speed, 'rpm')}: {told(holding.force)}, "
        f"{told(holding.pressure)}"
    )


def _fastest(check: SpeedCheck) -> Text:
    text = f"fastest speed that holds: {fastest_told(check.fastest)}"
    if check.fastest.speed.value is not None:
        text += f", {check.fastest.output_told}; what stops it: {check.stopped_by}"
    slowest = slowest_told(check.fastest, check.study.production)
    return Text("\n".join(filter(None, (text, slowest))))


def main_figure(point: SpeedPoint) -> Margin:
    """Return the margin of the strength asked for, else of the least solid fraction."""
    margins = {each.limit.code: each for each in point.at_lab_pressure.margins}
    strength = margins.get("strength")
    if strength is None or strength.value.value is None:
        return margins["solid-fraction-low"]
    return strength


def curve_listing(points: tuple[SpeedPoint, ...]) -> Listing:
    """Return a row for each speed of the curve."""
    limit = main_figure(points[0]).limit
    heads = figures(
        "speed\nrpm", "output\n1000/h", f"{limit.label}\nat the lab's force", "all kept\nby",
        f"force that\nholds, {main_force_unit().name}", "answer",
    )  # fmt: skip
    return Listing(heads, [_curve_row(point) for point in points], "the curve")


def _curve_row(point: SpeedPoint) -> tuple[str, ...]:
    lab, holding = point.at_lab_pressure, point.holding
    output = lab.point.process.production.output(point.speed)
    return (
        f"{point.speed:.3g}",
        f"{output / 1e3:.3g}",
        told(main_figure(point).value, unit=False),
        percent_of_draws(lab.within, lab.point.draws),
        "none" if holding is None else _force(holding.force),
        point.answer,
    )


def _force(force: Estimate) -> str:
    factor = main_force_unit().factor
    ends = band_text(force, factor)
    return value_text(force, factor) + (f" ({ends})" if ends else "")


def _plot(points: tuple[SpeedPoint, ...], width: int) -> Text:
    margins = [main_figure(point) for point in points]
    limit = margins[0].limit
    values = [each.value for each in margins]
    factor, unit = in_unit(exactly(limit.bound, limit.unit))
    middle, low, high = (
        np.array([getattr(value, end) for value in values], dtype=np.float64) * factor
        for end in ("value", "low", "high")
    )
    speeds = np.array([point.speed for point in points])
    curve = Curve(speeds, middle, low, high, limit.bound * factor)
    heading = f"\n{_label(limit, unit)} at the lab's force; o middle, : 90 % band, - limit"
    return Text(plot_text(curve, heading, "rpm", width))


def _label(limit: Limit, unit: str) -> str:
    return f"{limit.label}, {unit}" if unit else limit.label


def speed_form(check: SpeedCheck) -> dict[str, Any]:
    """Return the answer as plain lists and dictionaries."""
    return header(check.study, SPEED_FORMAT, check.drawing.seed) | {
        "draws": check.drawing.draws,
        "confidence": check.confidence,
        "production": {
            "press": check.production.press.id,
            "tooling": check.production.tooling.id,
            "speed": quantity_form(exactly(check.speed, "rpm")),
            "output": quantity_form(check.output),
            **fastest_form(check.fastest),
            "stopped_by": check.stopped_by,
        },
        "answer": check.answer,
        "reasons": list(check.reasons),
        "point": None if check.point is None else _point_form(check.point),
        "curve": [_point_form(point) for point in check.curve],
        "powder": powder_form(check.fit),
        "risks": [risk_form(item) for item in check.risks],
        "assumed": assumed_form(check.assumed),
        "caution": check.caution,
    }


def _point_form(point: SpeedPoint) -> dict[str, Any]:
    return {
        "speed": quantity_form(exactly(point.speed, "rpm")),
        "answer": point.answer,
        "at_lab_pressure": set_point_form(point.at_lab_pressure),
        "holding": None if point.holding is None else set_point_form(point.holding),
    }


def set_point_form(item: SetPoint) -> dict[str, Any]:
    """Return a dialled pressure with its margins."""
    return {
        "pressure": quantity_form(item.pressure),
        "force": quantity_form(item.force),
        "share_within_limits": item.within,
        "draws": item.point.draws,
        "binding": item.binding.limit.code,
        "margins": [
            {
                "limit": each.limit.code,
                "label": each.limit.label,
                "side": each.limit.side,
                "bound": quantity_form(exactly(each.limit.bound, each.limit.unit)),
                "value": quantity_form(each.value),
                "room": quantity_form(each.room),
                "share": each.share,
                "draws": each.draws,
                "watched": each.watched,
            }
            for each in item.margins
        ],
        "not_checked": [
            {
                "limit": each.code,
                "label": each.label,
                "side": each.side,
                "bound": quantity_form(each.bound),
                "value": quantity_form(each.value),
            }
            for each in item.unchecked
        ],
    }


def speed_frame(check: SpeedCheck) -> Frame:
    """Return the curve, or the one speed asked about, one line for each speed."""
    points = check.curve or ((check.point,) if check.point else ())
    return Frame.of(HEADINGS, [_row(point) for point in points])


def _row(point: SpeedPoint) -> tuple[object, ...]:
    figure, holding = main_figure(point), point.holding
    output = point.at_lab_pressure.point.process.production.output(point.speed)
    force = None if holding is None else holding.force
    return (
        point.speed, output, figure.limit.label,
        figure.value.value, figure.value.low, figure.value.high, figure.limit.unit,
        point.at_lab_pressure.within,
        *((None, None, None) if force is None else (force.value, force.low, force.high)),
        point.answer,
    )  # fmt: skip
