"""What a fuzz target is: it breaks one input, tries it, and says what went wrong."""

from __future__ import annotations

import random
import shutil
import tempfile
import time
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from scaleup.errors import InputError

ROOT = Path(__file__).parents[2]
EXAMPLES, PROFILES = ROOT / "examples", ROOT / "profiles"
SLOW = 10.0
"""s of the processor after which a call counts as hanging."""


@dataclass(frozen=True)
class Attempt:
    """What one broken input led to."""

    told: str | None
    """What went wrong; None where it ended as it should."""
    answered: bool
    """Whether an answer was reached, not a fault of the input."""


@dataclass(frozen=True)
class Target:
    """Something tried with broken inputs."""

    name: str
    attempt: Callable[[random.Random, Path], Attempt]
    """Writes a broken input into an empty folder and tries it."""
    short: int
    """How many inputs the slow tests try; the ordinary ones try a third, at least three."""
    share: float
    """The least share of them that must reach an answer."""


def attempts(target: Target, count: int, seed: int, keep: Path | None = None) -> Iterator[Attempt]:
    """Yield what each broken input led to; the folders of those that failed are kept if asked."""
    for number in range(count):
        rng = random.Random(f"{target.name} {seed} {number}")  # noqa: S311  no secret
        with tempfile.TemporaryDirectory() as name:
            room = Path(name)
            tried = target.attempt(rng, room)
            if tried.told is not None and keep is not None:
                kept = keep / f"{target.name.replace(' ', '-')}-{seed}-{number}"
                shutil.copytree(room, kept, dirs_exist_ok=True, symlinks=True)
                (kept / "told.txt").write_text(tried.told, errors="replace")
        yield tried


def reading(read: Callable[[], object]) -> Attempt:
    """Return whether a reader gave an answer or a clear fault, and nothing else."""
    answers: list[object] = []
    told = trouble(lambda: answers.append(read()))
    return Attempt(told, bool(answers))


def trouble(call: Callable[[], object], slow: float = SLOW) -> str | None:
    """Return what a reader did that it must not; None for an answer or a clear fault."""
    start = time.process_time()
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
    took = time.process_time() - start
    return f"{took:.0f} s" if took > slow else None
