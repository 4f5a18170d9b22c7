"""A page printed to PDF by a browser, where one is found."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path

from scaleup.errors import Fault, InputError
from scaleup.io.reading_gate import read_bytes
from scaleup.io.writing import write_whole

BROWSERS = ("chromium", "chromium-browser")
"""Programs looked for, by the names of their executables."""
SECONDS = 120
PAGES_LIMIT = 200_000_000
"""Bytes of the largest PDF taken from a browser."""


def browser() -> str | None:
    """Return the path of a browser that prints, None if none is found."""
    return next((path for name in BROWSERS if (path := shutil.which(name))), None)


def printed(page: str) -> bytes:
    """Return a page as PDF.

    Raises
    ------
    InputError
        If no browser is found, or it does not print.
    """
    program = browser()
    if program is None:
        allowed = "chromium on the search path"
        mend = "Leave out --pdf and print the page from any browser."
        raise InputError(Fault("", "--pdf", "no browser", allowed, mend))
    with tempfile.TemporaryDirectory() as folder:
        source, target = Path(folder) / "page.html", Path(folder) / "page.pdf"
        write_whole(source, page)
        options = ("--headless=new", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer")
        done = subprocess.run(  # noqa: S603  the program was found on the search path
            [program, *options, f"--user-data-dir={folder}/profile", f"--print-to-pdf={target}",
             source.as_uri()],
            capture_output=True, check=False, timeout=SECONDS,
        )  # fmt: skip
        if not target.exists():
            told = done.stderr.decode(errors="replace").strip().splitlines()[-1:] or ["no reason"]
            raise InputError(Fault("", "--pdf", f"a browser that failed ({told[0][:200]})", "PDF"))
        return read_bytes(target, "--pdf", PAGES_LIMIT)
