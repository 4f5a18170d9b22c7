"""Every command, tried on odd and on broken studies, with odd options."""

from __future__ import annotations

import contextlib
import csv
import io
import random
import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from statistics import mean

from scaleup.io.study import read_study
from tests.fuzz.binaries import odd_log, odd_parquet, workbook
from tests.fuzz.odd import NAMES, apart, factor, odd_csv, odd_toml
from tests.fuzz.outcome import OLD, run, tried
from tests.fuzz.targets import EXAMPLES, PROFILES, Attempt, Target
from tests.fuzz.ways import mutated

ODD = (
    "nan", "nan rpm", "inf %", "1e999", "1e999 rpm", "-1e308 kN", "", " ", "0", "-1", "-0.0 rpm",
    "1e-320 rpm", "\x1b[31m", "a\x07b", "x\u202ey", "\udcff", "../../etc/passwd", "/dev/zero",
    "9" * 400, "x" * 5000, "5 mm^99999", "--", "-", "1,5 rpm", "45", "45 rpm rpm", "%", "100 %",
    "99.99 %", "0 %", "10..20", "..", "20..10 rpm", "0x0", "9999x9999", "4294967296", "1_0",
    "5 \n rpm", *NAMES,
)  # fmt: skip
PRESSES = tuple(sorted(path.stem for path in (PROFILES / "presses").glob("*.toml")))
ROTARY = tuple(name for name in PRESSES if name.startswith("rotary"))
TOOLING = tuple(sorted(path.stem for path in (PROFILES / "tooling").glob("*.toml")))
STUDIES = tuple(sorted(path.parent for path in EXAMPLES.glob("*/study.toml")))
MARRAM = EXAMPLES / "marram"
LOGS = tuple(
    EXAMPLES / "bracken" / "records" / f"{name}.csv" for name in ("B1", "B3", "steel-slug")
)

Make = Callable[[random.Random, Path], list[str]]


@dataclass(frozen=True)
class Option:
    """An option, values that fit it, and how often it is given."""

    name: str
    values: tuple[str, ...] = ()
    often: float = 0.2
    odd: tuple[str, ...] = ODD


PLACES = (
    "made/taken.csv", "made/no/where.csv", "made", "made/a\x1b[31m.csv", "made/<b onload=x>.csv",
    "made/\udcff.csv", "", "-", f"made/{'x' * 300}.csv", "made/",
)  # fmt: skip
"""Places to write to; none leaves the folder, as a test must overwrite nothing outside it."""

FLAGS = (Option("--json", often=0.3), Option("--force", often=0.3))
CONFIRMED = Option("--as-given", often=0.9)
"""Figures made odd are mostly such as no powder has: they must be confirmed, or are refused."""
SEED = Option("--seed", ("0", "2", "4294967295"))
FIT = (SEED, Option("--confidence", ("50 %", "80 %", "90 %", "95 %", "0.9")))
FITTING = tuple(name for name in TOOLING if name.startswith("b-"))
"""Tooling that most of the presses take."""
OTHER = (Option("--to", ROTARY, 0.15), Option("--tooling", (*FITTING * 3, *TOOLING), 0.1))
SPEEDS = ("10 rpm", "15 rpm", "40 rpm", "60 rpm", "1 Hz", "75 rpm")
SPEED = (Option("--speed", SPEEDS),)
TABLE = (Option("--csv", ("made/answer.csv",), 0.4, PLACES),)
PICTURES = ("pulse", "solid-fraction", "strength", "speed", "window")


def odd_study(rng: random.Random, room: Path, seeds: tuple[Path, ...] = STUDIES) -> str:
    """Write a study into a folder: mostly odd, at times broken; return its path."""
    folder = Path(shutil.copytree(rng.choice(seeds), room / "study"))
    study = folder / "study.toml"
    if rng.random() < 0.7:  # or it is at fault as soon as that run is gone
        study.write_text(re.sub(r'(?m)^reference = ".*"\n', "", study.read_text(encoding="utf-8")))
    consistent = rng.random() < 0.6
    _change(study, odd_toml, rng, 0.2 if consistent else 0.5)
    _change(folder / "runs.csv", odd_apart if consistent else odd_csv, rng, 0.8)
    if rng.random() < 0.2:
        (folder / "presses").mkdir(exist_ok=True)
        named = [name for name in PRESSES if name in study.read_text(errors="replace")]
        press = PROFILES / "presses" / f"{rng.choice(named or PRESSES)}.toml"
        _change(Path(shutil.copy(press, folder / "presses")), odd_toml, rng, 1.0)
    return str(folder)


def odd_apart(text: str, rng: random.Random) -> str:
    """Return an odd table whose rows contradict no row of the same name."""
    return apart(odd_csv(text, rng))


def _change(
    path: Path, odd: Callable[[str, random.Random], str], rng: random.Random, often: float
) -> None:
    if rng.random() < often:
        path.write_text(odd(path.read_text(encoding="utf-8"), rng), encoding="utf-8")
    if rng.random() < 0.04:
        path.write_bytes(mutated(path.read_bytes(), rng))


def given(options: tuple[Option, ...], rng: random.Random) -> list[str]:
    """Return some of the options, mostly with values that fit them."""
    words: list[str] = []
    for option in options:
        if rng.random() >= option.often:
            continue
        words.append(option.name)
        if option.values:
            words.append(rng.choice(option.odd if rng.random() < 0.06 else option.values))
    return words


def _draws(rng: random.Random) -> list[str]:
    return [
        "--draws",
        rng.choice(("0", "199", "-5", "1e3", "nan")) if rng.random() < 0.02 else "200",
    ]


def _answer(*words: str, options: tuple[Option, ...], seeds: tuple[Path, ...] = STUDIES) -> Make:
    """Return what makes the words of a command that answers about a study."""

    def make(rng: random.Random, room: Path) -> list[str]:
        study = odd_study(rng, room, seeds)
        return [*words, study, *_draws(rng), *given((*FLAGS, CONFIRMED, SEED, *options), rng)]

    return make


def _picture(rng: random.Random, room: Path) -> list[str]:
    name = rng.choice(ODD if rng.random() < 0.03 else PICTURES)
    out = rng.choice(("made/out.svg", "made/out.svg", "made/out.png"))
    options = (*FLAGS[1:], CONFIRMED, *FIT, *OTHER, *SPEED)
    return ["plot", odd_study(rng, room), name, "--out", out, *_draws(rng), *given(options, rng)]


def _report(rng: random.Random, room: Path) -> list[str]:
    words = ["report", odd_study(rng, room), "--out", "made/page.html", *_draws(rng)]
    if rng.random() < 0.3:
        words[1] = _marram(rng, room)
        words += ["--sheet", _sheet(rng, room)]
    return [*words, *given((*FLAGS[1:], CONFIRMED, *FIT, *OTHER, *SPEED), rng)]


def _marram(rng: random.Random, room: Path) -> str:
    shutil.rmtree(room / "study", ignore_errors=True)
    folder = Path(shutil.copytree(MARRAM, room / "study"))
    _change(folder / "runs.csv", odd_csv, rng, 0.4)
    return str(folder)


def _sheet(rng: random.Random, room: Path) -> str:
    text = odd_csv((MARRAM / "trial-sheet.csv").read_text(encoding="utf-8"), rng)
    if rng.random() < 0.2:
        text = (MARRAM / "trial-sheet.csv").read_text(encoding="utf-8")
    name = rng.choice(("sheet", "sheet", "<b onload=x>", "[red]a", "a\x1b[31m"))
    if rng.random() < 0.4:
        path = room / f"{name}.xlsx"
        lines = [line for line in text.splitlines() if not line.startswith("#")]
        path.write_bytes(workbook(list(csv.reader(lines))))
    else:
        path = room / f"{name}.csv"
        path.write_text(text, encoding="utf-8")
    return str(path)


LEARN = (FLAGS[0], CONFIRMED, *FIT, Option("--out", ("made/study",), 0.6, PLACES))


def _learn(rng: random.Random, room: Path) -> list[str]:
    """Return the words that learn from the example's sheet, made odd."""
    words = ["trial", "learn", _marram(rng, room), _sheet(rng, room), *_draws(rng)]
    return [*words, *given(LEARN, rng)]


def _learn_own(rng: random.Random, room: Path) -> list[str]:
    """Return the words that learn from a sheet planned for an odd study, and then filled."""
    study = odd_study(rng, room)
    run(["trial", "plan", study, "--out", str(room / "trial"), "--draws", "200", "--as-given"])
    sheet = room / "trial" / "trial-sheet.csv"
    if sheet.exists():
        weights = [run.weight for run in read_study(Path(study)).lab.runs if run.weight]
        filled = _filled(sheet.read_text(encoding="utf-8"), mean(weights or [1.0]), rng)
        sheet.write_text(filled, encoding="utf-8")
    words = ["trial", "learn", study, str(sheet), *_draws(rng)]
    return [*words, *given(LEARN, rng)]


SET = {
    "speed": "planned speed", "force": "planned force", "tablets": "tablets to sample",
    "precompression": "planned precompression",
}  # fmt: skip
FOUND = {each: f"predicted {each}" for each in ("thickness", "breaking force", "ejection force")}


def _filled(text: str, weight: float, rng: random.Random) -> str:
    """Return a planned sheet filled as planned, with what was predicted, a little off."""
    rows = list(csv.reader(line for line in text.splitlines() if not line.startswith("#")))
    at = {name.partition(" [")[0]: place for place, name in enumerate(rows[0])}
    off = {name: factor(rng) ** 0.2 for name in FOUND}
    for row in rows[1:]:
        row[at["weight"]] = f"{weight * rng.gauss(1.0, 0.004):.5g}"
        for name, planned in SET.items():
            row[at[name]] = row[at[planned]]
        for name, predicted in FOUND.items():
            if row[at[predicted]] and rng.random() < 0.9:
                value = float(row[at[predicted]]) * off[name] * rng.gauss(1.0, 0.004)
                row[at[name]] = f"{value:.5g}"
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return odd_csv(out.getvalue(), rng) if rng.random() < 0.3 else out.getvalue()


PLAN = (*FLAGS, CONFIRMED, *FIT, *OTHER, *SPEED, Option("--tablets", ("1", "20", "1000")),
        Option("--minutes", ("1 s", "10 min", "20 h")), Option("--setting", ("1 s", "9 min")),
        Option("--hold-up", ("2 kg", "1 mg", "900 kg")))  # fmt: skip


def _plan(rng: random.Random, room: Path) -> list[str]:
    out = rng.choice(("made", "made/deep/er" if rng.random() < 0.3 else "made"))
    words = ["trial", "plan", odd_study(rng, room), "--out", out]
    return [*words, *_draws(rng), *given(PLAN, rng)]


def _record(rng: random.Random, room: Path) -> list[str]:
    seed = rng.choice(LOGS)
    path = room / rng.choice(
        ("log.csv", "log.csv", "log.parquet", "a\x1b[31m.csv", "<b onload=x>.csv")
    )
    if path.suffix == ".parquet":
        path.write_bytes(odd_parquet(seed, rng))
    else:
        path.write_text(odd_log(seed.read_text(encoding="utf-8"), rng), encoding="utf-8")
    words = ["record", str(path)]
    if rng.random() < (0.5 if seed.stem == "steel-slug" else 0.05):
        words += ["--stiffness"]
        if rng.random() < 0.7:
            words += ["--slug", "8 mm", "--slug-diameter", "9.9 mm"]
    return [*words, *given((*FLAGS, *TABLE, *RECORD), rng)]


RECORD = (
    Option("--exponent", ("0", "0.05", "0.2", "nan", "0.3")),
    Option("--range", ("40 kN", "5 kN", "1 N")),
    Option("--press-stiffness", ("129 kN/mm", "1 kN/mm", "1e5 kN/mm")),
    Option("--plot", ("made/out.svg", "made/out.png"), 0.3, PLACES),
)  # fmt: skip


def _profiles(rng: random.Random, room: Path) -> list[str]:
    """Return the words that list, show or check profiles, one of them odd in its folder."""
    kind = rng.choice(("presses", "presses", "tooling"))
    folder = Path(shutil.copytree(PROFILES, room / "profiles"))
    path = rng.choice(sorted((folder / kind).glob("*.toml")))
    _change(path, odd_toml, rng, 0.8)
    name = rng.choice((*PRESSES, *PRESSES, rng.choice(ODD)))
    speed = Option("--speed", SPEEDS, 0.6)
    options = (speed, Option("--tooling", TOOLING), Option("--force", ("1 N", "10 kN", "900 kN")))
    words = rng.choice((
        [], ["check", str(path)], ["check", str(path)],
        ["show", path.stem, *given(options, rng)],
        ["show", path.stem, *given(options, rng)], ["show", name, *given(options, rng)],
    ))  # fmt: skip
    return ["profiles", *words]


def _start(rng: random.Random, room: Path) -> list[str]:
    return ["start", rng.choice(("made/new", "made/new/deep", *PLACES))]


def _as_command(name: str, make: Make, short: int, share: float) -> Target:
    """Return a target that runs the words made, in a folder where some files are taken."""

    def attempt(rng: random.Random, room: Path) -> Attempt:
        (room / "made").mkdir()
        with contextlib.chdir(room):
            words = make(rng, room)
            if rng.random() < 0.08:
                _take([Path(word) for word in words if word.startswith("made/")])
            return tried(words, room)

    return Target(name, attempt, short, share)


def _take(places: list[Path]) -> None:
    """Put a file wherever one is to be written."""
    for path in places:
        if len(path.name) < 200 and not path.is_dir():
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(OLD)


ASKED = (*FIT[1:], *OTHER, *SPEED, *TABLE)
CURVE = (*FIT[1:], *OTHER, *TABLE, Option("--at", SPEEDS, 0.3),
         Option("--output", ("40000/h", "1/h"), 0.1),
         Option("--range", ("10..75 rpm", "20 rpm..30 rpm", "10..10.001 rpm"), 0.3),
         Option("--points", ("2", "5"), 0.05))  # fmt: skip
RANKED = (*FIT[1:], *OTHER, *OTHER, *TABLE)
MAP = (*ASKED, Option("--cells", ("4x4", "20x9")))
BACK = (*TABLE, Option("--run", ("P1", "P2", "P2", "F1"), 0.9), Option("--speed", SPEEDS, 0.01))
IMITATE, FESCUE = ("translate", "--from-production"), (EXAMPLES / "fescue",)

COMMANDS = (
    _as_command("translate", _answer("translate", options=(*ASKED, Option("--strict"))), 12, 0.2),
    _as_command("imitate", _answer(*IMITATE, options=BACK, seeds=FESCUE), 24, 0.1),
    _as_command("judge", _answer("judge", options=ASKED), 12, 0.2),
    _as_command("speed", _answer("speed", options=CURVE), 8, 0.2),
    _as_command("compare", _answer("compare", options=RANKED), 5, 0.2),
    _as_command("window", _answer("window", options=MAP), 6, 0.2),
    _as_command("plot", _picture, 6, 0.2),
    _as_command("report", _report, 4, 0.1),
    _as_command("trial plan", _plan, 10, 0.1),
    _as_command("trial learn", _learn, 4, 0.2),
    _as_command("trial learn of a plan", _learn_own, 3, 0.2),
    _as_command("record", _record, 25, 0.2),
    _as_command("profiles", _profiles, 30, 0.2),
    _as_command("start", _start, 10, 0.2),
)  # fmt: skip
