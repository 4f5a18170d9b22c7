"""The command line: a thin face on the library, one file for each command."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Callable
from dataclasses import replace
from typing import NoReturn

from scaleup.cli.streams import set_sensible_size, standard_streams
from scaleup.cli.threads import THREADS
from scaleup.errors import Fault, InputError, on_one_line
from scaleup.io.reading_gate import forget_inputs
from scaleup.io.writing import forget_written, written

INPUT_AT_FAULT = 2
FAILED = 1
INTERRUPTED = 130


def main() -> NoReturn:
    """Run the command line; a fault of the input ends with status 2 and no traceback."""
    set_sensible_size()
    forget_inputs()
    forget_written()
    with standard_streams():
        _main()


def _main() -> NoReturn:
    try:
        from scaleup.cli.app import app  # noqa: PLC0415  an interruption may meet it loading

        _run(app)
    except InputError as error:
        for fault in error.faults:
            sys.stderr.write(f"scaleup: {_by_option(fault)}\n")
        sys.exit(INPUT_AT_FAULT)
    except ArithmeticError as error:
        sys.stderr.write(f"scaleup: the calculation failed: {error}\n")
        sys.exit(FAILED)
    except BrokenPipeError:  # the reader has seen enough
        os._exit(FAILED)
    except OSError as error:
        place = f"{on_one_line(str(error.filename))}: " if error.filename else "the output: "
        sys.stderr.write(f"scaleup: {place}{error.strerror}\n")
        os._exit(FAILED)  # a second flush of what cannot be written would complain again
    except (KeyboardInterrupt, SystemExit) as ended:
        if isinstance(ended, SystemExit) and ended.code != INTERRUPTED:
            raise
        names = ", ".join(on_one_line(str(path)) for path in written())
        told = f"after {names} had been written" if names else "nothing was written"
        sys.stderr.write(f"scaleup: interrupted; {told}\n")
        sys.exit(INTERRUPTED)
    sys.exit(0)


OPTIONS = {
    "confidence": "--confidence",
    "draws": "--draws",
    "seed": "--seed",
    "speed": "--speed",
    "cells": "--cells",
    "presses": "--to",
    "tooling": "--tooling",
    "run": "--run",
    "tablets": "--tablets",
}
"""What the command line calls the arguments of the functions it asks."""


def _by_option(fault: Fault) -> Fault:
    """Return a fault of an argument as one of the option it came from."""
    return fault if fault.file else replace(fault, where=OPTIONS.get(fault.where, fault.where))


def run() -> NoReturn:
    """Run the command line as a process of its own.

    All is written when it ends, so the interpreter is not taken down piece by piece: that takes
    time, and an interruption that met it would show a traceback.
    """
    # Sums shared out over threads end in other last digits; the matrices here are small.
    os.environ.update(dict.fromkeys(THREADS, "1"))
    code: object = FAILED
    try:
        main()
    except SystemExit as ended:
        code = ended.code
    with contextlib.suppress(OSError, AttributeError):  # full, or closed
        sys.stderr.flush()
    os._exit(code if isinstance(code, int) else FAILED)


def _run(app: Callable[..., object]) -> None:
    """Run the commands and write out all they printed, whatever status they end with."""
    try:
        app(prog_name="scaleup")
    finally:
        sys.stdout.flush()
