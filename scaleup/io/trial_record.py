"""The plan of a trial as a file that is read back: what was fixed before it, under one hash."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, fields
from os import PathLike
from pathlib import Path
from typing import Any

from scaleup.errors import Fault, InputError
from scaleup.io.reading_gate import read_bytes
from scaleup.short_repr import short_repr

FORMAT = "scaleup trial record 1"
FILE = "trial-plan.json"
SIZE_LIMIT = 2_000_000
SHOWN = 16
"""Digits of the hash that stand on pages and in sheets."""

Value = float | int | str | None


@short_repr
@dataclass(frozen=True)
class TrialRecord:
    """What a plan fixed: the study it is of, what is asked, and every planned cell of the sheet.

    All in core units; a value that the plan could not tell is None.
    """

    study: str
    inputs: tuple[tuple[str, str], ...]
    """File and SHA-256 of what the plan was made from."""
    press: str
    tooling: str
    weight: float
    true_density: float
    figure: str
    """What is asked of the end run, with its unit and bound; empty if nothing is."""
    unit: str
    bound: float | None
    confidence: float
    solid_fraction: tuple[float, float]
    speed: float
    tablets: int
    friability: float
    stop_force: float
    stop_ejection: float | None
    stop_breaking_force: float | None
    version: str
    seed: int
    draws: int
    date: str
    command: str
    runs: tuple[dict[str, Value], ...]
    """The planned columns of every row of the sheet."""

    @property
    def hash(self) -> str:
        """Return the SHA-256 of everything in the record."""
        return hashlib.sha256(_canonical(asdict(self)).encode()).hexdigest()

    @property
    def short_hash(self) -> str:
        """Return the digits of the hash that stand on pages and in sheets."""
        return self.hash[:SHOWN]


def _canonical(content: dict[str, Any]) -> str:
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def record_text(record: TrialRecord) -> str:
    """Return a record as the text of its file."""
    content = {"format": FORMAT, "plan": record.hash} | asdict(record)
    return json.dumps(content, indent=1, ensure_ascii=False) + "\n"


def read_trial_record(path: str | PathLike[str], shown: str = "") -> TrialRecord:
    """Return the record of a plan, its content held against its hash.

    Raises
    ------
    InputError
        If the file cannot be read, is none, or was changed after it was written.

    Examples
    --------
    >>> read_trial_record("examples/marram/trial-plan.json").study
    'Marram 400 mg, first transfer'
    """
    shown = shown or Path(path).name
    data = read_bytes(Path(path), shown, SIZE_LIMIT)
    try:
        content = json.loads(data.decode("utf-8"))
    except (UnicodeDecodeError, ValueError, RecursionError):
        raise InputError(_none(shown, "no JSON")) from None
    if not isinstance(content, dict) or content.pop("format", None) != FORMAT:
        raise InputError(_none(shown, f'no "format": "{FORMAT}"'))
    told = content.pop("plan", None)
    names = {each.name for each in fields(TrialRecord)}
    if set(content) != names:
        odd = min(set(content) ^ names)
        raise InputError(_none(shown, f'the key "{odd}" missing or unknown'))
    record = _record(content, shown)
    if told != record.hash:
        found = f"content whose hash is {record.short_hash}, not {str(told)[:SHOWN]} as it says"
        mend = "Take the file as it was written with the plan; nothing in it is filled in."
        raise InputError(Fault(shown, "plan", found, "the content as it was planned", mend))
    return record


def _record(content: dict[str, Any], shown: str) -> TrialRecord:
    try:
        content["inputs"] = tuple((str(file), str(digest)) for file, digest in content["inputs"])
        low, high = content["solid_fraction"]
        content["solid_fraction"] = (low, high)
        content["runs"] = tuple(dict(run) for run in content["runs"])
        return TrialRecord(**content)
    except (TypeError, ValueError):
        raise InputError(_none(shown, "values of another kind")) from None


def _none(shown: str, found: str) -> Fault:
    return Fault(shown, "", found, "the plan of a trial, as scaleup trial plan writes it")
