"""Workbooks made to take all memory, and what a workbook written says of its writer."""

from __future__ import annotations

import csv
import io
import re
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook

from scaleup.errors import InputError
from scaleup.io import workbook_guard
from scaleup.io.run_table import read_runs
from scaleup.io.study import read_study
from scaleup.io.trial_sheet.columns import Value
from scaleup.io.trial_sheet.reading import SheetRow, read_trial_sheet
from scaleup.io.trial_sheet.writing import SheetText, csv_sheet, xlsx_sheet

MARRAM = Path(__file__).parents[2] / "examples" / "marram"
PLANNED: list[dict[str, Value]] = [
    {"run": f"T{number}", "purpose": "centre", "planned force": 15e3, "planned speed": 45.0}
    for number in range(1, 9)
]
TEXT = SheetText(("blend batch",), [("plan", "0123456789abcdef")], ("a plan",), "plan 01234567")


def _sheet_rows(path: Path) -> tuple[SheetRow, ...]:
    return read_trial_sheet(path, path.name).rows


TABLES: dict[str, tuple[str, Callable[[Path], object]]] = {
    "runs": ((MARRAM / "runs.csv").read_text(encoding="utf-8"), read_runs),
    "sheet": (csv_sheet(PLANNED, ["a sheet"]), _sheet_rows),
}
"""What a table holds as CSV, and what reads it."""
PART = "xl/worksheets/sheet1.xml"
END = b"</sheetData>"


def book_of(name: str) -> Workbook:
    """Return a table as a workbook."""
    text, _ = TABLES[name]
    rows = csv.reader(line for line in text.splitlines() if not line.startswith("#"))
    book = Workbook()
    for row in rows:
        book.worksheets[0].append(
            [float(cell) if re.fullmatch(r"[\d.]+", cell) else cell or None for cell in row]
        )
    return book


def saved(book: Workbook, path: Path) -> Path:
    book.save(path)
    return path


def edited(path: Path, part: str, change: Callable[[bytes], bytes]) -> Path:
    """Change one part of a workbook."""
    with zipfile.ZipFile(path) as whole:
        parts = {name: whole.read(name) for name in whole.namelist()}
    assert change(parts[part]) != parts[part]
    parts[part] = change(parts[part])
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as whole:
        for name, data in parts.items():
            whole.writestr(name, data)
    return path


@pytest.mark.parametrize("name", TABLES)
@pytest.mark.parametrize("cell", ["CXE20000", "XFD1048576", "A10002", "CW2"])
def test_a_far_cell_is_named(tmp_path: Path, name: str, cell: str) -> None:
    _, read = TABLES[name]
    book = book_of(name)
    book.worksheets[0][cell] = 1
    with pytest.raises(InputError, match=f"cell {cell}: found a cell beyond any table; allowed: "):
        read(saved(book, tmp_path / "t.xlsx"))


def _with_dimension(stated: bytes, part: bytes) -> bytes:
    return re.sub(rb'(?<=dimension ref=)"[^"]*"', stated, part)


@pytest.mark.parametrize("name", TABLES)
def test_far_cells_that_are_blank_and_stated_sizes_change_nothing(
    tmp_path: Path, name: str
) -> None:
    text, read = TABLES[name]
    (tmp_path / "t.csv").write_text(text, encoding="utf-8")
    whole = read(tmp_path / "t.csv")
    book = book_of(name)
    book.worksheets[0]["XFD9000"].number_format = "0.0"
    path = saved(book, tmp_path / "t.xlsx")
    assert len(read(path)) == len(whole)  # type: ignore[arg-type]
    for stated in (b'"A1:XFD1048576"', b'"A1:B2"'):
        edited(path, PART, partial(_with_dimension, stated))
        assert len(read(path)) == len(whole)  # type: ignore[arg-type]


BOMBS: dict[str, tuple[str, Callable[[bytes], bytes], str]] = {
    "cells in one row": (
        PART,
        lambda part: part.replace(END, b'<row r="99">' + b"<c/>" * 9_000_000 + b"</row>" + END),
        "more than 16384 elements c in a row",
    ),
    "rows": (
        PART, lambda part: part.replace(END, b"<row/>" * 200_000 + END), "more cells than a run",
    ),
    "depth": (
        PART,
        lambda part: part.replace(END, b"<a>" * 500_000 + b"</a>" * 500_000 + END),
        "elements nested too deep",
    ),
    "one text": (
        PART,
        lambda part: part.replace(
            END, b'<row><c t="inlineStr"><is><t>' + b"x" * 30_000_000 + b"</t></is></c></row>" + END
        ),
        "a text of more than 1000000 characters",
    ),
    "entities": (
        PART,
        lambda part: b'<!DOCTYPE x [<!ENTITY a "aaaa">]>' + part[part.index(b"<worksheet") :],
        "a document type",
    ),
    "size": (PART, lambda part: part + b" " * 61_000_000, "61 MB unpacked"),
    "row number": (
        PART,
        lambda part: part.replace(END, b'<row r="9999999999"><c><v>1</v></c></row>' + END),
        "no XLSX workbook",
    ),
    "styles": (
        "xl/styles.xml",
        lambda part: part.replace(b"</cellXfs>", b"<xf/>" * 3_000_000 + b"</cellXfs>"),
        "more than 16384 elements xf in a row",
    ),
}  # fmt: skip
"""Part: how it is changed, and what is said of it."""


@pytest.mark.parametrize("name", BOMBS)
def test_a_small_file_that_unpacks_to_a_large_one_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.setattr(workbook_guard, "ELEMENT_LIMIT", 100_000)  # the real one takes seconds
    part, change, said = BOMBS[name]
    path = edited(saved(book_of("runs"), tmp_path / "t.xlsx"), part, change)
    assert path.stat().st_size < 200_000
    with pytest.raises(InputError, match=said):
        read_runs(path)


MEASURE = """
import resource, sys
from pathlib import Path
import numpy, openpyxl, pandas
from scaleup.errors import InputError
from scaleup.io.run_table import read_runs

def peak():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024

read_runs(Path(sys.argv[1]))
before = peak()
for path in sys.argv[2:]:
    try:
        read_runs(Path(path))
        print("read", path)
    except InputError:
        pass
print(peak() - before)
"""


def test_what_is_refused_takes_no_memory(tmp_path: Path) -> None:
    """Found: 2.6 GB and a minute for a cell at CXE20000, all memory for one at the far corner."""
    good = saved(book_of("runs"), tmp_path / "good.xlsx")
    bad = []
    for cell in ("CXE20000", "XFD1048576"):
        book = book_of("runs")
        book.worksheets[0][cell] = 1
        bad.append(saved(book, tmp_path / f"{cell}.xlsx"))
    for name in ("cells in one row", "one text", "styles"):
        part, change, _ = BOMBS[name]
        bad.append(edited(saved(book_of("runs"), tmp_path / f"{name}.xlsx"), part, change))
    done = subprocess.run(
        [sys.executable, "-c", MEASURE, good, *bad], capture_output=True, text=True, check=True
    )
    (grown,) = done.stdout.splitlines()
    assert float(grown) < 60.0  # MB


def test_a_workbook_written_names_this_program_alone() -> None:
    data = xlsx_sheet(PLANNED, TEXT)
    with zipfile.ZipFile(io.BytesIO(data)) as whole:
        texts = {name: whole.read(name).decode() for name in whole.namelist()}
    for text in texts.values():
        told = re.sub(r"https?://[^\"<> ]+|application/[^\"]+", "", text).lower()
        for name in ("openpyxl", "microsoft", "office", "excel"):
            assert name not in told
    assert "<Application>scaleup</Application>" in texts["docProps/app.xml"]
    book = load_workbook(io.BytesIO(data))
    assert book.properties.creator == book.properties.lastModifiedBy == "scaleup"
    assert book.sheetnames == ["record", "runs", "samples", "tablets", "plan"]


def test_the_same_rows_give_the_same_bytes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Also on another day: no time of writing stands in the file."""
    once = xlsx_sheet(PLANNED, TEXT)
    later = time.time() + 400 * 86400.0
    monkeypatch.setattr(time, "time", lambda: later)
    monkeypatch.setattr(time, "localtime", lambda *_: time.gmtime(later))
    assert xlsx_sheet(PLANNED, TEXT) == once
    with zipfile.ZipFile(io.BytesIO(once)) as whole:
        assert {part.date_time for part in whole.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert b"dcterms" not in re.sub(rb'xmlns:\w+="[^"]*"', b"", whole.read("docProps/core.xml"))


def test_words_for_what_is_not_known_are_blank_in_a_workbook(tmp_path: Path) -> None:
    book = book_of("runs")
    book.worksheets[0]["D2"] = "#N/A"
    book.worksheets[0]["D3"] = "n/a"
    first, second, *_ = read_runs(saved(book, tmp_path / "t.xlsx"))
    assert first.weight is None
    assert second.weight is None
    assert read_study(MARRAM).lab.runs[0].weight is not None
