"""A force log: on a terminal, as JSON and as CSV."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.measure import Measurement
from rich.table import Table
from rich.text import Text

from scaleup import __version__
from scaleup.answers.force_log import ForceLogAnswer
from scaleup.arrays import Array
from scaleup.model.estimate import Estimate, exactly, unavailable
from scaleup.pulses.stations import Stations
from scaleup.pulses.stiffness import Stiffness
from scaleup.show.frames import Frame, headed
from scaleup.show.json_form import quantity_form
from scaleup.show.listing import Listing, words
from scaleup.show.numbers import value_text
from scaleup.text import printable
from scaleup.wording import percent, say, significant

RECORD_FORMAT = "scaleup record 1"
SHOWN = 12
"""Compressions listed on a terminal; all are in JSON and CSV."""
FIGURES = {
    "peak": ("N", "peak_error"),
    "rise": ("s", "rise_error"),
    "above_90": ("s", "above_90_error"),
    "dwell": ("s", "dwell_error"),
    "contact": ("s", "contact_error"),
    "area": ("N s", "area_error"),
    "hold": ("s", "hold_error"),
    "decay": ("1", "decay_error"),
    "strokes": ("1", None),
    "ejection": ("N", "ejection_error"),
    "in_die": ("mm", "in_die_error"),
    "zero": ("N", None),
    "samples_above_90": ("1", None),
}
"""Figure of a compression: its core unit, and what its band is taken from."""
NAMES = {"above_90": "time_above_90", "dwell": "effective_dwell", "in_die": "in_die_thickness"}
MEANINGS = (
    "rise: from 10 to 90 % of the peak; contact time: from first to last force, its ends "
    "prolonged to no force from where they stand out of the noise; in die: least distance of the "
    "tips, their give allowed for"
)
WHY = "the log does not allow it; see what was found"


def kinds(record: ForceLogAnswer) -> list[str]:
    """Return what each compression is: main, precompression, double or weak."""
    pattern = record.pattern
    names = np.full(record.pulses.count, "main", dtype="<U14")
    names[pattern.precompression] = "precompression"
    names[pattern.weak] = "weak"
    names[pattern.double] = "double"
    return [str(each) for each in names]


def figure(record: ForceLogAnswer, name: str, index: int) -> Estimate:
    """Return one figure of one compression, with its band where it has one."""
    unit, band = FIGURES[name]
    value = float(getattr(record.pulses, name)[index])
    if np.isnan(value):
        return unavailable(unit, WHY)
    if band is None:
        return exactly(value, unit)
    error = float(getattr(record.pulses, band)[index])
    return Estimate(
        value, unit, max(value - error, 0.0) if value > 0.0 else value - error, value + error
    )


def show_record(console: Console, record: ForceLogAnswer) -> None:
    """Print what was logged, the first compressions, what they have in common, the findings."""
    log = record.log
    console.print(Text(printable(log.shown), style="bold"))
    console.print(
        Text(
            f"{record.samples:,} samples over {say(record.duration, 's')}, "
            f"{significant(record.rate, 3)} a second; noise {say(record.noise, 'N')}"
        )
    )
    names = kinds(record)
    counts = {name: names.count(name) for name in dict.fromkeys(names)}
    text = ", ".join(f"{count} {name}" for name, count in counts.items()) or "none"
    console.print(Text(f"compressions: {text}"))
    if record.pattern.interval is not None:
        every = say(record.pattern.interval, "s")
        console.print(Text(f"one main compression every {every}"))
    if names:
        console.print(_fitting(console, record, names))
        if record.pulses.count > SHOWN:
            rest = f"and {record.pulses.count - SHOWN} more, in --csv and --json"
            console.print(Text(rest, style="dim"))
        console.print(_common(record, names))
        if record.stations is not None:
            show_stations(console, record.stations)
        exponent = f"effective dwell at a rate exponent of {record.exponent:g}"
        holds = "what follows \N{PLUS-MINUS SIGN} holds the truth nine times of ten, or more often"
        console.print(Text(f"{exponent}; {holds}", style="dim"))
        console.print(Text(MEANINGS, style="dim"))
    for finding in record.findings:
        console.print(Text(f"- {printable(finding, 400)}"))


MOST_STATIONS = 12
"""Stations listed on a terminal: the lowest and the highest of a large turret."""


def show_stations(console: Console, stations: Stations) -> None:
    """Print how the peaks differ from station to station."""
    console.print(
        Text(
            f"{stations.count.size} stations, {significant(stations.rounds, 3)} turns at "
            f"{significant(stations.speed, 3)} rpm: {_spreads(stations)}"
        )
    )
    console.print(stations_listing(stations).rich())


def _spreads(stations: Stations) -> str:
    if np.isnan(stations.within) or np.isnan(stations.between):
        return "how peaks differ between stations and within one is not available: too few turns"
    return (
        f"peaks differ by {percent(stations.between)} between stations, by "
        f"{percent(stations.within)} within one (standard deviations)"
    )


def stations_listing(stations: Stations) -> Listing:
    """Return the stations, the lowest and highest of a large turret."""
    known = np.flatnonzero(~np.isnan(stations.mean))
    order, ends, title = (
        known[np.argsort(stations.mean[known], kind="stable")],
        MOST_STATIONS // 2,
        "",
    )
    some = np.arange(stations.count.size)
    if some.size > MOST_STATIONS:
        some = np.append(order[:ends], order[max(order.size - ends, ends) :])
        title = f"the {ends} lowest and the {ends} highest stations, in order; all in --json"
    cells = [_station_cells(stations, int(each)) for each in some]
    heads = words("station", "tablets", "mean peak, kN", "standard deviation, kN")
    return Listing(heads, cells, title)


def _station_cells(stations: Stations, at: int) -> tuple[str, str, str, str]:
    spread, mean = float(stations.spread[at]), _mean_peak(stations, at)
    if mean.value is None:
        return str(at + 1), str(int(stations.count[at])), "n/a", "n/a"
    text = value_text(mean.times(1e-3, "kN"))
    if mean.low is not None:
        text += f" \N{PLUS-MINUS SIGN}{significant(stations.error[at] * 1e-3, 1)}"
    scatter = "n/a" if np.isnan(spread) else significant(spread * 1e-3, 2)
    return str(at + 1), str(int(stations.count[at])), text, scatter


SHORT = {"precompression": "pre"}
"""Kinds as the screen has room for."""
COLUMNS = (
    ("peak", "peak,\nkN", 1e-3),
    ("rise", "rise,\nms", 1e3),
    ("above_90", "above\n90 %, ms", 1e3),
    ("dwell", "effective\ndwell, ms", 1e3),
    ("contact", "contact\ntime, ms", 1e3),
    ("decay", "decay,\n%", 1e2),
    ("strokes", "strokes", 1.0),
    ("ejection", "ejection,\nkN", 1e-3),
    ("in_die", "in die,\nmm", 1.0),
)


def _used(record: ForceLogAnswer) -> list[tuple[str, str, float]]:
    """Return the columns that say something of any compression."""
    used = []
    for name, heading, scale in COLUMNS:
        values = getattr(record.pulses, name)
        said = ~np.isnan(values) & (values > 0.0) if name == "strokes" else ~np.isnan(values)
        if said.any() or name in ("peak", "above_90"):
            used.append((name, heading, scale))
    return used


def _fitting(console: Console, record: ForceLogAnswer, names: list[str]) -> Table:
    """Return the table with every band, or of the peak alone where it would be too wide."""
    table = _table(record, names)
    if Measurement.get(console, console.options.update(width=1000), table).maximum > console.width:
        return _table(record, names, bands=("peak",))
    return table


def _table(record: ForceLogAnswer, names: list[str], bands: tuple[str, ...] | None = None) -> Table:
    grid = Table(box=SIMPLE_HEAD, padding=0, pad_edge=False, show_edge=False)
    columns = _used(record)
    for heading in ("", "at, s", "kind", *(heading for _, heading, _ in columns)):
        grid.add_column(heading, justify="left" if heading == "kind" else "right", no_wrap=True)
    decimals = _decimals(record.pulses.moment)
    for index in range(min(record.pulses.count, SHOWN)):
        cells = [
            _cell(record, name, index, scale, banded=bands is None or name in bands)
            for name, _, scale in columns
        ]
        kind = SHORT.get(names[index], names[index])
        moment = f"{record.pulses.moment[index]:.{decimals}f}"
        grid.add_row(str(index + 1), moment, kind, *cells)
    return grid


def _decimals(moments: Array) -> int:
    """Return how many decimals tell neighbouring moments in s apart, to a hundredth between."""
    if moments.size < 2:
        return 2
    return int(
        np.clip(2.0 - np.floor(np.log10(max(float(np.median(np.diff(moments))), 1e-6))), 0, 6)
    )


def _cell(record: ForceLogAnswer, name: str, index: int, scale: float, *, banded: bool) -> str:
    value = figure(record, name, index)
    if value.value is None:
        return "n/a"
    if name == "strokes":
        return f"{value.value:.0f}" if value.value else "-"
    if not banded or value.low is None or value.high is None or value.low == value.high:
        return significant(value.value * scale, 3)
    shown = Estimate(value.value * scale, "1", value.low * scale, value.high * scale)
    error = 0.5 * (value.high - value.low) * scale
    return f"{value_text(shown)} ±{significant(error, 1)}"


def _common(record: ForceLogAnswer, names: list[str]) -> Text:
    """Return mean and scatter of the peaks of every kind there are several of."""
    lines = []
    for kind in dict.fromkeys(names):
        peaks = record.pulses.peak[[name == kind for name in names]]
        peaks = peaks[~np.isnan(peaks)]
        if peaks.size > 2 and kind != "weak":
            scatter = percent(float(peaks.std(ddof=1) / peaks.mean()))
            mean = Estimate(float(peaks.mean()), "N", *_band_of_mean(record, kind, names))
            count = sum(name == kind for name in names)
            of = "" if count == peaks.size else f" of {peaks.size} of {count}"
            lines.append(
                f"{kind}: mean peak{of} {mean:kN}, scatter {scatter}, "
                f"{say(float(peaks.min()), 'N')} to {say(float(peaks.max()), 'N')}"
            )
    return Text("\n".join(lines))


def _band_of_mean(record: ForceLogAnswer, kind: str, names: list[str]) -> tuple[float, float]:
    """Return the ends in N of the band of a mean peak, from its scatter and its zero."""
    some = np.array([name == kind for name in names]) & ~np.isnan(record.pulses.peak)
    peaks = record.pulses.peak[some]
    error = 2.0 * peaks.std(ddof=1) / np.sqrt(peaks.size) + record.pulses.zero_error[some].mean()
    return float(peaks.mean() - error), float(peaks.mean() + error)


def record_form(record: ForceLogAnswer) -> dict[str, Any]:
    """Return the log as plain lists and dictionaries."""
    names = kinds(record)
    hum = record.hum
    return {
        "format": RECORD_FORMAT,
        "version": __version__,
        "file": record.log.shown,
        "samples": record.samples,
        "duration": quantity_form(exactly(record.duration, "s")),
        "rate": quantity_form(exactly(record.rate, "1/s")),
        "noise": quantity_form(exactly(record.noise, "N")),
        "zero_drift": quantity_form(exactly(record.drift, "N")),
        "hum": None
        if hum is None
        else {
            "frequency": quantity_form(exactly(hum.frequency, "1/s")),
            "amplitude": quantity_form(exactly(hum.amplitude, "N")),
        },
        "rate_exponent": record.exponent,
        "interval": None
        if record.pattern.interval is None
        else quantity_form(exactly(record.pattern.interval, "s")),
        "missing": record.pattern.missing,
        "compressions": [
            {"kind": names[index], "at": quantity_form(exactly(float(moment), "s"))}
            | {
                NAMES.get(name, name): quantity_form(figure(record, name, index))
                for name in FIGURES
            }
            for index, moment in enumerate(record.pulses.moment)
        ],
        "findings": list(record.findings),
    } | ({} if record.stations is None else {"stations": stations_form(record.stations)})


def stations_form(stations: Stations) -> dict[str, Any]:
    """Return the stations as plain lists and dictionaries."""
    return {
        "speed": quantity_form(exactly(stations.speed, "rpm")),
        "turns": stations.rounds,
        "between": None if np.isnan(stations.between) else stations.between,
        "within": None if np.isnan(stations.within) else stations.within,
        "stands_out": list(stations.stands_out),
        "silent": list(stations.silent),
        "each": [
            {
                "station": at + 1,
                "tablets": int(stations.count[at]),
                "peaks_told": int(stations.told[at]),
                "mean_peak": quantity_form(_mean_peak(stations, at)),
                "spread": None
                if np.isnan(stations.spread[at])
                else quantity_form(exactly(float(stations.spread[at]), "N")),
            }
            for at in range(stations.count.size)
        ],
    }


def _mean_peak(stations: Stations, at: int) -> Estimate:
    mean, error = float(stations.mean[at]), float(stations.error[at])
    if np.isnan(mean):
        why = "its peaks are not told" if stations.count[at] else "no compression of this station"
        return unavailable("N", why)
    if np.isnan(error):
        return Estimate(mean, "N", reason="no station was seen twice")
    return Estimate(mean, "N", mean - error, mean + error)


def record_frame(record: ForceLogAnswer) -> Frame:
    """Return one line for each compression, the unit in each heading."""
    heads = ["at [s]", "kind"]
    for name, (unit, band) in FIGURES.items():
        shown = NAMES.get(name, name).replace("_", " ")
        heads.append(headed(shown, unit))
        if band is not None:
            heads.append(f"{shown} plus or minus [{unit}]")
    return Frame.of(heads, _lines(record))


def _lines(record: ForceLogAnswer) -> Iterator[list[object]]:
    for index, kind in enumerate(kinds(record)):
        line: list[object] = [float(record.pulses.moment[index]), kind]
        for name, (_, band) in FIGURES.items():
            line.append(figure(record, name, index).value)
            if band is not None:
                error = float(getattr(record.pulses, band)[index])
                line.append(None if np.isnan(error) else error)
        yield line


def show_stiffness(console: Console, record: ForceLogAnswer, stiffness: Stiffness) -> None:
    """Print what a record without powder says of the press."""
    console.print(Text(printable(record.log.shown), style="bold"))
    quantity = stiffness_quantity(stiffness)
    low, high = (
        "?" if end is None else significant(end / 1e3, 3) for end in (quantity.low, quantity.high)
    )
    middle = significant((quantity.value or 0.0) / 1e3, 3)
    count = stiffness.compressions
    console.print(
        Text(
            f"stiffness {middle} ({low} to {high}) kN/mm, from {count} "
            f"compression{'' if count == 1 else 's'} without powder"
        )
    )
    console.print(
        Text(
            f"the gauge reads {significant(stiffness.offset, 3)} mm where the distance is known; "
            f"samples depart from a straight line by up to {percent(stiffness.bend)} of the give"
        )
    )
    for finding in record.findings:
        console.print(Text(f"- {printable(finding, 400)}"))


def stiffness_quantity(stiffness: Stiffness) -> Estimate:
    """Return the stiffness in N/mm with its band."""
    low = 1.0 / (stiffness.compliance + stiffness.compliance_error)
    rest = stiffness.compliance - stiffness.compliance_error
    return Estimate(1.0 / stiffness.compliance, "N/mm", low, 1.0 / rest if rest > 0.0 else None)


def stiffness_form(record: ForceLogAnswer, stiffness: Stiffness) -> dict[str, Any]:
    """Return the stiffness as a plain dictionary."""
    return {
        "format": RECORD_FORMAT,
        "version": __version__,
        "file": record.log.shown,
        "stiffness": quantity_form(stiffness_quantity(stiffness)),
        "gauge_offset": quantity_form(exactly(stiffness.offset, "mm")),
        "departure_from_line": stiffness.bend,
        "compressions": stiffness.compressions,
        "findings": list(record.findings),
    }
