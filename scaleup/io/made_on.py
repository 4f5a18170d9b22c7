"""The column ``made on`` of a run table: the other press, and its tooling, that made a run."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from scaleup.errors import Fault
from scaleup.io.library import require_fit
from scaleup.model.contradictions import place_of
from scaleup.model.run import Run
from scaleup.model.study import LabSide, ProductionSide
from scaleup.text import printable

if TYPE_CHECKING:
    from scaleup.io.study_parts import StudyParts

COLUMN = "made on"
ALLOWED = 'a press and its tooling by their ids, such as "rotary-mid-19 b-flat-10"'


def with_makers(
    lab: LabSide, own: ProductionSide, parts: StudyParts
) -> tuple[LabSide, tuple[ProductionSide, ...]]:
    """Return the runs with the ids of what made them, and the sides that are not the study's own.

    What is wrong goes to the faults of `parts`.
    """
    read: dict[str, ProductionSide | None] = {own.ids: own, **parts.made_elsewhere}
    for run in lab.runs:
        if run.made_on and run.press == "lab":
            parts.faults.append(_of_the_lab(run, lab))
        elif run.made_on and run.made_on not in read:
            read[run.made_on] = _found(run, lab, parts)
    ids = {
        text: "" if side is None or side.ids == own.ids else side.ids for text, side in read.items()
    }
    runs = tuple(replace(run, made_on=ids.get(run.made_on, "")) for run in lab.runs)
    sides = {side.ids: side for side in read.values() if side is not None}
    makers = dict.fromkeys(run.made_on for run in runs if run.made_on)
    return replace(lab, runs=runs), tuple(sides[maker].as_maker_of(runs) for maker in makers)


def _where(run: Run, lab: LabSide) -> str:
    return f"{place_of(run, lab)}, column {COLUMN}"


def _of_the_lab(run: Run, lab: LabSide) -> Fault:
    return Fault(
        lab.runs_file,
        _where(run, lab),
        f'"{printable(run.made_on)}" of a run of the lab',
        "a blank cell, or a run of production",
        "Write production in the column press.",
    )


def _found(run: Run, lab: LabSide, parts: StudyParts) -> ProductionSide | None:
    """Return the side that a run says it was made on; None if it is at fault, which is kept."""
    file, where = lab.runs_file, _where(run, lab)
    words = run.made_on.split()
    if len(words) != 2:
        parts.faults.append(Fault(file, where, f'"{printable(run.made_on)}"', ALLOWED))
        return None
    press = parts.rotary(parts.press(words[0], where, file), file, where)
    tooling = parts.tooling(words[1], where, file)
    if press is None or tooling is None:
        return None
    before = len(parts.faults)
    parts.taken(partial(require_fit, press, tooling, parts.folder, where, file=file))
    if len(parts.faults) > before:
        return None
    return ProductionSide(press, tooling, press.profile.speed.min)
