"""Inputs broken on purpose, and what must be true of every reader that is given one.

``python tests/fuzz/mutants.py --inputs 100000`` is the long run; the tests make a short one.
"""

from __future__ import annotations

import argparse
import random
import re
import shutil
import sys
import tempfile
import time
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from scaleup.errors import InputError
from scaleup.evidence.observations import observe, sides
from scaleup.evidence.record import record_answer
from scaleup.files.library import read_press, read_tooling
from scaleup.files.logs import open_log
from scaleup.files.run_table import read_runs
from scaleup.files.study import read_study
from scaleup.files.trial_sheet import read_trial_sheet

ROOT = Path(__file__).parents[2]
EXAMPLES, PROFILES = ROOT / "examples", ROOT / "profiles"
SLOW = 10.0
"""s after which a reader counts as hanging."""

TOKENS = (
    b"nan", b"-inf", b"1e999", b"-1e308", b"1e-320", b"9" * 400, b"0", b"-0", b"1e5", b"\x00",
    b"\x1b[31m", b"\x07", b"\xe2\x80\xae", b"\xff\xfe", b"<script>alert(1)</script>", b"=1+1",
    b"@SUM(A1)", b"../../etc/passwd", b"/dev/zero", b"\\\\server\\share", b"mm^999999999",
    b"kN**9**9**9", b"1e400 mm", b"(((((((((((mm)))))))))))", b"[" * 300, b"{" * 300, b'"""', b"'",
    b"#", b"\r", b"\n\n", b"\t", b",,,,", b";", b"true", b"1979-05-27", b"a" * 5000, b"10 mm mm mm",
    b"\xc2\xb5m", b"1_0", b"0x1F", b"45 rpm", b"-5 kN", b"1,5", b"%",
)  # fmt: skip


def mutated(data: bytes, rng: random.Random) -> bytes:
    """Return data with one to four things wrong."""
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        data = rng.choice(WAYS)(data, rng)
    return data[:200_000]


def _place(data: bytes, rng: random.Random) -> int:
    return rng.randrange(len(data) + 1)


def _flip(data: bytes, rng: random.Random) -> bytes:
    if not data:
        return data
    place = rng.randrange(len(data))
    return data[:place] + bytes([rng.randrange(256)]) + data[place + 1 :]


def _cut(data: bytes, rng: random.Random) -> bytes:
    start = _place(data, rng)
    return data[:start] + data[start + rng.choice((1, 3, 20, 200)) :]


def _end(data: bytes, rng: random.Random) -> bytes:
    return data[: _place(data, rng)]


def _insert(data: bytes, rng: random.Random) -> bytes:
    place = _place(data, rng)
    return data[:place] + rng.choice(TOKENS) + data[place:]


def _double(data: bytes, rng: random.Random) -> bytes:
    start = _place(data, rng)
    part = data[start : start + rng.choice((1, 10, 100))]
    return data[:start] + part * rng.choice((2, 3, 50)) + data[start:]


def _number(data: bytes, rng: random.Random) -> bytes:
    found = list(re.finditer(rb"[-+]?\d[\d.,eE]*", data))
    return _replaced(data, found, rng)


def _word(data: bytes, rng: random.Random) -> bytes:
    found = list(re.finditer(rb"[A-Za-z_]+", data))
    return _replaced(data, found, rng)


def _value(data: bytes, rng: random.Random) -> bytes:
    found = list(re.finditer(rb'"[^"\n]*"', data))
    return _replaced(data, found, rng)


def _replaced(data: bytes, found: list[re.Match[bytes]], rng: random.Random) -> bytes:
    if not found:
        return _insert(data, rng)
    each = rng.choice(found)
    return data[: each.start()] + rng.choice(TOKENS) + data[each.end() :]


def _swap(data: bytes, rng: random.Random) -> bytes:
    lines = data.split(b"\n")
    one, other = rng.randrange(len(lines)), rng.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    return b"\n".join(lines)


WAYS = (_flip, _cut, _end, _insert, _double, _number, _number, _word, _value, _value, _swap)


@dataclass(frozen=True)
class Target:
    """One reader, the files it is tried with, and how a broken one is put before it."""

    name: str
    seeds: tuple[Path, ...]
    read: Callable[[Path], object]
    file: str = ""
    """The file of a study folder that is broken; "" where the file is read alone."""


def _study(path: Path) -> object:
    study = read_study(path)
    return observe(study, sides(study))


TARGETS = (
    Target("press profile", tuple((PROFILES / "presses").glob("*.toml")), read_press),
    Target("tooling profile", tuple((PROFILES / "tooling").glob("*.toml")), read_tooling),
    Target("study", tuple(EXAMPLES.glob("*/study.toml")), _study, "study.toml"),
    Target("run table", tuple(EXAMPLES.glob("*/runs.csv")), read_runs),
    Target("run table of a study", tuple(EXAMPLES.glob("*/runs.csv")), _study, "runs.csv"),
    Target(
        "trial sheet",
        (EXAMPLES / "marram" / "trial-sheet.csv",),
        lambda path: read_trial_sheet(path, path.name),
    ),
    Target(
        "force log",
        (*(EXAMPLES / "bracken" / "records").glob("B1.csv"), PROFILES / "presses/lab-recorded.csv"),
        lambda path: record_answer(open_log(path)),
    ),
)


def broken_inputs(target: Target, count: int, seed: int) -> Iterator[tuple[bytes, str | None]]:
    """Yield broken inputs with what went wrong; None where the reader did as it should."""
    rng = random.Random(f"{target.name}{seed}")  # noqa: S311  no secret
    whole = {path: path.read_bytes() for path in target.seeds}
    with tempfile.TemporaryDirectory() as name:
        room = Path(name)
        for number in range(count):
            seed_path = rng.choice(target.seeds)
            data = mutated(whole[seed_path], rng)
            folder = room / f"{number % 8}"
            if target.file:
                shutil.rmtree(folder, ignore_errors=True)
                shutil.copytree(seed_path.parent, folder)
                (folder / target.file).write_bytes(data)
                path = folder
            else:
                folder.mkdir(exist_ok=True)
                path = folder / seed_path.name
                path.write_bytes(data)
            yield data, trouble(lambda: target.read(path))  # noqa: B023  called at once


def trouble(call: Callable[[], object]) -> str | None:
    """Return what a reader did that it must not; None for an answer or a clear fault."""
    start = time.perf_counter()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            call()
    except InputError as error:
        text = str(error)
        if any(ord(char) < 32 and char != "\n" for char in text):
            return f"a control character reaches the screen: {text!r}"
        if not text or len(text) > 20_000:
            return f"a fault of {len(text)} characters"
    except BaseException as error:  # noqa: BLE001  whatever it is, it must not come through
        return f"{type(error).__name__}: {error}"
    took = time.perf_counter() - start
    return f"{took:.0f} s" if took > SLOW else None


def main() -> int:
    """Run a long fuzz; print and keep what failed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="folder that failing inputs are written to")
    asked = parser.parse_args()
    failed = 0
    for target in TARGETS:
        count = asked.inputs // len(TARGETS)
        wrong = 0
        for data, told in broken_inputs(target, count, asked.seed):
            if told is None:
                continue
            wrong += 1
            print(f"{target.name}: {told[:300]}")
            if asked.keep is not None:
                asked.keep.mkdir(exist_ok=True)
                (asked.keep / f"{target.name.replace(' ', '-')}-{wrong}").write_bytes(data)
        print(f"{target.name}: {count} inputs, {wrong} wrong")
        failed += wrong
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(main())
