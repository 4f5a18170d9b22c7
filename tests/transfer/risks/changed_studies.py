"""Example studies changed so that a risk comes out, each severity of it from both sides."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from scaleup.calibration.calibrated_study import CalibratedStudy, calibrated
from scaleup.calibration.fit import Drawing
from scaleup.calibration.reference import choose_reference
from scaleup.io.library import find_press
from scaleup.io.study import read_study
from scaleup.model.press import RotaryProfile
from scaleup.model.ranges import Range
from scaleup.model.run import Run
from scaleup.model.study import RunDefaults, Study
from scaleup.transfer.case import TransferCase, transfer_case
from tests.logged_production import Pressed, with_logs
from tests.studies import LAW_ALONE, change, unchecked

EXAMPLES = Path(__file__).parents[3] / "examples"
DRAWS = 200
Made = Callable[[], Study]
Runs = Callable[[Run], Run | None]


@cache
def example(name: str, **other: str) -> Study:
    """Return an example of the law alone, with another press or tooling if they are named."""
    return replace(read_study(EXAMPLES / name, **other), transfer=LAW_ALONE)


@cache
def _fitted(name: str) -> CalibratedStudy:
    return calibrated(example(name), Drawing(DRAWS, 1))


def case_of(study: Study, speed: float | None = None) -> TransferCase:
    """Return the case of a study; marram's fit is shared while lab and blend are as they were."""
    known = _fitted("marram")
    if study.lab == known.study.lab and study.blend == known.study.blend:
        reference = choose_reference(study, known.observations)
        lab = replace(known, study=study, reference=reference)
    else:
        lab = calibrated(study, Drawing(DRAWS, 1))
    asked = study.production.speed if speed is None else speed
    return transfer_case(lab, asked, study.target.confidence)


def marram(**changes: Any) -> Made:
    """Return what makes marram with changes, as `tests.studies.change` takes them."""
    return lambda: change(example("marram"), **changes)


def fescue(**changes: Any) -> Made:
    """Return the same of fescue, which has production runs."""
    return lambda: change(example("fescue"), **changes)


def sedge(**changes: Any) -> Made:
    """Return the same of sedge, whose tips are convex."""
    return lambda: change(example("sedge"), **changes)


def press() -> RotaryProfile:
    """Return marram's production press."""
    return example("marram").production.press.profile


def roller(**limits: float) -> Made:
    """Return what makes marram with other limits of force on its rollers, by their names."""
    return lambda: change(
        example("marram"),
        press={
            name: replace(getattr(press(), name), force_limit=limit)
            for name, limit in limits.items()
        },
    )


def window(low: float, high: float) -> Made:
    """Return what makes marram with another window of solid fraction."""
    return marram(target={"solid_fraction": Range(low, high)})


def strength(target: float) -> Made:
    """Return what makes marram with another target of strength in MPa."""
    return marram(target={"strength": target})


def runs(changed: Runs, **others: Any) -> Made:
    """Return what makes marram with its runs changed one by one, left out where None."""
    return marram(runs=changed, **others)


def times(name: str, factor: float) -> Runs:
    """Return what multiplies a column of every run."""

    def other(run: Run) -> Run:
        value: Any = (getattr(run, name) or 0.0) * factor
        return replace(run, **{name: value})

    return other


def only(*names: str) -> Runs:
    """Return what leaves the runs of these names."""
    return lambda run: run if run.name in names else None


def in_die(share: float) -> Runs:
    """Return what gives every run this share of its thickness under load."""
    return lambda run: replace(run, in_die_thickness=(run.thickness or 0.0) * share)


def held_longer_weaker(factor: float) -> Runs:
    """Return what weakens the tablets held for ten seconds and more."""

    def weaker(run: Run) -> Run:
        share = factor if (run.hold or 0.0) >= 10.0 else 1.0
        return replace(run, breaking_force=(run.breaking_force or 0.0) * share)

    return weaker


def steeper(power: float) -> Runs:
    """Return what makes strength change more, or less, from force to force."""

    def other(run: Run) -> Run:
        share = (run.force / 12.05e3) ** power
        return replace(run, breaking_force=(run.breaking_force or 0.0) * share)

    return other


def feeder(factor: float) -> Runs:
    """Return what weakens production tablets alone."""

    def weaker(run: Run) -> Run:
        share = factor if run.press == "production" else 1.0
        return replace(run, breaking_force=(run.breaking_force or 0.0) * share)

    return weaker


def capping_above_m4(run: Run) -> Run:
    return replace(run, breaking_force=135.0) if run.name in {"M5", "M9", "M10"} else run


def capping_far_above(run: Run) -> Run:
    """Return the same with the reference at 8 kN, so that little more is asked for."""
    swapped = {"M2": "M4", "M4": "M2"}.get(run.name, run.name)
    return replace(capping_above_m4(run), name=swapped)


def few_forces(target: float) -> Made:
    """Return what makes marram with runs up to 10 kN alone, which leave the forms open."""

    def made() -> Study:
        few = change(example("marram"), runs=only("M1", "M2", "M3"), target={"strength": target})
        return replace(few, lab=replace(few.lab, reference="M3"))

    return made


def on_a_soft_crank(stiffness: float) -> Made:
    """Return what makes marram with lab runs of an eccentric press as soft as no frame is."""

    def made() -> Study:
        study, found = example("marram"), find_press("lab-eccentric")
        soft = replace(found, profile=unchecked(found.profile, stiffness=stiffness))
        timed = tuple(
            replace(run, speed=30.0, hold=None, loading_rate=None) for run in study.lab.runs
        )
        defaults = RunDefaults(loading_rate=None, hold=None, speed=None)
        return replace(study, lab=replace(study.lab, press=soft, runs=timed, defaults=defaults))

    return made


def elongated(weight: float) -> Made:
    """Return what makes marram on tips so long that a light tablet has next to no wall."""

    def made() -> Study:
        study = read_study(EXAMPLES / "marram", press="rotary-large-23", tooling="d-elongated-19")
        asked = replace(study.target, weight=weight, strength=None, breaking_force=15.0)
        return replace(study, target=asked)

    return made


LOGS = TemporaryDirectory()
"""Logs are read when they are needed, so the changed ones stay until the tests are done."""


def relaxing_less() -> Study:
    """Return bracken with logs whose held forces fall a quarter as far."""
    study = Path(LOGS.name) / "study"
    if not study.exists():
        shutil.copytree(EXAMPLES / "bracken", study)
        for path in (study / "records").glob("B*.csv"):
            relaxed_less(path)
    return read_study(study)


def logged(name: str, pressed: Pressed) -> Callable[[], Study]:
    """Return fescue with P2 logged as it was really pressed."""

    def study() -> Study:
        folder = Path(LOGS.name) / name
        if not folder.exists():
            with_logs(folder, {"P2": pressed})
        return read_study(folder)

    return study


def relaxed_less(path: Path) -> None:
    """Rewrite a force log so that each held force falls a quarter as far."""
    lines = path.read_text(encoding="utf-8").splitlines()
    rows = np.array([[float(cell) for cell in line.split(",")] for line in lines[2:]])
    force = rows[:, 1]
    for begin in np.flatnonzero((force[:-1] < 1.0) & (force[1:] >= 1.0)):
        top = begin + int(force[begin : begin + 400].argmax())
        held = np.flatnonzero(force[top:] < 0.7 * force[top])[0]
        part = slice(top, top + held)
        force[part] = force[top] - 0.25 * (force[top] - force[part])
    body = [f"{t:.2f},{f:.3f},{p:.3f}" for t, f, p in rows]
    path.write_text("\n".join([*lines[:2], *body]) + "\n", encoding="utf-8")


@dataclass(frozen=True)
class Brought:
    """A risk that a change brings out, and a number among its facts with where it lies."""

    code: str
    severity: str
    effect: str
    fact: str
    least: float
    most: float
    study: Made
    speed: float | None = None

    def __str__(self) -> str:
        return f"{self.code}-{self.severity}-{self.fact}-{self.least:g}"


def as_a_plant(**other: Any) -> Made:
    """Return what makes fescue with all that lies between lab and plant, its runs changed."""
    return lambda: change(read_study(EXAMPLES / "fescue"), **other)


def weighed(factor: float) -> Runs:
    """Return what multiplies the weight of every production run."""

    def changed(run: Run) -> Run:
        if run.press == "lab" or run.weight is None:
            return run
        return replace(run, weight=factor * run.weight)

    return changed


def falling(to: float) -> Made:
    """Return what makes fescue with six runs of its first production run, ever weaker."""

    def made() -> Study:
        study = read_study(EXAMPLES / "fescue")
        first = next(run for run in study.lab.runs if run.press == "production")
        force = first.breaking_force or 0.0
        trial = tuple(
            replace(first, name=f"R{at}", elapsed=600.0 * at, tablets=20,
                    breaking_force=force * to ** (at / 5.0))
            for at in range(6)
        )  # fmt: skip
        kept = tuple(run for run in study.lab.runs if run.press == "lab")
        return replace(study, lab=replace(study.lab, runs=(*kept, *trial)))

    return made


def with_defect(name: str, *defects: str) -> Runs:
    """Return what lets a run have been seen with defects."""
    return lambda run: replace(run, seen=defects) if run.name == name else run
