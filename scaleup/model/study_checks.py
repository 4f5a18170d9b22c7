"""What the parts of a study say of each other, checked alike from files and from Python."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from scaleup.errors import Fault
from scaleup.model.checked import faults_in
from scaleup.model.contradictions import STUDY_FILE, contradictions, place_of
from scaleup.model.press import PressProfile
from scaleup.model.replicates import mixed_conditions
from scaleup.model.run import Run
from scaleup.model.study import LabSide, RunDefaults
from scaleup.text import nearest, printable

NEEDS_SPEED = ("eccentric", "rotary")


def study_faults(
    lab: LabSide, made: Mapping[str, PressProfile] | None, file: str = STUDY_FILE
) -> Iterator[Fault]:
    """Yield what is wrong with the runs of a lab; ``file`` names the study.

    ``made`` are the presses of the production runs, as `Run.maker` names them; None if one is not
    known, and then what was set on any press is not held against it.
    """
    senseless = list(_out_of_sense(lab))
    if senseless:
        yield from senseless
        return
    yield from _reference_unknown(lab, file)
    yield from _speeds_missing(lab)
    if made is not None:
        yield from contradictions(lab, made, file)
        yield from mixed_conditions(lab)


def _out_of_sense(lab: LabSide) -> Iterator[Fault]:
    """Yield the values that no tablet can have, which a reader of tables has refused before."""
    for run in lab.runs:
        for fault in faults_in(run):
            where = f"{place_of(run, lab)}, column {fault.where.replace('_', ' ')}"
            yield replace(fault, file=lab.runs_file, where=where)


def _reference_unknown(lab: LabSide, file: str) -> Iterator[Fault]:
    names = {run.name: None for run in lab.lab_runs or lab.runs}
    if lab.reference is not None and lab.reference not in names:
        found = f'the unknown run "{printable(lab.reference)}"'
        kind = "lab" if lab.lab_runs else "production"
        allowed = f"a {kind} run of {lab.runs_file}"
        yield Fault(file, "lab.reference", found, allowed, nearest(lab.reference, names))


def _speeds_missing(lab: LabSide) -> Iterator[Fault]:
    press = lab.press.profile
    for run in lab.lab_runs:
        if press.kind in NEEDS_SPEED and run.speed is None:
            allowed = f"the speed of every run, since {press.name} is of kind {press.kind}"
            mend = "Add a column speed [rpm], or the key speed to the table [lab]."
            where = f"{place_of(run, lab)}, column speed"
            yield Fault(lab.runs_file, where, "no speed", allowed, mend)


def with_defaults(runs: tuple[Run, ...], defaults: RunDefaults) -> tuple[Run, ...]:
    """Return runs, those of the lab with the settings for columns that no lab run fills."""
    lacking = dict(_lacking(defaults, runs))
    return tuple(replace(run, **lacking) if run.press == "lab" else run for run in runs)


def _lacking(defaults: RunDefaults, runs: tuple[Run, ...]) -> Iterator[tuple[str, Any]]:
    for name in ("loading_rate", "hold", "speed"):
        value = getattr(defaults, name)
        if value is not None and all(getattr(r, name) is None for r in runs if r.press == "lab"):
            yield name, value
