"""Inputs broken or odd on purpose, and what must be true of all that is given one.

``python -m tests.fuzz.mutants --inputs 100000`` is the long run; the tests make a short one.
"""

from __future__ import annotations

import argparse
import faulthandler
import sys
from collections.abc import Iterable
from pathlib import Path

from tests.fuzz.commands import COMMANDS
from tests.fuzz.readers import READERS
from tests.fuzz.targets import Target, attempts

STUCK = 120
"""s after which the long run says where it hangs, and ends."""


def main() -> int:
    """Run a long fuzz; print and keep what failed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="folder that failing inputs are written to")
    parser.add_argument("--only", default="", help="targets whose name holds this word")
    asked = parser.parse_args()
    chosen = [target for target in (*READERS, *COMMANDS) if asked.only in target.name]
    whole = sum(target.short for target in chosen)
    counts = {target: -(-asked.inputs * target.short // whole) for target in chosen}
    return int(sum([_long(counts.items(), asked.seed, asked.keep)]) > 0)


def _long(counts: Iterable[tuple[Target, int]], seed: int, keep: Path | None) -> int:
    """Return how many inputs failed, each target tried as often as the tests' share of it."""
    failed = 0
    for target, count in counts:
        wrong = answered = 0
        faulthandler.dump_traceback_later(STUCK, exit=True)
        for number, tried in enumerate(attempts(target, count, seed, keep)):
            faulthandler.dump_traceback_later(STUCK, exit=True)
            answered += tried.answered
            if tried.told is not None:
                wrong += 1
                print(f"{target.name} {number}: {tried.told[:400]}", flush=True)
        faulthandler.cancel_dump_traceback_later()
        print(f"{target.name}: {count} inputs, {answered} answered, {wrong} wrong", flush=True)
        failed += wrong
    return failed


if __name__ == "__main__":
    sys.exit(main())
