"""A study written anew beside the old one, with more runs; the old one is never touched."""

from __future__ import annotations

import csv
import io
import re
import secrets
import shutil
import tomllib
from collections.abc import Sequence
from pathlib import Path

from scaleup.errors import Fault, InputError
from scaleup.files.run_columns import MEASURED
from scaleup.files.run_table import Run
from scaleup.files.study import Study
from scaleup.files.study_reading import STUDY_FILE
from scaleup.files.text import plain_text
from scaleup.files.units import factor

RUNS_FILE = "runs.csv"
COPIED_FOLDERS = ("presses", "tooling", "profiles")
DIGITS = 8
ADDED = ", with its trial"
MORE = re.compile(r", with (?:its|(\d+)) trials?$")


def write_updated_study(study: Study, folder: Path, why: str) -> tuple[Path, ...]:
    """Write a study with its runs into a new folder; return the files written.

    What the old folder has of profiles and tables is copied; the run table is written anew with
    every run of the study, and `why` above it.

    Raises
    ------
    InputError
        If the folder exists, or cannot be written.
    """
    if folder.exists():
        mend = "Name another folder; a study is never written over."
        raise InputError(Fault(str(folder), "", "a folder that exists", "a new folder", mend))
    part = folder.absolute().with_name(f".{folder.name}.{secrets.token_hex(4)}.part")
    try:
        _fill(study, part, why)
        part.rename(folder.absolute())
    except OSError as error:
        reason = (error.strerror or "an unwritable place").lower()
        raise InputError(Fault(str(folder), "", reason, "a place that can be written")) from None
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return tuple(sorted(path for path in folder.rglob("*") if path.is_file()))


def _fill(study: Study, part: Path, why: str) -> None:
    part.mkdir(parents=True)
    for name in COPIED_FOLDERS:
        if (study.folder / name).is_dir():
            shutil.copytree(study.folder / name, part / name)
    for path in sorted(study.folder.glob("*.toml")):
        (part / path.name).write_bytes(path.read_bytes())
    for record in {run.record for run in study.lab.runs if run.record}:
        (part / record).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(study.folder / record, part / record)
    text = (study.folder / STUDY_FILE).read_text(encoding="utf-8")
    text = _with_other_name(_with_runs_file(text), study.name)
    (part / STUDY_FILE).write_text(text, encoding="utf-8")
    (part / RUNS_FILE).write_text(run_table_text(study.lab.runs, why), encoding="utf-8")


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
        lambda found: f"name = {found[1][0]}{name_after(found[1][1:-1])}{found[1][-1]}",
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
    found = MORE.search(name)
    if found is None:
        return f"{name}{ADDED}"
    return f"{name[: found.start()]}, with {int(found[1] or 1) + 1} trials"


def run_table_text(runs: Sequence[Run], why: str) -> str:
    """Return runs as a table that `scaleup.files.run_table.read_runs` reads back."""
    used = {
        name: column
        for name, column in MEASURED.items()
        if any(getattr(run, column.field) is not None for run in runs)
    }
    out = io.StringIO()
    out.write(f"# {' '.join(why.split())}\n")
    writer = csv.writer(out, lineterminator="\n")
    measured = [f"{name} [{column.example}]" for name, column in used.items()]
    logged = [name for name in ("record", "compression") if any(getattr(r, name) for r in runs)]
    writer.writerow(["run", "press", *measured, *logged, "tablets", "note"])
    for run in runs:
        cells = [_cell(getattr(run, column.field), column.example, column.unit)
                 for column in used.values()]  # fmt: skip
        writer.writerow(
            [
                plain_text(run.name),
                run.press,
                *cells,
                *(plain_text(str(getattr(run, name) or "")) for name in logged),
                run.tablets,
                plain_text(run.note),
            ]
        )
    return out.getvalue()


def _cell(value: float | None, unit: str, core: str) -> str:
    return "" if value is None else f"{value / factor(unit, core):.{DIGITS}g}"
