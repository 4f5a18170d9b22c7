"""Ratios taken in one run; nothing here fails for being slow.

The wall times of our side, with the ratio beside each, come from pytest-benchmark:

``pytest tests/benchmarks -o addopts= -s --import-mode=importlib``
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from types import ModuleType
from typing import Protocol

import numpy as np
import pyarrow
import pytest
from pyarrow import csv, parquet

from scaleup.answers.analysis import Analysis
from scaleup.answers.force_log import force_log_answer
from scaleup.answers.functions import operating_window
from scaleup.answers.many import compare_many
from scaleup.answers.window import grid_of
from scaleup.calibration.calibrated_study import calibrated
from scaleup.calibration.fit import Drawing, fit_study
from scaleup.io.logs import open_log
from scaleup.io.study import read_study
from scaleup.powder.charge import Charge
from scaleup.powder.compression import press_at
from scaleup.powder.hardening import Heckel
from scaleup.powder.law import Powder
from scaleup.powder.stroke_solver import Squeeze, integrate
from scaleup.presses.rotary import RollerContact
from scaleup.transfer.case import transfer_case
from tests.benchmarks.trial_worlds import KINDS
from tests.benchmarks.trials import one_trial, run_trials, table

ROOT = Path(__file__).parents[2]
DRAWS = 10_000
TWINS = 3
PAIRS = 1 if "--benchmark-disable" in sys.argv else 5
"""Turns of two processes; the gate's quick pass takes one."""
SHORT = 12
"""Rounds of what takes hundredths of a second: the least of a few is mostly noise."""


class Benchmark(Protocol):
    """What is used of the fixture of pytest-benchmark."""

    extra_info: dict[str, object]

    def pedantic(self, target: Callable[[], object], *, rounds: int) -> object:
        """Run and time a call so many times."""


def seconds(work: Callable[[], object], rounds: int = 3) -> float:
    """Return the least wall time of a few rounds."""
    best = float("inf")
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def process(*words: str) -> Callable[[], object]:
    """Return a call that runs Python in a process of its own."""
    command = [sys.executable, *words]
    return lambda: subprocess.run(command, check=True, capture_output=True, cwd=ROOT)


def drawn_powder() -> Powder:
    rng = np.random.default_rng(1)
    return Powder(
        Heckel(
            100.0 * np.exp(0.1 * rng.standard_normal(DRAWS)),
            0.6 + 0.05 * rng.standard_normal(DRAWS),
        ),
        np.clip(0.04 + 0.02 * rng.standard_normal(DRAWS), 0.005, 0.1),
        300.0 * np.exp(0.2 * rng.standard_normal(DRAWS)),
        np.zeros(DRAWS),
        np.zeros(DRAWS),
    )


def report(benchmark: Benchmark, work: Callable[[], object], ratio: float) -> None:
    """Have our side timed, with its ratio kept beside the times."""
    benchmark.extra_info["ratio"] = ratio
    benchmark.pedantic(work, rounds=3)


def test_pulses_per_second_against_an_ode_library(
    radau_twin: ModuleType, benchmark: Benchmark
) -> None:
    powder = drawn_powder()
    charge = Charge(400.0, 1.55, np.pi * 25.0)
    stroke = RollerContact(410.0, 125.0, 15.875, 9.525).stroke(60.0)
    ones = np.ones(DRAWS)
    squeeze = Squeeze(powder, charge, stroke, 0.0, ones, 0.0 * ones)

    def press() -> object:
        return press_at(squeeze, 3.7 * ones)

    ours = seconds(press, SHORT) / DRAWS
    motion = radau_twin.rotary(410.0, 125.0, 15.875, 9.525, 60.0)
    one = radau_twin.Powder(100.0, 0.6, 0.05, 300.0)
    theirs = seconds(
        lambda: radau_twin.compress(motion, one, radau_twin.Charge(400.0, 1.55, np.pi * 25.0), 3.7),
        TWINS,
    )
    steps = integrate(squeeze, 3.7 * ones, 150.0 * ones).time.size
    floor = seconds(partial(bare_powers, powder, steps), SHORT) / DRAWS
    print(f"\npulses: {1.0 / ours:.0f} per second, {theirs / ours:.0f} times an ODE library, "
          f"{ours / floor:.1f} times the powers alone")  # fmt: skip
    report(benchmark, press, theirs / ours)


def bare_powers(powder: Powder, steps: int) -> None:
    """Do the three powers by 1/m that every step needs of every draw, and nothing else.

    One for the rate of flow as the step begins, one for its growth over the step, one for the
    effective dwell.
    """
    exponents, shares = 1.0 / powder.rate_exponent, np.linspace(0.3, 1.0, powder.draws)
    result = np.empty(powder.draws)
    for _ in range(3 * steps):
        np.power(shares, exponents, out=result)


@pytest.mark.parametrize(
    ("words", "bare"),
    [
        (("--help",), "import typer, rich.console"),
        (("profiles",), "import typer, rich.table; typer.run(lambda: None)"),
        (
            ("translate", "examples/marram"),
            "import numpy, scipy.optimize, scipy.stats, pandas, pint, pydantic, rich, typer",
        ),
    ],
    ids=["help", "profiles", "translate"],
)
def test_whole_process_against_importing_alone(
    words: tuple[str, ...], bare: str, benchmark: Benchmark
) -> None:
    work = process("-m", "scaleup", *words)
    ours = seconds(work)
    alone = seconds(process("-c", bare))
    print(f"\nscaleup {words[0]}: {ours / alone:.2f} times {bare}")
    report(benchmark, work, ours / alone)


BARE = "import numpy, scipy, pandas, pint, pydantic, rich, typer"


@pytest.mark.parametrize("name", ["marram", "dunlin", "sedge", "fescue", "bracken"])
def test_translate_of_every_study_against_importing(name: str, benchmark: Benchmark) -> None:
    """The two take turns, so that what else the machine does meets both."""
    work, alone = process("-m", "scaleup", "translate", f"examples/{name}"), process("-c", BARE)
    ratios = [seconds(work, 1) / seconds(alone, 1) for _ in range(PAIRS)]
    ratio = float(np.median(ratios))
    print(f"\nscaleup translate examples/{name}: {ratio:.2f} times {BARE}")
    report(benchmark, work, ratio)


def test_a_second_question_against_the_first(benchmark: Benchmark) -> None:
    """Another speed asked of the same analysis: nothing is read, fitted or mapped again."""
    study = read_study(ROOT / "examples" / "marram")
    speeds = iter(np.linspace(20.0, 70.0, 40))
    first = seconds(lambda: Analysis(study).speed(at=40.0), 1)
    analysis = Analysis(study)
    analysis.speed(at=40.0)

    def second() -> object:
        return analysis.speed(at=float(next(speeds)))

    later = seconds(second, 5)
    print(f"\na second speed: {later * 1e3:.0f} ms, {later / first:.3f} of the first")
    report(benchmark, second, later / first)


@pytest.mark.parametrize("name", ["marram", "fescue", "dunlin", "bracken", "sedge"])
def test_fit_and_map_against_importing_alone(name: str, benchmark: Benchmark) -> None:
    """The fit is asked for again for each value taken for granted that the runs depend on."""
    study = read_study(ROOT / "examples" / name)
    analysis = Analysis(study)
    runs, model = analysis.calibrated.observations, analysis.case().process
    few, many = (
        seconds(partial(fit_study, study, runs, Drawing(draws, 1))) for draws in (200, 4000)
    )
    mapped = seconds(lambda: replace(model).map)
    alone = seconds(process("-c", BARE))
    print(f"\n{name}: a fit takes {many / alone:.2f} times importing, {few / alone:.2f} with 200 "
          f"draws, a map {mapped / alone:.2f}")  # fmt: skip
    report(benchmark, partial(fit_study, study, runs, Drawing()), many / alone)


def test_translate_against_importing_the_very_same_modules(benchmark: Benchmark) -> None:
    """Of its third-party modules exactly those that a translation loads, and nothing else."""
    listed = subprocess.run(
        [sys.executable, "-c", LOADED], check=True, capture_output=True, text=True, cwd=ROOT
    ).stdout.splitlines()[-1]
    bare = seconds(process("-c", IMPORTED, listed))
    work = process("-m", "scaleup", "translate", "examples/marram")
    ratio = seconds(work) / bare
    print(f"\nscaleup translate: {ratio:.2f} times importing its {len(listed.split(','))} modules")
    report(benchmark, work, ratio)


LOADED = """
import contextlib, io, sys
sys.argv = ["scaleup", "translate", "examples/marram"]
from scaleup.cli import main
with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit):
    main()
files = {name: getattr(module, "__file__", None) or "" for name, module in sys.modules.items()}
print(",".join(name for name, file in files.items() if "site-packages" in file))
"""
IMPORTED = """
import contextlib, importlib, sys
for name in sys.argv[1].split(","):
    with contextlib.suppress(Exception):
        importlib.import_module(name)
"""


def test_a_window_on_one_core(benchmark: Benchmark) -> None:
    """60 speeds by 60 forces by 2,000 draws, and how the cost grows with each of the three."""
    study = read_study(ROOT / "examples" / "marram")

    def work() -> object:
        return operating_window(study, cells=(60, 60), draws=2000)

    whole = seconds(work, 2)

    def cells(speeds: int, forces: int, draws: int) -> float:
        lab = calibrated(study, Drawing(draws, 1))
        case = transfer_case(lab, study.production.speed, 0.9)
        range_ = study.production.press.profile.speed
        grid = np.linspace(range_.min, range_.max, speeds), np.geomspace(8e3, 30e3, forces)
        case.process.map  # noqa: B018  solved before it is timed
        return seconds(lambda: grid_of(case, *grid))

    once = cells(60, 60, 2000)
    slopes = [
        np.log(cells(*more) / once) / np.log(2.0)
        for more in ((120, 60, 2000), (60, 120, 2000), (60, 60, 4000))
    ]
    told = ", ".join(f"{slope:.2f}" for slope in slopes)
    print(f"\nwindow: {whole:.2f} s, of it the map {once:.2f} s; exponents of its cost in speeds, "
          f"forces and draws {told}")  # fmt: skip
    report(benchmark, work, whole / once)


def test_many_studies_on_two_workers_against_one(
    benchmark: Benchmark, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Six studies by every press that takes their tooling; the workers are warm."""
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", "1")  # or one worker takes both cores
    studies = [ROOT / "examples" / "marram"] * 6

    def taken(workers: int) -> float:
        with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
            list(compare_many(studies[: 2 * workers], ["rotary-mid-19"], draws=200, executor=pool))
            return seconds(lambda: list(compare_many(studies, executor=pool)), 1)

    one, two = taken(1), taken(2)
    alone = seconds(lambda: list(compare_many(studies)), 1)
    print(f"\nmany studies: two workers {one / two:.2f} times as quick as one, "
          f"one {alone / one:.2f} times as quick as the caller's own process")  # fmt: skip
    report(benchmark, lambda: list(compare_many(studies[:1])), one / two)


LOG_SAMPLES = 10_000_000


def test_a_log_measured_against_merely_read(
    tmp_path_factory: pytest.TempPathFactory, benchmark: Benchmark
) -> None:
    """100 s at 100 kHz of a rotary press: precompression, main, noise."""
    folder = tmp_path_factory.mktemp("log")
    moments = np.arange(LOG_SAMPLES) / 1e5
    phase = np.mod(moments, 0.083)
    force = np.where(phase < 0.012, 15.0 * np.sin(np.pi * phase / 0.012), 0.0)
    late = (phase > 0.04) & (phase < 0.05)
    force += np.where(late, 3.0 * np.sin(np.pi * (phase - 0.04) / 0.01), 0.0)
    force += np.random.default_rng(0).normal(0.0, 0.02, LOG_SAMPLES)
    columns = {"time [ms]": np.round(moments * 1e3, 3), "force [kN]": np.round(force, 4)}
    table = pyarrow.table(columns)
    csv.write_csv(table, folder / "log.csv")
    parquet.write_table(table, folder / "log.parquet")

    def read_csv() -> object:
        rows = csv.open_csv(folder / "log.csv", csv.ReadOptions(block_size=1 << 24))
        return sum(batch.num_rows for batch in rows)

    def read_parquet() -> object:
        rows = parquet.ParquetFile(folder / "log.parquet").iter_batches(batch_size=1 << 20)
        return sum(batch.num_rows for batch in rows)

    for name, read in (("csv", read_csv), ("parquet", read_parquet)):
        work = partial(_measure, folder / f"log.{name}")
        ratio = seconds(work) / seconds(read)
        print(f"\n{LOG_SAMPLES:,} samples of {name}: measured in {ratio:.2f} times reading alone")
        if name == "csv":
            report(benchmark, work, ratio)


def _measure(path: Path) -> object:
    return force_log_answer(open_log(path)).pulses.count


def test_two_simulated_trials(benchmark: Benchmark) -> None:
    """A trial as predicted and one with a feeder that weakens; a trial against its first fit."""
    study = read_study(ROOT / "examples" / "marram")
    fit = seconds(lambda: Analysis(study, draws=200).calibrated, 1)
    outcomes = run_trials(2, seed=1, draws=200, workers=1)
    assert [each.kind for each in outcomes] == list(KINDS[:2])
    trial = seconds(partial(one_trial, KINDS[0], 1, 200), 1)
    print(f"\n{table(outcomes)}\na simulated trial takes {trial / fit:.1f} times a fit")
    report(benchmark, partial(one_trial, KINDS[0], 1, 200), trial / fit)
