"""The command line: a thin face on the library, one file for each command."""

from __future__ import annotations

import sys
from typing import NoReturn

from scaleup.errors import InputError

INPUT_AT_FAULT = 2
FAILED = 1
INTERRUPTED = 130


def main() -> NoReturn:
    """Run the command line; a fault of the input ends with status 2 and no traceback."""
    from scaleup.cli.app import app  # noqa: PLC0415  the faults above must not wait for it

    try:
        app(prog_name="scaleup")
    except InputError as error:
        for fault in error.faults:
            sys.stderr.write(f"scaleup: {fault}\n")
        sys.exit(INPUT_AT_FAULT)
    except ArithmeticError as error:
        sys.stderr.write(f"scaleup: the calculation failed: {error}\n")
        sys.exit(FAILED)
    except KeyboardInterrupt:
        sys.stderr.write("scaleup: interrupted; nothing was written\n")
        sys.exit(INTERRUPTED)
    sys.exit(0)
