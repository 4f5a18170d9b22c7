"""What the runs say was set on a press, held against what its profile says it can do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from scaleup.errors import Fault
from scaleup.model.press import (
    EccentricProfile,
    HydraulicProfile,
    PressProfile,
    RotaryProfile,
)
from scaleup.model.ranges import Range
from scaleup.model.run import Run
from scaleup.model.study import LabSide

READING = 0.02
"""Share by which a reading may lie beyond what a profile allows: the error of a gauge in daily use
(common practice)."""
STUDY_FILE = "study.toml"
KEYS = ("loading_rate", "hold", "speed")
"""Settings that the table [lab] of a study may state for every run."""
UNITS = {
    "force": ("force", 1e3, "kN"),
    "precompression": ("precompression", 1e3, "kN"),
    "loading_rate": ("loading rate", 1e3, "kN/s"),
    "hold": ("hold", 1.0, "s"),
    "speed": ("speed", 1.0, "rpm"),
    "fill_depth": ("fill depth", 1.0, "mm"),
}
"""What is held against the profile: its name, and the unit it is told in."""


class Objection(NamedTuple):
    """Why a press cannot have been set so."""

    allowed: str
    mend: str = ""


class Said(NamedTuple):
    """One setting with the place that states it."""

    field: str
    value: float
    file: str
    where: str


def contradictions(
    lab: LabSide, made: Mapping[str, PressProfile], study_file: str = STUDY_FILE
) -> Iterator[Fault]:
    """Yield a fault for every setting that the press it was made on cannot have had.

    ``made`` are the presses of the production runs, as `Run.maker` names them; ``study_file``
    names the study in a fault.
    """
    press = lab.press.profile
    for said in _keys(lab, study_file):
        yield from _against(said, press)
    for run in lab.runs:
        yield from _more_below_than_above(run, lab)
        keyed = lab.defaults if run.press == "lab" else None
        for said in _settings(run, lab):
            if keyed is None or getattr(keyed, said.field, None) != said.value:
                yield from _against(said, press if run.press == "lab" else made[run.maker])


def _more_below_than_above(run: Run, lab: LabSide) -> Iterator[Fault]:
    """Yield a fault of a run whose lower punch felt more than the upper one pressed."""
    lower = run.lower_punch_force
    if lower is None or lower <= run.force:
        return
    yield Fault(
        lab.runs_file,
        f"{place_of(run, lab)}, column lower punch force",
        f"{lower / 1e3:.4g} kN under a force of {run.force / 1e3:.4g} kN",
        "up to the force on the upper punch, of which the die wall takes a part",
        "Check which column is which, their units, and the zero of both gauges.",
    )


def _keys(lab: LabSide, file: str) -> Iterator[Said]:
    for name in KEYS:
        value = getattr(lab.defaults, name)
        if value is not None:
            yield Said(name, value, file, f"lab.{name}")


def _settings(run: Run, lab: LabSide) -> Iterator[Said]:
    file, place = lab.runs_file, place_of(run, lab)
    for field in UNITS:
        value = getattr(run, field)
        if value is not None:
            yield Said(field, value, file, f"{place}, column {UNITS[field][0]}")


def place_of(run: Run, lab: LabSide) -> str:
    """Return where a run stands in its table."""
    return f"{lab.counted} {run.line}" if run.line else f"run {run.name}"


def _against(said: Said, press: PressProfile) -> Iterator[Fault]:
    objection = _objection(said.field, said.value, press)
    if objection is not None:
        found = f"a {told(said.field, said.value)}"
        yield Fault(said.file, said.where, found, objection.allowed, objection.mend)


def told(field: str, value: float) -> str:
    """Return a setting in words.

    >>> told("loading_rate", 5000.0)
    'loading rate of 5 kN/s'
    """
    name, factor, unit = UNITS[field]
    return f"{name} of {value / factor:.4g} {unit}"


def _objection(field: str, value: float, press: PressProfile) -> Objection | None:
    if field == "force":
        return _below(field, value, press.greatest_force, press.name)
    if field == "fill_depth":
        return _in_a_cam(value, press)
    if field == "precompression":
        return _precompression(value, press)
    if isinstance(press, HydraulicProfile):
        return _on_hydraulic(field, value, press)
    if field == "speed" and isinstance(press, EccentricProfile | RotaryProfile):
        return _within(field, value, press.speed, press.name)
    return _without(field, value, f"{press.name} is of kind {press.kind}")


def _on_hydraulic(field: str, value: float, press: HydraulicProfile) -> Objection | None:
    if field == "speed":
        return _without(field, value, f"{press.name} is of kind hydraulic")
    if field == "loading_rate" and press.pump is not None:
        mend = "Remove it; or give the profile a loading_rate in place of its table pump."
        return _without(field, value, f"{press.name} is loaded by its pump", mend)
    if field == "hold" and press.automatic_release:
        return _without(field, value, f"{press.name} lets go by itself at the set force")
    return _within(field, value, press.hold if field == "hold" else press.loading_rates, press.name)


def _precompression(value: float, press: PressProfile) -> Objection | None:
    if not isinstance(press, RotaryProfile):
        return _without("precompression", value, f"{press.name} compresses once")
    if press.pre_roller is None:
        return _without("precompression", value, f"{press.name} has no precompression roller")
    limit = press.pre_roller.force_limit
    return _below("precompression", value, limit, f"the precompression roller of {press.name}")


def _without(field: str, value: float, why: str, mend: str = "") -> Objection | None:
    """Return the objection to a setting the press does not have; a hold of 0 says nothing."""
    if value == 0.0:
        return None
    known = mend or "Remove it, or name the press that the runs were made on."
    return Objection(f"no {UNITS[field][0]}, since {why}", known)


def _below(field: str, value: float, limit: float, what: str) -> Objection | None:
    if value <= limit * (1.0 + READING):
        return None
    _, factor, unit = UNITS[field]
    mend = f"Check the unit of the column, and the force_limit of {what}."
    return Objection(f"up to {limit / factor:.4g} {unit}, what {what} may carry", mend)


def _within(field: str, value: float, span: Range | None, press: str) -> Objection | None:
    if span is None or _holds(span, value):
        return None
    _, factor, unit = UNITS[field]
    allowed = f"{span.min / factor:.4g} to {span.max / factor:.4g} {unit}, the range of {press}"
    return Objection(allowed, "Mend the run, or the range in the profile.")


def _in_a_cam(value: float, press: PressProfile) -> Objection | None:
    if not press.fill or any(_holds(cam, value) for cam in press.fill):
        return None
    cams = " or ".join(f"{cam.min:g} to {cam.max:g} mm" for cam in press.fill)
    return Objection(
        f"{cams}, the fill of {press.name}", "Mend the run, or the ranges in the profile."
    )


def _holds(span: Range, value: float) -> bool:
    return span.min * (1.0 - READING) <= value <= span.max * (1.0 + READING)
