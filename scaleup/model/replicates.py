"""Rows with one run name are replicates of one condition, or they are refused."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from scaleup.errors import Fault, lines_told
from scaleup.model.press import HydraulicProfile
from scaleup.text import printable

if TYPE_CHECKING:
    from scaleup.model.run import Run
    from scaleup.model.study import LabSide

LAB_FORCE_APART = 0.04
"""Share by which the force of a lab replicate may lie off the mean of its name. So much force moves
the solid fraction by some 0.006, the usual scatter of one tablet; replicates of the example studies
keep within 2 % (this project's judgement)."""
PRODUCTION_FORCE_APART = 0.12
"""The same on a production press, where the force follows the weight of each tablet: three times
its usual standard deviation of 4 % (medians of measured batches, Zagar & Mihelic, Scientific Data
9:99 (2022))."""
TIMING_APART = 0.10
"""Share by which hold, loading rate and speed of one name may differ: at most 1 % of force, as a
rate exponent hardly exceeds 0.1 (this project's judgement)."""
PRECOMPRESSION_APART = 0.05
"""Share of the main force by which precompressions may differ (this project's judgement)."""
MEND = "Give each condition its own run name."


def mixed_conditions(lab: LabSide) -> Iterator[Fault]:
    """Yield a fault for every run name that stands for more than one condition."""
    groups: dict[str, list[Run]] = {}
    for run in lab.runs:
        groups.setdefault(run.name, []).append(run)
    for name, runs in groups.items():
        for column, found, allowed in _apart(lab, runs):
            where = f"{_lines(lab, runs)}, column {column}"
            told = f'the run name "{printable(name)}" for {found}'
            yield Fault(lab.runs_file, where, told, allowed, MEND)


def _lines(lab: LabSide, runs: list[Run]) -> str:
    if not runs[0].line:
        return f"{len(runs)} rows"
    return lines_told((run.line for run in runs), lab.counted)


def _apart(lab: LabSide, runs: list[Run]) -> Iterator[tuple[str, str, str]]:
    """Yield column, what was found and what is allowed of figures that are too far apart."""
    if len({run.press for run in runs}) > 1:
        yield "press", "runs on the lab and on the production press", "one press for one name"
        return
    if len({run.maker for run in runs}) > 1:
        yield "made on", "runs on several production presses", "one press for one name"
        return
    yield from _forces(runs)
    for column, read in _timings(lab).items():
        values = [read(run) for run in runs]
        low, high = min(values), max(values)
        if high > low * (1.0 + TIMING_APART):
            yield column, f"{low:.4g} to {high:.4g} {UNITS[column]}", f"one {column} for one name"
    turns = {run.revolutions for run in runs}
    if len(turns) > 1:
        told = " and ".join(sorted(map(str, turns)))
        yield "revolutions", f"blends of {told} revolutions", "one blend for one name"
    shares = [(run.precompression or 0.0) / run.force for run in runs]
    if max(shares) - min(shares) > PRECOMPRESSION_APART:
        found = f"{100.0 * min(shares):.3g} to {100.0 * max(shares):.3g} % of the main force"
        yield "precompression", found, "one precompression for one name"


UNITS = {"hold": "s", "loading rate": "N/s", "speed": "rpm"}


def _forces(runs: list[Run]) -> Iterator[tuple[str, str, str]]:
    forces = [run.force for run in runs]
    mean = sum(forces) / len(forces)
    room = LAB_FORCE_APART if runs[0].press == "lab" else PRODUCTION_FORCE_APART
    if max(abs(force / mean - 1.0) for force in forces) > room:
        found = f"forces of {min(forces) / 1e3:.4g} to {max(forces) / 1e3:.4g} kN"
        yield "force", found, f"forces within {100.0 * room:g} % of their mean for one name"


def _timings(lab: LabSide) -> dict[str, Callable[[Run], float]]:
    """Return how each timing of a run is read: its own, else the study's, else the press's."""
    keyed, press = lab.defaults, lab.press.profile
    own = press.loading_rate if isinstance(press, HydraulicProfile) else None

    def first(*values: float | None) -> float:
        return next((value for value in values if value is not None), 0.0)

    return {
        "hold": lambda run: first(run.hold, keyed.hold),
        "loading rate": lambda run: first(run.loading_rate, keyed.loading_rate, own),
        "speed": lambda run: first(run.speed, keyed.speed),
    }
