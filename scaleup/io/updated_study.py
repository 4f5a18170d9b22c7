"""A study written anew beside the old one, with more runs; the old one is never touched."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path, PurePosixPath

from scaleup.errors import Fault, InputError
from scaleup.io.csv_table import csv_table
from scaleup.io.library import name_beside
from scaleup.io.places import inside
from scaleup.io.production_table import with_production
from scaleup.io.reading_gate import read_bytes
from scaleup.io.run_columns import MEASURED
from scaleup.io.staging import Content
from scaleup.io.toml import SIZE_LIMIT, decoded
from scaleup.io.units import factor
from scaleup.io.writing import write_folder
from scaleup.model.contradictions import STUDY_FILE
from scaleup.model.run import Run
from scaleup.model.study import Study

RUNS_FILE = "runs.csv"
COPIED_FOLDERS = ("presses", "tooling", "profiles")
NAMED = ("made on", "trial", "batch", "revolutions", "record", "compression", "seen")
"""Columns without a unit that a table has where a run has them."""
DIGITS = 8
ADDED = ", with its trial"
MORE = re.compile(r", with (?:its|(\d+)) trials?$")


def write_updated_study(study: Study, folder: Path, why: str) -> tuple[Path, ...]:
    """Write a study with its runs into a new folder; return the files written.

    What the old folder has of profiles and tables is copied; the run table is written anew with
    every run of the study, and `why` above it; the table ``[production]`` has the study's own side.

    Raises
    ------
    InputError
        If the study has no folder, if the new one exists or cannot be written, or if what is to be
        copied leads out of the old one, is no file, or cannot be read.
    """
    if not study.folder:
        allowed = "a study read from its folder, which the new one is a copy of"
        raise InputError(Fault("", "study", "a study made without a folder", allowed))
    old = Path(study.folder)
    text = decoded(read_bytes(old / STUDY_FILE, STUDY_FILE, SIZE_LIMIT), STUDY_FILE)
    text = text.replace("\r\n", "\n")
    files: dict[str, Content] = {name: old / name for name in _copied(study, old)}
    own = replace(study.own_production, speed=study.production.speed)
    text = with_production(_with_runs_file(text), own, study.folder)
    files[RUNS_FILE] = run_table_text(_as_found_by(study), why)
    files[STUDY_FILE] = _with_other_name(text, study.name)
    return write_folder(folder, files)


def _as_found_by(study: Study) -> tuple[Run, ...]:
    """Return the runs with what made them as it is found from the study's folder."""
    found = {
        side.ids: " ".join(name_beside(each, study.folder) for each in (side.press, side.tooling))
        for side in study.made_elsewhere
    }
    return tuple(replace(run, made_on=found.get(run.made_on, "")) for run in study.lab.runs)


def _copied(study: Study, old: Path) -> Iterator[str]:
    """Yield the files that go along, named relative to the study, which none of them may leave."""
    names = [path.name for path in sorted(old.glob("*.toml")) if path.name != STUDY_FILE]
    for name in COPIED_FOLDERS:
        if os.path.lexists(old / name):
            names += _files_under(old, PurePosixPath(name))
    names += [PurePosixPath(run.record).as_posix() for run in study.lab.runs if run.record]
    for name in names:
        inside(old, name, study.folder, "a file to copy")
        yield name


def _files_under(folder: Path, name: PurePosixPath) -> list[str]:
    path = folder / name
    if not path.is_dir():
        return [name.as_posix()]
    if path.is_symlink():
        found, mend = "a folder that is a link", "Copy the folder to where the link is."
        raise InputError(Fault(str(path), "", found, "a folder", mend))
    try:
        below = sorted(each.name for each in path.iterdir())
    except OSError as error:
        reason = (error.strerror or "an unreadable folder").lower()
        raise InputError(Fault(str(path), "", reason, "a folder that can be read")) from None
    return [file for each in below for file in _files_under(folder, name / each)]


def _with_runs_file(text: str) -> str:
    """Return the text of a study that reads its runs from the new table.

    Raises
    ------
    InputError
        If the line that names the run table is not found.
    """
    changed = re.sub(
        r"(?m)^(\s*runs\s*=\s*)(\"[^\"\n]*\"|'[^'\n]*')", rf'\g<1>"{RUNS_FILE}"', text, count=1
    )
    if tomllib.loads(changed).get("lab", {}).get("runs") != RUNS_FILE:
        allowed = f'a line such as runs = "{RUNS_FILE}" in [lab]'
        raise InputError(Fault(STUDY_FILE, "lab.runs", "no line of its own", allowed))
    return changed


def _with_other_name(text: str, name: str) -> str:
    """Return the text of a study with a name that tells it from the old one, if it can be found."""
    changed = re.sub(
        r"(?m)^name\s*=\s*(\"[^\"\n]*\"|'[^'\n]*')[ \t]*$",
        lambda match: f"name = {match[1][0]}{name_after(match[1][1:-1])}{match[1][-1]}",
        text,
        count=1,
    )
    return changed if tomllib.loads(changed).get("name") == name_after(name) else text


def name_after(name: str) -> str:
    """Return the name of a study that has learned from one more trial.

    >>> name_after("Own 250 mg"), name_after("Own 250 mg, with its trial")
    ('Own 250 mg, with its trial', 'Own 250 mg, with 2 trials')
    >>> name_after("Own 250 mg, with 2 trials")
    'Own 250 mg, with 3 trials'
    """
    match = MORE.search(name)
    if match is None:
        return f"{name}{ADDED}"
    return f"{name[: match.start()]}, with {int(match[1] or 1) + 1} trials"


def run_table_text(runs: Sequence[Run], why: str) -> str:
    """Return runs as a table that `scaleup.io.run_table.read_runs` reads back."""
    used = {
        name: column
        for name, column in MEASURED.items()
        if any(getattr(run, column.field) is not None for run in runs)
    }
    measured = [f"{name} [{column.example}]" for name, column in used.items()]
    named = [name for name in NAMED if any(_word(run, name) for run in runs)]
    rows = [
        [
            run.name,
            run.press,
            *(_cell(getattr(run, each.field), each.example, each.unit) for each in used.values()),
            *(_named(_word(run, name)) for name in named),
            run.tablets,
            run.note,
        ]
        for run in runs
    ]
    return csv_table(["run", "press", *measured, *named, "tablets", "note"], rows, [why])


def _word(run: Run, name: str) -> object:
    """Return what a run has in a column without a unit."""
    return getattr(run, name.replace(" ", "_"))


def _named(value: object) -> str:
    if isinstance(value, tuple):
        return ", ".join(value)
    return str(value or "")


def _cell(value: float | None, unit: str, core: str) -> str:
    return "" if value is None else f"{value / factor(unit, core):.{DIGITS}g}"
