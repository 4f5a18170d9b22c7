"""Pictures of a study as vector graphics, readable in grey and by colour-blind people."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from scaleup.answers.analysis import Analysis
from scaleup.answers.budget import budget_of
from scaleup.answers.curves import Band, Measured, over_pressure, over_speed, pulses
from scaleup.answers.window import Window
from scaleup.short_repr import short_repr
from scaleup.show.budget import bars_drawn
from scaleup.show.drawing import COLOURS, DASHES, MARKS, drawn
from scaleup.show.window_edges import edges_drawn
from scaleup.transfer.case import TransferCase
from scaleup.wording import say

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True)
class Picture:
    """One picture with what it shows, in words."""

    name: str
    title: str
    alternative: str
    """Text for those who do not see it."""
    svg: str


@short_repr
@dataclass(frozen=True)
class Subject:
    """What pictures are drawn of."""

    case: TransferCase
    window: Window


MAP_CELLS = (32, 72)
"""Speeds and forces of the map that the window is drawn from; edges are steep in force."""


def subject_of(analysis: Analysis, cells: tuple[int, int] = MAP_CELLS) -> Subject | None:
    """Return what the pictures of a study are drawn of, None if its runs allow no fit."""
    case = analysis.case()
    return None if case.no_fit is not None else Subject(case, analysis.window(cells))


LABELS = {"solid_fraction": "solid fraction", "strength": "tensile strength, MPa"}
"""Figures of a tablet that pictures show, as their axes name them."""

Draw = Callable[["Axes", Subject], str]
"""Draws into axes and returns the alternative text."""


def pulses_drawn(axes: Axes, case: TransferCase) -> str:
    """Draw the pulse of the lab and of production, and return what is seen."""
    told = []
    for number, (name, time, pressure) in enumerate(pulses(case)):
        axes.plot(time * 1e3, pressure, DASHES[number], color=COLOURS[number], label=name)
        ends = f"from {pressure[0]:.0f} MPa over the peak to {pressure[-1]:.0f} MPa"
        told.append(f"{name}: {say(float(time[-1]), 's')} {ends}")
    axes.set_xscale("log")
    axes.set_xlabel("time from the start of the pulse, ms (logarithmic)")
    axes.set_ylabel("pressure, MPa")
    pressure_text = f"{case.reference.pressure:.0f} MPa"
    return (
        f"Pressure against time at {pressure_text}. {'; '.join(told)}. Where a press moves the "
        "tips, the pulse is solved and shown where its pressure counts for the dwell."
    )


def over_pressure_drawn(axes: Axes, case: TransferCase, figure: str) -> str:
    """Draw a figure of the tablet over pressure with the runs, and return what is seen."""
    bands, points = over_pressure(case, figure)
    label = LABELS[figure]
    for number, (name, band) in enumerate(bands):
        band_drawn(axes, band, number, name)
    for number, seen in enumerate(points):
        points_drawn(axes, seen, number)
    axes.set_xlabel("peak pressure, MPa")
    axes.set_ylabel(label)
    told = [
        f"{name}: {band.middle[0]:.3g} at {band.x[0]:.0f} MPa to {band.middle[-1]:.3g} at "
        f"{band.x[-1]:.0f} MPa"
        for name, band in bands
    ]
    counts = [f"{seen.x.size} {seen.name}" for seen in points]
    return f"{label} against pressure. {'; '.join((*told, *counts))}."


def _strength(axes: Axes, case: TransferCase) -> str:
    return over_pressure_drawn(axes, case, "strength") + _target(axes, case)


def _target(axes: Axes, case: TransferCase) -> str:
    target = case.study.target.strength
    if target is None:
        return ""
    axes.axhline(target, color="black", linewidth=0.8, linestyle=":", label="target")
    return f" Target {target:g} MPa."


def _speed(axes: Axes, case: TransferCase) -> str:
    band = over_speed(case.process, case.reference.pressure, "strength")
    axes.set_xlabel("turret speed, rpm")
    axes.set_ylabel("tensile strength, MPa")
    if band is None:
        return "No strength was measured."
    band_drawn(axes, band, 1, "at the lab's pressure")
    ends = f"{band.middle[0]:.3g} MPa at {band.x[0]:g} rpm to {band.middle[-1]:.3g} MPa at "
    return f"Strength falls from {ends}{band.x[-1]:g} rpm.{_target(axes, case)}"


def window_drawn(axes: Axes, window: Window) -> str:
    """Draw a window with its edges and the points to run at, and return what is seen."""
    axes.set_xlabel("turret speed, rpm")
    axes.set_ylabel("main force, kN")
    if window.grid is None:
        return "No window: " + "; ".join(map(str, window.reasons))
    named = edges_drawn(axes, window.grid, window.confidence)
    if window.centre is None or window.recommended is None:
        return "No speed and force keep every limit. " + "; ".join(map(str, window.reasons))
    best = window.recommended
    points = [("X", "recommended", best.point), ("P", "at the asked speed", window.at_speed)]
    if best.point is not window.centre:
        points.insert(1, ("o", "largest margin", window.centre))
    for mark, name, point in points:
        if point is not None:
            force = (point.set_point.force.value or 0.0) / 1e3
            axes.plot([point.speed], [force], mark, color="black", markersize=7, label=name,
                      markerfacecolor="white" if mark == "o" else "black")  # fmt: skip
    edges = "; ".join(f"{edge.towards}: {edge.limit}" for edge in best.point.edges)
    return (
        f"Speeds and forces that keep every limit, plain; those outside, hatched; between them the "
        f"edges, each named by its limit: {', '.join(named) or 'none in the picture'}. Recommended "
        f"{best.told}, {best.why}. From there, {edges}."
    )


def band_drawn(axes: Axes, band: Band, number: int, name: str) -> None:
    """Draw a curve with its band; a second one beside it takes the next number."""
    colour = COLOURS[number]
    axes.fill_between(band.x, band.low, band.high, color=colour, alpha=0.2, linewidth=0.0)
    axes.plot(band.x, band.middle, DASHES[number], color=colour, label=name)


def points_drawn(axes: Axes, seen: Measured, number: int) -> None:
    """Draw points measured; others beside them take the next number."""
    axes.plot(seen.x, seen.y, MARKS[number], color="black", markersize=4,
              markerfacecolor="white" if number else "black", label=seen.name)  # fmt: skip


PICTURES: dict[str, tuple[str, Draw]] = {
    "pulse": ("Pulse of lab and production", lambda axes, of: pulses_drawn(axes, of.case)),
    "solid-fraction": (
        "Solid fraction against pressure",
        lambda axes, of: over_pressure_drawn(axes, of.case, "solid_fraction"),
    ),
    "strength": ("Strength against pressure", lambda axes, of: _strength(axes, of.case)),
    "speed": ("Strength against turret speed", lambda axes, of: _speed(axes, of.case)),
    "window": ("Operating window", lambda axes, of: window_drawn(axes, of.window)),
    "budget": (
        "What the bands are made of",
        lambda axes, of: bars_drawn(axes, budget_of(of.case)),
    ),
}
"""Every picture by the name a command takes; a new picture is one function and one line here."""


def picture(name: str, subject: Subject) -> Picture:
    """Return one picture as SVG, its texts kept as texts."""
    data, told = _saved(name, subject, "svg")
    text = data.decode()
    return Picture(name, PICTURES[name][0], told, text[text.index("<svg") :])


def picture_png(name: str, subject: Subject) -> bytes:
    """Return one picture as PNG."""
    return _saved(name, subject, "png")[0]


def _saved(name: str, subject: Subject, form: str) -> tuple[bytes, str]:
    title, draw = PICTURES[name]
    return drawn(name, form, (title,), lambda every: draw(every[0], subject))
