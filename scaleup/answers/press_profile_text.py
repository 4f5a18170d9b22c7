"""A press known by a log as the text of its profile, with what is from the log and what is not."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from math import exp, isnan
from typing import TYPE_CHECKING

from scaleup.answers.effective_geometry import POWDERS
from scaleup.calibration.pulse_times import LABELS, FigureOfPulse
from scaleup.io.profile_files import FORMATS
from scaleup.io.schema import read_as
from scaleup.model.press import RotaryProfile

if TYPE_CHECKING:
    from scaleup.answers.press_from_record import PressFromRecord

BAND_WIDTH = 1.645
"""Standard deviations on either side that hold 90 %."""


def profile_text(found: PressFromRecord, record: str) -> str:
    """Return the profile of a press as TOML; `record` is the log's name beside it."""
    return "\n".join([*_notes(found), *_keys(found, record), ""])


def profile_in(text: str, shown: str) -> RotaryProfile:
    """Return the press of such a text, its log not yet opened.

    Raises
    ------
    InputError
        If what was stated of the press, or what the log gives, is no press that can be.
    """
    form = FORMATS["presses"]
    return read_as(RotaryProfile, tomllib.loads(text), shown, format=form, kind="rotary")


def band_of(middle: float, spread: float) -> tuple[float, float]:
    """Return the ends that hold 90 %, of a length whose logarithm has a standard deviation.

    >>> [round(each, 1) for each in band_of(100.0, 0.1)]
    [84.8, 117.9]
    """
    factor = exp(BAND_WIDTH * spread)
    return middle / factor, middle * factor


def _notes(found: PressFromRecord) -> Iterator[str]:
    geometry = found.geometry
    yield f"# Made from the force log {found.log.shown}, compression {found.compression}."
    yield "# pitch_circle and the radius of main_roller are effective: they stand for the pulse of"
    yield "# the log, not for a drawing. What is left between the two, a forecast takes from it."
    for name, label in LABELS.items():
        yield f"# {label}: {_figure(found, name)}"
    if not geometry.matches:
        yield "# No geometry within sense gives this pulse: its dwell is the log's all the same."
    yield "# What a log cannot tell was stated: force limit, speeds, stations, feed. What is not"
    yield "# stated is to be filled in from the data sheet: fill, ejection_limit, stiffness,"
    yield "# pre_roller, roller_spacing, feeder_arc (see profiles/README.md)."


def _figure(found: PressFromRecord, name: FigureOfPulse) -> str:
    geometry, scatter = found.geometry, found.scatter[name]
    of_all = "" if isnan(scatter) else f" (±{scatter:.1%} over {found.pulses} compressions)"
    return (
        f"{1e3 * geometry.logged[name]:.4g} ms logged{of_all}, {1e3 * geometry.solved[name]:.4g} ms"
        f" from these lengths; powders differ by ±{POWDERS[name]:.0%}"
    ).replace("%", " %")


def _keys(found: PressFromRecord, record: str) -> Iterator[str]:
    stated, geometry = found.stated, found.geometry
    tooling = found.tooling.profile
    yield f'format = "{FORMATS["presses"]}"'
    yield 'kind = "rotary"'
    yield f"name = {json.dumps(found.id, ensure_ascii=False)}"
    yield f"accepts = [{json.dumps(tooling.standard, ensure_ascii=False)}]"
    yield f'feed = "{stated.feed}"'
    yield f"stations = {stated.stations}"
    if stated.tablets_per_turn != 1:
        yield f"tablets_per_station_per_turn = {stated.tablets_per_turn}"
    yield f"pitch_circle = {_length(geometry.pitch_circle, geometry.pitch_spread)}"
    yield f'speed = {{ min = "{stated.slowest:.6g} rpm", max = "{stated.fastest:.6g} rpm" }}'
    if stated.stiffness is not None:
        yield f'stiffness = "{stated.stiffness / 1e3:.6g} kN/mm"'
    if stated.ejection_limit is not None:
        yield f'ejection_limit = "{stated.ejection_limit / 1e3:.6g} kN"'
    if stated.fill is not None:
        yield 'fill = [{{ min = "{:.6g} mm", max = "{:.6g} mm" }}]'.format(*stated.fill)
    yield f"record = {json.dumps(record, ensure_ascii=False)}"
    yield f"compression = {found.compression}"
    yield f'record_speed = "{stated.speed:.6g} rpm"'
    yield f'record_head_flat = "{tooling.head_flat:.6g} mm"'
    if found.counted_share > 0.0:
        yield f'record_precompression = "{100.0 * found.counted_share:.3g} %"'
    yield ""
    yield "[main_roller]"
    yield f"radius = {_length(geometry.roller_radius, geometry.roller_spread)}"
    yield f'force_limit = "{stated.force_limit / 1e3:.6g} kN"'
    if stated.pre_radius is not None and stated.pre_force_limit is not None:
        yield ""
        yield "[pre_roller]"
        yield f'radius = "{stated.pre_radius:.6g} mm"'
        yield f'force_limit = "{stated.pre_force_limit / 1e3:.6g} kN"'


def _length(length: float, spread: float) -> str:
    """Return a length in mm with its band by the powder, or that it was stated."""
    if spread == 0.0:
        return f'"{length:.5g} mm"  # stated'
    low, high = band_of(length, spread)
    return f'"{length:.5g} mm"  # effective, {low:.4g} to {high:.4g} mm by the powder of the log'
