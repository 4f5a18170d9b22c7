"""Every reader of files, tried with the shipped files broken."""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable
from pathlib import Path

from scaleup.answers.force_log import force_log_answer
from scaleup.calibration.observations import observe, sides
from scaleup.io.logs import open_log
from scaleup.io.profile_files import read_press, read_tooling
from scaleup.io.run_table import read_runs
from scaleup.io.study import read_study
from scaleup.io.trial_sheet.reading import read_trial_sheet
from tests.fuzz.binaries import odd_parquet, odd_workbook
from tests.fuzz.targets import EXAMPLES, PROFILES, Attempt, Target, reading
from tests.fuzz.ways import mutated

SHORT = 300
SHEETS = (EXAMPLES / "marram" / "trial-sheet.csv",)
RUNS = tuple(sorted(EXAMPLES.glob("*/runs.csv")))
LOGS = (EXAMPLES / "bracken" / "records" / "B1.csv", PROFILES / "presses/lab-recorded.csv")


def _study(path: Path) -> object:
    study = read_study(path)
    return observe(study, sides(study))


def _sheet(path: Path) -> object:
    return read_trial_sheet(path, path.name)


def _log(path: Path) -> object:
    return force_log_answer(open_log(path))


def _text(name: str, seeds: tuple[Path, ...], read: Callable[[Path], object]) -> Target:
    """Return a target whose text files are broken and read alone."""

    def attempt(rng: random.Random, room: Path) -> Attempt:
        seed = rng.choice(seeds)
        path = room / seed.name
        path.write_bytes(mutated(seed.read_bytes(), rng))
        return reading(lambda: read(path))

    return Target(name, attempt, SHORT, 0.0)


def _in_a_study(name: str, file: str) -> Target:
    """Return a target whose file is broken in a study's folder."""

    def attempt(rng: random.Random, room: Path) -> Attempt:
        seed = rng.choice(sorted(EXAMPLES.glob("*/study.toml"))).parent
        folder = Path(shutil.copytree(seed, room / "study"))
        (folder / file).write_bytes(mutated((folder / file).read_bytes(), rng))
        return reading(lambda: _study(folder))

    return Target(name, attempt, SHORT, 0.0)


def _made(
    name: str,
    ending: str,
    make: Callable[[random.Random], bytes],
    read: Callable[[Path], object],
    short: int,
) -> Target:
    """Return a target whose files are made odd, or made and then broken."""

    def attempt(rng: random.Random, room: Path) -> Attempt:
        path = room / f"made{ending}"
        path.write_bytes(make(rng))
        return reading(lambda: read(path))

    return Target(name, attempt, short, 0.05)


READERS = (
    _text("press profile", tuple(sorted((PROFILES / "presses").glob("*.toml"))), read_press),
    _text("tooling profile", tuple(sorted((PROFILES / "tooling").glob("*.toml"))), read_tooling),
    _in_a_study("study", "study.toml"),
    _text("run table", RUNS, read_runs),
    _in_a_study("run table of a study", "runs.csv"),
    _text("trial sheet", SHEETS, _sheet),
    _text("force log", LOGS, _log),
    _made("run workbook", ".xlsx", lambda rng: odd_workbook(rng.choice(RUNS), rng), read_runs, 60),
    _made("sheet workbook", ".xlsx", lambda rng: odd_workbook(SHEETS[0], rng), _sheet, 60),
    _made("parquet log", ".parquet", lambda rng: odd_parquet(LOGS[0], rng), _log, 200),
)
