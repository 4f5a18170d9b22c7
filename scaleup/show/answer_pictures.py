"""The picture of an answer, drawn into axes of a notebook."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scaleup.answers.comparison import Comparison
from scaleup.answers.curves import over_pressure_of_fit, over_speed
from scaleup.answers.judgement import Judgement
from scaleup.answers.speed import SpeedCheck, SpeedPoint
from scaleup.answers.translation import Translation
from scaleup.answers.window import Window
from scaleup.calibration.fit import Fit, NoFit
from scaleup.calibration.run_fit import RunFit
from scaleup.show.drawing import COLOURS, dress
from scaleup.show.pictures import (
    LABELS,
    band_drawn,
    over_pressure_drawn,
    points_drawn,
    window_drawn,
)
from scaleup.show.speed import main_figure
from scaleup.wording import say

if TYPE_CHECKING:
    from matplotlib.axes import Axes

FIGURES = {"strength": "strength", "solid-fraction-low": "solid_fraction"}
"""Code of the limit that a curve over speed is held against: the figure of the tablet."""


def translation_drawn(axes: Axes, translation: Translation) -> None:
    """Draw the solid fraction over pressure in lab and production, with the runs."""
    if translation.case.no_fit is not None:
        not_drawn(axes, translation.case.no_fit.why)
        return
    over_pressure_drawn(axes, translation.case, "solid_fraction")
    dress(axes, f"{translation.study.name}: solid fraction against pressure")


def fit_drawn(axes: Axes, fit: Fit, title: str = "The fit and its runs") -> None:
    """Draw the fitted solid fraction over pressure with the runs; doubtful ones are ringed."""
    bands, points = over_pressure_of_fit(fit)
    for number, (name, band) in enumerate(bands):
        band_drawn(axes, band, number, name)
    for number, seen in enumerate(points):
        points_drawn(axes, seen, number)
    _ringed(axes, [row for row in fit.runs if row.suspicious])
    axes.set_xlabel("peak pressure, MPa")
    axes.set_ylabel(LABELS["solid_fraction"])
    dress(axes, title)


def _ringed(axes: Axes, rows: list[RunFit]) -> None:
    pairs = [
        (row.observation.pressure, row.observation.solid_fraction)
        for row in rows
        if row.observation.solid_fraction is not None
    ]
    if pairs:
        x, y = zip(*pairs, strict=True)
        axes.plot(x, y, "o", markersize=11, markerfacecolor="none", markeredgecolor="black",
                  label="suspicious")  # fmt: skip


def judgement_drawn(axes: Axes, judgement: Judgement) -> None:
    """Draw the fit that the verdict rests on, with the runs."""
    if isinstance(judgement.fit, NoFit):
        not_drawn(axes, judgement.fit.why)
    else:
        fit_drawn(axes, judgement.fit, f"{judgement.study.name}: {judgement.verdict.answer}")


def speed_drawn(axes: Axes, check: SpeedCheck) -> None:
    """Draw the figure asked for over the press's speeds at the lab's pressure, and its limit."""
    if check.point is None:
        not_drawn(axes, " ".join(map(str, check.reasons)))
        return
    limit = main_figure(check.point).limit
    lab, figure = check.point.at_lab_pressure, FIGURES[limit.code]
    band = over_speed(lab.point.process, lab.pressure.value or 0.0, figure)
    if band is not None:
        band_drawn(axes, band, 0, f"at the lab's {say(lab.force.value or 0.0, 'N')}")
    axes.axhline(limit.bound, color="black", linewidth=0.8, linestyle=":", label="limit")
    axes.axvline(check.speed, color=COLOURS[1], linewidth=0.8, label=say(check.speed, "rpm"))
    _curve_drawn(axes, check.curve)
    axes.set_xlabel("turret speed, rpm")
    axes.set_ylabel(LABELS[figure])
    dress(
        axes, f"{check.production.press.profile.name} at {say(check.speed, 'rpm')}: {check.answer}"
    )


def _curve_drawn(axes: Axes, points: tuple[SpeedPoint, ...]) -> None:
    for holding in (True, False):
        chosen = [each for each in points if (each.holding is not None) == holding]
        if chosen:
            name = "some force keeps every limit" if holding else "none does"
            axes.plot(
                [each.speed for each in chosen],
                [main_figure(each).value.value or 0.0 for each in chosen],
                "o" if holding else "x", color="black", markersize=5, linestyle="", label=name,
            )  # fmt: skip


def comparison_drawn(axes: Axes, comparison: Comparison) -> None:
    """Draw the output of every press, the best at the top; outlined where no speed holds."""
    ranked = [each for each in comparison.candidates if each.output.value is not None]
    if not ranked:
        not_drawn(axes, " ".join(map(str, comparison.reasons)))
        return
    for holds, name in (
        (True, "keeps every limit"),
        (False, "keeps not all at any speed"),
    ):
        rows = [(place, each) for place, each in enumerate(ranked) if each.holds == holds]
        if rows:
            axes.barh(
                [place for place, _ in rows],
                [(each.output.value or 0.0) / 1e3 for _, each in rows],
                color=COLOURS[0] if holds else "none", edgecolor=COLOURS[0],
                hatch="" if holds else "////", label=name,
            )  # fmt: skip
    axes.set_yticks(range(len(ranked)), [each.production.press.id for each in ranked])
    axes.invert_yaxis()
    axes.set_xlabel("output, 1000 tablets/h")
    dress(axes, f"{comparison.study.name}: output of each press")


def window_of_answer_drawn(axes: Axes, window: Window) -> None:
    """Draw the window with its edges and the points to run at."""
    if window.grid is None:
        not_drawn(axes, " ".join(map(str, window.reasons)))
        return
    window_drawn(axes, window)
    dress(axes, f"{window.study.name}: {window.production.press.profile.name}")


def not_drawn(axes: Axes, reason: object) -> None:
    """Say in the axes why there is no picture."""
    axes.set_axis_off()
    axes.text(0.5, 0.5, f"not available: {reason}", ha="center", va="center", wrap=True,
              transform=axes.transAxes)  # fmt: skip
