"""Whatever ``profiles check`` passes runs through ``show``, ``translate`` and ``compare``.

Few profiles are drawn, and few of those that pass are translated, since that takes seconds.
The slow tests draw more; with ``SCALEUP_PROFILES_DRAWN=2000`` they draw so many and translate all
that pass.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import tempfile
from pathlib import Path
from typing import NoReturn
from zlib import crc32

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from tests.fuzz.odd_profiles import Table, odd_profile, tables, write
from tests.fuzz.outcome import NO_NUMBER, run
from tests.fuzz.targets import EXAMPLES, PROFILES, trouble

pytestmark = pytest.mark.slow

LONG = "SCALEUP_PROFILES_DRAWN" in os.environ
DRAWN = int(os.environ.get("SCALEUP_PROFILES_DRAWN", "12"))
EVERY, CHOSEN = (1, 0) if LONG else (4, 3)
"""Of so many profiles that pass one is translated, by the checksum of its text."""
FEW = ("--draws", "200")
PRESSES, TOOLING = tables("presses"), tables("tooling")
ROTARY = [name for name, table in PRESSES.items() if table["kind"] == "rotary"]
LAB = [name for name in PRESSES if name not in ROTARY]


def drawn(count: int) -> settings:
    """Return the settings of a test that draws so many profiles."""
    return settings(
        max_examples=count, deadline=None, derandomize=not LONG, database=None,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip


@st.composite
def rotary_with_tooling(draw: st.DrawFn) -> tuple[Table, Table]:
    press = PRESSES[draw(st.sampled_from(ROTARY))]
    fitting = [each for each in TOOLING.values() if each["standard"] in press["accepts"]]
    whole, tooling = draw(odd_profile(press)), draw(st.sampled_from(fitting))
    return whole, draw(odd_profile(tooling)) if draw(st.booleans()) else tooling


@st.composite
def lab_with_tooling(draw: st.DrawFn) -> tuple[Table, Table]:
    """Draw a lab press and tooling; its tip stays, or the study's runs would be at fault."""
    press = PRESSES[draw(st.sampled_from(LAB))]
    tooling = TOOLING["lab-flat-10"]
    odd = draw(odd_profile(tooling)) if draw(st.booleans()) else tooling
    return draw(odd_profile(press)), {**odd, "diameter": tooling["diameter"]}


def passes(path: Path) -> bool:
    status, out, err = ran("profiles", "check", path)
    assert (status == 0) == ("no fault" in out), out
    assert (status == 2) == bool(err), err
    return status == 0


def ran(*words: str | Path) -> tuple[int, str, str]:
    """Return how a command ended; it must end in an answer or a fault, and in numbers."""
    ended: list[tuple[int, str, str]] = []
    told = trouble(lambda: ended.append(run([str(word) for word in words])), 60.0)
    assert told is None, f"{words}: {told}"
    status, out, err = ended[0]
    assert status in (0, 2), f"{words}: {status}: {err}"
    assert not NO_NUMBER.search(out), f"{words}: {out}"
    if "--json" in words and status == 0:
        json.loads(out, parse_constant=refused)
    return status, out, err


def refused(name: str) -> NoReturn:
    raise AssertionError(f"{name} in JSON")


def study_with(room: Path, side: str, press: Table, tooling: Table) -> Path:
    """Return a study whose one side has these profiles."""
    folder = room / side
    shutil.copytree(EXAMPLES / "marram", folder, ignore=shutil.ignore_patterns("*.html", "*.svg"))
    shutil.copy(PROFILES / "presses" / "lab-recorded.csv", folder / "presses.csv")
    write(folder, "presses", press)
    write(folder, "tooling", tooling)
    shutil.copy(PROFILES / "presses" / "lab-recorded.csv", folder / "presses")
    file = folder / "study.toml"
    text = file.read_text(encoding="utf-8")
    head, found, rest = text.partition(f"[{side}]")
    assert found
    rest = re.sub(r'(?m)^press = ".*"', 'press = "presses/odd.toml"', rest, count=1)
    rest = re.sub(r'(?m)^tooling = ".*"', 'tooling = "tooling/odd.toml"', rest, count=1)
    if side == "lab":
        rest = re.sub(r"(?m)^loading_rate = .*\n", LAB_SPEED.get(press["kind"], ""), rest, count=1)
        if press["kind"] != "hydraulic" or "pump" in press:
            _without_hold(folder / "runs.csv")
    _few(folder / "runs.csv")
    file.write_text(head + found + rest, encoding="utf-8")
    return folder


LAB_SPEED = {"eccentric": 'speed = "40 strokes/min"\n'}


def _few(runs: Path) -> None:
    """Keep a run of each force, which takes less time."""
    heading, *lines = [line for line in runs.read_text().splitlines() if line[0] != "#"]
    runs.write_text("\n".join([heading, *lines[::3]]) + "\n")


def _without_hold(runs: Path) -> None:
    lines = [line.split(",") for line in runs.read_text().splitlines() if line[0] != "#"]
    place = lines[0].index("hold [s]")
    kept = [",".join([*line[:place], *line[place + 1 :]]) for line in lines]
    runs.write_text("\n".join(kept) + "\n")


def runs_through(folder: Path, *compared: str) -> None:
    press, tooling = folder / "presses" / "odd.toml", folder / "tooling" / "odd.toml"
    kept = passes(press), passes(tooling)
    event(f"press passes {kept[0]}, tooling passes {kept[1]}")
    if kept[0]:
        ran("profiles", "show", press)
    if kept[1]:
        ran("profiles", "show", tooling)
    if all(kept) and crc32(press.read_bytes() + tooling.read_bytes()) % EVERY == CHOSEN:
        status, *_ = ran("translate", folder, *FEW, "--json")
        event(f"translate ends with {status}")
        ran("compare", folder, *FEW, *compared, "--json")


def rotary_runs_through(both: tuple[Table, Table]) -> None:
    with tempfile.TemporaryDirectory() as room:
        folder = study_with(Path(room), "production", *both)
        runs_through(folder, "--to", "presses/odd.toml", "--to", "rotary-mid-19")


def lab_runs_through(both: tuple[Table, Table]) -> None:
    with tempfile.TemporaryDirectory() as room:
        folder = study_with(Path(room), "lab", *both)
        runs_through(folder, "--to", "rotary-mid-19")


@drawn(4)
@given(rotary_with_tooling())
def test_a_rotary_press_that_passes_runs_through(both: tuple[Table, Table]) -> None:
    rotary_runs_through(both)


@drawn(4)
@given(lab_with_tooling())
def test_a_lab_press_that_passes_runs_through(both: tuple[Table, Table]) -> None:
    lab_runs_through(both)


@pytest.mark.slow
@drawn(DRAWN)
@given(rotary_with_tooling())
def test_many_rotary_presses_that_pass_run_through(both: tuple[Table, Table]) -> None:
    rotary_runs_through(both)


@pytest.mark.slow
@drawn(DRAWN)
@given(lab_with_tooling())
def test_many_lab_presses_that_pass_run_through(both: tuple[Table, Table]) -> None:
    lab_runs_through(both)
