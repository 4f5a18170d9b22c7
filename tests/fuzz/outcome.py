"""The command line in this process, and what must be true of whatever it leaves behind."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from pathlib import Path
from typing import NoReturn
from unittest import mock
from xml.etree import ElementTree

import openpyxl

from scaleup.cli import main
from scaleup.io.places import ENVIRONMENT
from scaleup.io.study import read_study
from tests.fuzz.targets import Attempt, trouble

DONE, AT_FAULT, SEVERE = 0, 2, 3
NO_NUMBER = re.compile(r"(?<!\w)[-+]?(nan|inf|infinity)(?!\w)", re.IGNORECASE)
LIVE = ("<script>alert", "<b onload")
SLOW = 30.0
"""s of the processor; a whole report with its trial takes ten."""
OLD = b"old"
"""What a file holds that was there before."""


def tried(words: list[str], room: Path) -> Attempt:
    """Return what a command did; files of the same name as asked for hold ``OLD`` or are absent."""
    ended: list[tuple[int, str, str]] = []
    own = {ENVIRONMENT: str(room / "profiles")} if (room / "profiles").is_dir() else {}
    (room / "words.json").write_text(json.dumps(words))
    with mock.patch.dict(os.environ, own):
        told = trouble(lambda: ended.append(run(words)), SLOW)
    if told is not None:
        return Attempt(f"{words}: {told}", answered=False)
    status, out, err = ended[0]
    wrong = next(_wrong(words, room, status, out, err), None)
    shown = None if wrong is None else f"{words}: {wrong}\n{err[-300:]}"
    return Attempt(shown, status in (DONE, SEVERE))


def run(words: list[str]) -> tuple[int, str, str]:
    """Return the exit status, standard output and standard error of the command line."""
    out, err = _stream(), _stream()
    with (
        mock.patch.object(sys, "argv", ["scaleup", *words]),
        mock.patch.object(os, "_exit", _ended),
        redirect_stdout(out),
        redirect_stderr(err),
    ):
        try:
            main()
        except SystemExit as ended:
            code = ended.code
    return int(str(code)), _text(out), _text(err)


def _ended(code: int) -> NoReturn:
    raise SystemExit(code)


def _stream() -> io.TextIOWrapper:
    return io.TextIOWrapper(io.BytesIO(), encoding="utf-8")


def _text(stream: io.TextIOWrapper) -> str:
    stream.flush()
    buffer = stream.buffer
    assert isinstance(buffer, io.BytesIO)
    return buffer.getvalue().decode("utf-8")


def _wrong(words: list[str], room: Path, status: int, out: str, err: str) -> Iterator[str]:
    """Yield what is wrong with a status, with what was printed and with the files written."""
    no_plan = words[:2] == ["trial", "plan"]
    if status not in (DONE, AT_FAULT, *[SEVERE] * ("--strict" in words or no_plan)):
        yield f"exit status {status}"
    if status == AT_FAULT and (out or not err):
        yield f"a fault with {out[:200]!r} on standard output, {err[:200]!r} beside it"
    for text in (out, err):
        if any(not (char.isprintable() or char in "\n\u2028") for char in text):
            yield f"a control character: {text!r}"
    if status != AT_FAULT:
        yield from _wrong_screen(words, room, out)
    yield from _wrong_files(room, status)


def _wrong_screen(words: list[str], room: Path, out: str) -> Iterator[str]:
    if "--json" in words:
        try:
            json.loads(out, parse_constant=_refused)
        except ValueError as error:
            yield f"JSON: {error}: {out[:200]!r}"
    found = NO_NUMBER.search(out)
    if found and not _given(words, room):
        yield f"{found[0]!r} on the screen: {out[max(found.start() - 200, 0) : found.end() + 40]!r}"


def _refused(name: str) -> NoReturn:
    raise ValueError(name)


def _given(words: list[str], room: Path) -> bool:
    """Return whether the input itself has a word that is no number."""
    texts = [path.read_text(errors="replace") for path in room.glob("study/**/*.*ml")]
    texts += [path.read_text(errors="replace") for path in room.glob("**/*.csv")]
    return any(NO_NUMBER.search(text) for text in (*texts, *words))


def _wrong_files(room: Path, status: int) -> Iterator[str]:
    parts = [path.name for path in room.rglob("*.part")]
    if parts:
        yield f"left behind: {parts}"
    made = room / "made"
    for path in sorted(each for each in made.glob("*") if each.is_file()):
        data = path.read_bytes()
        if data == OLD:
            continue
        if status == AT_FAULT:
            yield f"{path.name} was written beside a fault"
        if path.suffix in WHOLE:
            with _telling(path.name) as wrong:
                WHOLE[path.suffix](path)
            yield from wrong
        text = data.decode(errors="replace")
        yield from (
            f"{path.name} holds {live}" for live in LIVE if path.suffix == ".html" and live in text
        )
    yield from _wrong_study(made / "study")


@contextmanager
def _telling(name: str) -> Iterator[list[str]]:
    """Yield a list that what is raised is told in."""
    wrong: list[str] = []
    try:
        yield wrong
    except (AssertionError, ValueError, ElementTree.ParseError) as error:
        wrong.append(f"{name}: {type(error).__name__}: {error}")


def _wrong_study(folder: Path) -> Iterator[str]:
    """Yield what is wrong with a study that was written."""
    if (folder / "study.toml").is_file() and not (folder / "old").exists():
        told = trouble(lambda: read_study(folder))
        if told is not None:
            yield f"the study written: {told}"
        with _telling("the study written") as wrong:
            assert _readable(folder), "cannot be read back"
        yield from wrong


def _readable(folder: Path) -> bool:
    read: list[object] = []
    trouble(lambda: read.append(read_study(folder)))
    return bool(read)


def _page(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert text.rstrip().endswith("</html>"), "cut short"
    drawn = re.findall(r"<svg.*?</svg>", text, re.DOTALL)
    found = [each for svg in drawn for each in NO_NUMBER.findall(re.sub(r">[^<]*<", "><", svg))]
    assert not found, f"{found} in a picture"


def _drawing(path: Path) -> None:
    root = ElementTree.fromstring(path.read_bytes())  # noqa: S314  our own picture
    bad = [
        value for each in root.iter() for value in each.attrib.values() if NO_NUMBER.search(value)
    ]
    assert not bad, f"{bad[:3]} in the picture"


def _image(path: Path) -> None:
    data = path.read_bytes()
    assert data.startswith(b"\x89PNG"), "no PNG"
    assert data[-8:-4] == b"IEND", "cut short"


def _table(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    lines = [line for line in text.splitlines(keepends=True) if not line.startswith("#")]
    rows = list(csv.reader(lines, strict=True))
    assert rows, "empty"
    assert len({len(row) for row in rows}) == 1, "rows of different width"
    assert not [cell for row in rows for cell in row if NO_NUMBER.fullmatch(cell)], "no number"


def _workbook(path: Path) -> None:
    book = openpyxl.load_workbook(path)
    assert book.worksheets, "no sheet"


WHOLE: dict[str, Callable[[Path], None]] = {
    ".html": _page, ".htm": _page, ".svg": _drawing, ".png": _image, ".csv": _table,
    ".xlsx": _workbook,
}  # fmt: skip
"""Ending: what asserts that the file is whole."""
