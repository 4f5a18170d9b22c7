"""A press made from a log, as a screen and as JSON."""

from __future__ import annotations

from math import isnan
from typing import TYPE_CHECKING, Any

from rich.text import Text

from scaleup import __version__
from scaleup.answers.press_from_record import PressFromRecord
from scaleup.answers.press_profile_text import band_of
from scaleup.calibration.pulse_times import LABELS
from scaleup.model.estimate import Estimate, exactly
from scaleup.show.json_form import quantity_form
from scaleup.show.listing import Listing, figures, words
from scaleup.show.parts import told
from scaleup.text import printable
from scaleup.wording import percent

if TYPE_CHECKING:
    from rich.console import Console

FORMAT = "scaleup press from record 1"
EFFECTIVE = (
    "effective: these lengths stand for the pulse of the log, not for a drawing; what is left "
    "between the two, a forecast takes from the log"
)
NO_GEOMETRY = (
    "no geometry within sense gives this pulse: check --speed, --tooling and the log's unit of "
    "time; the profile can be used all the same, its dwell is the log's"
)


def show_press_from_record(console: Console, found: PressFromRecord) -> None:
    """Print what the log was taken to be, how well the lengths match, and what they are."""
    console.print(Text(f"{found.id}: a rotary press by {printable(found.log.shown)}", style="bold"))
    console.print(Text(_taken(found)))
    console.print(Text(_paced(found)))
    if found.pre_share > 0.0:
        console.print(Text(_before(found)))
    console.print(figures_listing(found).rich())
    for label, length in lengths(found).items():
        console.print(Text(f"{label}: {told(length)}"))
    console.print(Text(EFFECTIVE, style="dim"))
    if not found.geometry.matches:
        console.print(Text(NO_GEOMETRY, style="yellow"))


def _taken(found: PressFromRecord) -> str:
    peak = told(exactly(found.peak, "N"))
    many = "the only one" if found.pulses == 1 else f"one of {found.pulses} main ones"
    return f"compression {found.compression} of {peak}, {many}; tooling {found.tooling.id}"


def _paced(found: PressFromRecord) -> str:
    stated = found.stated
    at = f"{stated.stations} stations at {stated.speed:g} rpm"
    if found.pace is None:
        return f"{at}: not checked, too few compressions for their pace"
    return f"{at}: in agreement with {found.pace:.4g} main compressions a minute"


def _before(found: PressFromRecord) -> str:
    share = percent(found.pre_share)
    if found.counted_share > 0.0:
        return f"precompression of {share} of the main force before it, which counts"
    return (
        f"precompression of {share} of the main force before it does not count: --pre-roller and "
        "--pre-force-limit say what makes it, and a study with precompression needs them"
    )


def figures_listing(found: PressFromRecord) -> Listing:
    """Return the times of the log beside those of a pulse solved with the lengths found."""
    geometry = found.geometry
    rows = [
        (
            label,
            told(exactly(geometry.logged[name], "s")),
            "" if isnan(found.scatter[name]) else percent(found.scatter[name]),
            told(exactly(geometry.solved[name], "s")),
            f"{100.0 * geometry.off(name):+.1f} %",
        )
        for name, label in LABELS.items()
    ]
    heads = (*words("of the pulse"), *figures("logged", "scatter", "by these lengths", "off"))
    return Listing(heads, rows)


def lengths(found: PressFromRecord) -> dict[str, Estimate]:
    """Return pitch circle and roller radius with their bands by the powder of the log."""
    geometry = found.geometry
    return {
        "pitch circle": _length(geometry.pitch_circle, geometry.pitch_spread),
        "main roller radius": _length(geometry.roller_radius, geometry.roller_spread),
    }


def _length(value: float, spread: float) -> Estimate:
    low, high = band_of(value, spread)
    return Estimate(value, "mm", low, high)


def press_from_record_form(found: PressFromRecord) -> dict[str, Any]:
    """Return a press made from a log as plain lists and dictionaries."""
    geometry = found.geometry
    return {
        "format": FORMAT,
        "tool": {"name": "scaleup", "version": __version__},
        "press": found.id,
        "record": found.log.shown,
        "compression": found.compression,
        "compressions": found.pulses,
        "compressions_per_minute": found.pace,
        "peak": quantity_form(exactly(found.peak, "N")),
        "speed": quantity_form(exactly(found.stated.speed, "rpm")),
        "tooling": found.tooling.id,
        "matches": geometry.matches,
        "lengths": {
            name.replace(" ", "_"): quantity_form(each) for name, each in lengths(found).items()
        },
        "times": {
            name: {"logged": geometry.logged[name], "solved": geometry.solved[name], "unit": "s"}
            for name in LABELS
        },
    }
