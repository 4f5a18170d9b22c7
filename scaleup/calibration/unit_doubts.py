"""Doubts about the units of a study: what speaks for a slip, and which one it would be."""

from __future__ import annotations

from dataclasses import dataclass

from scaleup.calibration.jumps import Jump, jumps
from scaleup.calibration.observations import Observation
from scaleup.calibration.plausibility import Figure, numbers_of, outside
from scaleup.calibration.unit_slips import STORIES, Slip, slips
from scaleup.errors import lines_told
from scaleup.io.run_columns import MEASURED
from scaleup.model.study import Study
from scaleup.sentence import Fact, Sentence

TOLD = 3
"""How many slips that would each explain the figures are named."""
ACTION = (
    "Mend the unit in the heading or the key. If every figure is right as it stands, confirm it: "
    "--as-given, or as_given=True in Python."
)


@dataclass(frozen=True)
class Doubt:
    """One reason to think that a unit is wrong."""

    message: Sentence
    evidence: str
    action: str = ACTION


def doubts(study: Study, seen: tuple[Observation, ...], reference: str) -> tuple[Doubt, ...]:
    """Return why the units of a study are doubtful, none if nothing speaks against them.

    ``reference`` names the runs that are held against the target.

    Examples
    --------
    >>> from scaleup import read_study
    >>> from scaleup.calibration.observations import observe, sides
    >>> study = read_study("examples/marram")
    >>> doubts(study, observe(study, sides(study)), "M4")
    ()
    """
    steps = jumps(seen)
    if steps:
        return tuple(_jumping(study, step) for step in steps)
    numbers = numbers_of(study, seen, reference)
    out = outside(numbers)
    return (_implausible(study, out, slips(numbers)),) if out else ()


def _jumping(study: Study, step: Jump) -> Doubt:
    lines = lines_told(step.lines)
    story = _story("force" if "force" in step.column else _kind(step.column), step.ratio)
    return Doubt(
        Sentence(
            "Units in doubt: column {column} of {file}, {lines}, would fit the other rows if the "
            f"values were {{times}}{story}.",
            column=step.column,
            file=study.lab.runs_file,
            lines=lines,
            times=_times(step.ratio),
            ratio=step.ratio,
        ),
        "The rows step by a ratio of two units, and nothing else of these tablets does.",
    )


def _kind(column: str) -> str:
    return "mass" if MEASURED[column].unit == "mg" else "length"


def _implausible(study: Study, out: tuple[Figure, ...], explaining: tuple[Slip, ...]) -> Doubt:
    worst = out[0]
    if explaining:
        mend = f"Every figure would be usual with {_ways(study, explaining[:TOLD])}."
    else:
        mend = "No usual slip of one unit explains it."
    evidence = "; ".join(f"{each.what} {_told(each)}, published {each.source}" for each in out)
    message = Sentence(
        f"Units in doubt: the {{figure}} is {{value:.3g}}{_unit(worst)}; usual is, with room, "
        "{least:.3g} to {most:.3g}. {mend}",
        figure=worst.what,
        value=Fact(worst.value, worst.unit),
        least=Fact(worst.least, worst.unit),
        most=Fact(worst.most, worst.unit),
        mend=mend,
    )
    return Doubt(message, f"{evidence}.")


def _told(figure: Figure) -> str:
    return f"{figure.value:.3g}{_unit(figure)}"


def _unit(figure: Figure) -> str:
    return "" if figure.unit == "1" else f" {figure.unit.replace('mg/mm^3', 'g/cm³')}"


def _ways(study: Study, explaining: tuple[Slip, ...]) -> str:
    """Return the slips in words, those of one column together."""
    columns: dict[str, list[str]] = {}
    for slip in explaining:
        told = f"{_times(slip.ratio)} ({slip.story})"
        columns.setdefault(_place(study, slip.column), []).append(told)
    return "; or with ".join(f"{place} {' or '.join(ways)}" for place, ways in columns.items())


def _times(ratio: float) -> str:
    return f"{ratio:g} times as large" if ratio >= 1.0 else f"{1.0 / ratio:.4g} times smaller"


def _story(kind: str, ratio: float) -> str:
    for known, story in STORIES[kind].items():
        if abs(ratio / known - 1.0) < 1e-3:
            return f" ({story})"
        if abs(ratio * known - 1.0) < 1e-3:
            return f" (the inverse of {story})"
    return ""


def _place(study: Study, column: str) -> str:
    """Return where the figures of a column stand: in the run table, a key, or the tooling."""
    defaults, target = study.lab.defaults, study.target
    key = column.replace(" ", "_")
    if column == "target":
        name = "strength" if target.breaking_force is None else "breaking_force"
        return f"the key target.{name}"
    if column == "true density":
        return "the true density of the blend"
    if column == "tip diameter":
        return f"the diameter of the tooling {study.lab.tooling.id}"
    if column == "every force":
        return f"every force of {study.lab.runs_file}"
    if getattr(defaults, key, None) is not None:
        return f"the key lab.{key}"
    return f"column {column} of {study.lab.runs_file}"
