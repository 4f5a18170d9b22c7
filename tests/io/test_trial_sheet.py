"""The trial sheet: written as CSV and XLSX, locked but for its blanks, and read back."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from openpyxl.utils import get_column_letter

from scaleup.errors import InputError
from scaleup.io.trial_sheet import (
    COLUMNS,
    SheetRow,
    Value,
    csv_sheet,
    read_trial_sheet,
    xlsx_sheet,
)

ROWS: list[dict[str, Value]] = [
    {
        "run": "T1", "purpose": "start-up", "planned speed": 45.0, "planned force": 15240.0,
        "planned precompression": 2286.0, "tablets to sample": 10.0,
        "predicted thickness": 3.925, "lowest thickness": 3.9, "highest thickness": 3.95,
    },
    {"run": "T2", "purpose": "speed ladder", "planned speed": 75.0, "planned force": 15e3},
]  # fmt: skip
PLACES = {column.name: number for number, column in enumerate(COLUMNS, start=1)}


def cell_name(column: str, line: int) -> str:
    return f"{get_column_letter(PLACES[column])}{line}"


def filled(folder: Path, values: dict[str, Any], suffix: str = ".xlsx") -> Path:
    """Return a sheet whose first run has these cells typed in."""
    path = folder / f"sheet{suffix}"
    if suffix == ".xlsx":
        book = load_workbook(io.BytesIO(xlsx_sheet(ROWS, {"plan": ["one"]})))
        for name, value in values.items():
            book["runs"][cell_name(name, 2)] = value
        book.save(path)
        return path
    lines = csv_sheet(ROWS, ["a sheet"]).splitlines()
    cells = lines[2].split(",")
    for name, value in values.items():
        cells[PLACES[name] - 1] = str(value)
    lines[2] = ",".join(cells)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


MEASURED: dict[str, Any] = {
    "force": 15.1, "weight": 401.3, "thickness": 3.93, "breaking force": 171.0,
    "tablets": 12, "friability": 0.3, "capping seen": "no", "note": "ran well",
}  # fmt: skip


@pytest.mark.parametrize("suffix", [".csv", ".xlsx"])
def test_a_filled_sheet_is_read_back_in_core_units(tmp_path: Path, suffix: str) -> None:
    first, second = read_trial_sheet(filled(tmp_path, MEASURED, suffix), "sheet")
    assert first.number("force") == pytest.approx(15100.0)
    assert first.number("planned force") == pytest.approx(15240.0)
    assert first.number("weight") == 401.3
    assert first.number("friability") == pytest.approx(0.003)
    assert first.number("tablets") == 12.0
    assert first.text("capping seen") == "no"
    assert first.text("note") == "ran well"
    assert first.number("ejection force") is None
    assert second.number("weight") is None
    assert second.text("run") == "T2"


def rows_of(path: Path) -> tuple[SheetRow, ...]:
    return read_trial_sheet(path, path.name)


@pytest.mark.parametrize(
    ("column", "typed", "word"),
    [
        ("weight", "4o1", "4o1"),
        ("weight", -3, "1 to"),
        ("thickness", 393.0, "0.1 to 50 mm"),
        ("breaking force", "=A1", "="),
        ("capping seen", "maybe", "no or yes"),
        ("tablets", 2.5, "whole number"),
        ("note", "=1+1", "plain text"),
    ],
)
def test_a_typing_mistake_is_named_by_its_cell(
    tmp_path: Path, column: str, typed: object, word: str
) -> None:
    with pytest.raises(InputError) as caught:
        rows_of(filled(tmp_path, {**MEASURED, column: typed}))
    (fault,) = caught.value.faults
    assert fault.where == f"cell {cell_name(column, 2)}"
    assert word in str(fault)


def test_every_mistake_is_told_at_once(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        rows_of(filled(tmp_path, {"weight": "x", "thickness": "y", "speed": "z"}))
    assert len(caught.value.faults) == 3


def test_decimal_commas_between_semicolons(tmp_path: Path) -> None:
    path = filled(tmp_path, MEASURED, ".csv")
    lines = path.read_text(encoding="utf-8").splitlines()
    lines = [line if line.startswith("#") else line.replace(",", ";") for line in lines]
    lines = [lines[0], *[line.replace(".", ",") for line in lines[1:]]]
    path.write_text("\n".join(lines), encoding="utf-8")
    first, _ = rows_of(path)
    assert first.number("thickness") == pytest.approx(3.93)


def test_predictions_are_locked_and_blanks_are_not() -> None:
    sheet = load_workbook(io.BytesIO(xlsx_sheet(ROWS, {})))["runs"]
    assert sheet.protection.sheet
    for column in COLUMNS:
        cell = sheet[cell_name(column.name, 2)]
        assert cell.protection.locked is not column.filled, column.name
        assert sheet[cell_name(column.name, 1)].value == column.heading


def test_a_choice_is_a_drop_down() -> None:
    sheet = load_workbook(io.BytesIO(xlsx_sheet(ROWS, {})))["runs"]
    lists = [each for each in sheet.data_validations.dataValidation if each.type == "list"]
    (choice,) = lists
    assert choice.formula1 == '"no,yes"'
    assert str(choice.sqref) == f"{cell_name('capping seen', 2)}:{cell_name('capping seen', 3)}"


@pytest.mark.parametrize("start", ["=", "+", "-", "@"])
def test_text_never_becomes_a_formula(start: str) -> None:
    rows: list[dict[str, Value]] = [{"run": f"{start}1+1", "purpose": "x"}]
    sheet = load_workbook(io.BytesIO(xlsx_sheet(rows, {"plan": [f"{start}2"]})))
    assert sheet["runs"]["A2"].data_type == "s"
    assert sheet["plan"]["A1"].data_type == "s"
    assert csv_sheet(rows, []).splitlines()[1].startswith(f"'{start}1+1")
