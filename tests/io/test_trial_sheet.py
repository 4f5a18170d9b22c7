"""The trial sheet: written as CSV and XLSX, locked but for its blanks, and read back."""

from __future__ import annotations

import io
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.utils import get_column_letter

from scaleup.errors import InputError
from scaleup.io.trial_sheet.columns import RUN_COLUMNS, TABLES, Value
from scaleup.io.trial_sheet.reading import SheetRow, TrialSheet, read_trial_sheet
from scaleup.io.trial_sheet.writing import (
    SheetText,
    csv_samples,
    csv_sheet,
    csv_tablets,
    spread_over_samples,
    xlsx_sheet,
)
from scaleup.model.defects import ON_TABLETS

ROWS: list[dict[str, Value]] = [
    {
        "run": "T1", "purpose": "start-up", "plan": "0123456789abcdef", "planned speed": 45.0,
        "planned start": 480.0, "planned force": 15240.0, "planned precompression": 2286.0,
        "tablets to sample": 10.0, "predicted thickness": 3.925, "lowest thickness": 3.9,
        "highest thickness": 3.95,
    },
    {"run": "T2", "purpose": "speed ladder", "planned speed": 75.0, "planned force": 15e3,
     "tablets to sample": 4.0},
]  # fmt: skip
TEXT = SheetText(("blend batch", "room"), [("plan", "0123456789abcdef")], ("Head", "   text"),
                 "A & B; plan 0123456789abcdef")  # fmt: skip
PLACES = {
    table: {column.name: number for number, column in enumerate(columns, start=1)}
    for table, columns in TABLES.items()
}
Typed = dict[str, dict[str, Any]]
"""What is typed into cells: by table, and by column with its line, such as `weight@3`."""


def cell_name(column: str, line: int, table: str = "runs") -> str:
    return f"{get_column_letter(PLACES[table][column])}{line}"


def book_of(rows: list[dict[str, Value]] | None = None) -> Workbook:
    return load_workbook(io.BytesIO(xlsx_sheet(ROWS if rows is None else rows, TEXT)))


def workbook(folder: Path, typed: Typed) -> Path:
    """Return a workbook with these cells typed in."""
    book = book_of()
    for table, cells in typed.items():
        for name, value in cells.items():
            column, _, line = name.partition("@")
            book[table][cell_name(column, int(line or 2), table)] = value
    book.save(folder / "sheet.xlsx")
    return folder / "sheet.xlsx"


def csv_files(folder: Path, typed: Typed) -> Path:
    """Return a CSV sheet with these cells typed in, its samples and tablets beside it."""
    files = {
        "runs": ("sheet.csv", csv_sheet), "samples": ("trial-samples.csv", csv_samples),
        "tablets": ("trial-tablets.csv", csv_tablets),
    }  # fmt: skip
    for table, (file, text) in files.items():
        lines = [line.split(",") for line in text(ROWS, []).splitlines()]
        for name, value in typed.get(table, {}).items():
            column, _, line = name.partition("@")
            lines[int(line or 2) - 1][PLACES[table][column] - 1] = str(value)
        told = "\n".join(",".join(cells) for cells in lines)
        (folder / file).write_text(f"{told}\n", encoding="utf-8")
    return folder / "sheet.csv"


def filled(folder: Path, typed: Typed, suffix: str = ".xlsx") -> Path:
    return workbook(folder, typed) if suffix == ".xlsx" else csv_files(folder, typed)


MEASURED: dict[str, Any] = {
    "elapsed": 9.5, "force": 15.1, "force SD": 0.21, "tip separation": 3.55, "feeder speed": 20,
    "weight": 401.3, "weight SD": 3.2, "thickness": 3.93, "breaking force": 171.0, "tablets": 12,
    "friability": 0.3, "capping": "no", "take-off": "Yes", "stops and deviations": "one stop",
    "note": "ran well",
}  # fmt: skip
WHOLE: Typed = {
    "runs": MEASURED,
    "samples": {"elapsed@3": 10.5, "force@3": 15.2, "hopper level@3": 60, "temperature@3": 22.5,
                "humidity@3": 41, "note@7": "belt slow"},
    "tablets": {"weight@2": 400.1, "thickness@2": 3.92, "breaking force@2": 168, "weight@15": 399},
}  # fmt: skip


def in_core_units(sheet: TrialSheet) -> None:
    """Hold a sheet read back against `WHOLE`."""
    first, second = sheet.rows
    assert first.number("force") == pytest.approx(15100.0)
    assert first.number("force SD") == pytest.approx(210.0)
    assert first.number("elapsed") == pytest.approx(570.0)
    assert first.number("planned start") == pytest.approx(480.0)
    assert first.number("planned force") == pytest.approx(15240.0)
    assert first.number("weight") == 401.3
    assert first.number("friability") == pytest.approx(0.003)
    assert first.number("tablets") == 12.0
    assert [first.text(name) for name in ("capping", "take-off", "dust")] == ["no", "yes", ""]
    assert first.text("plan") == "0123456789abcdef"
    assert first.text("stops and deviations") == "one stop"
    assert first.number("ejection force") is None
    assert second.number("weight") is None
    assert second.text("run") == "T2"
    middle, last = sheet.samples
    assert (middle.text("run"), middle.text("sample")) == ("T1", "middle")
    assert middle.number("temperature") == 22.5
    assert middle.number("hopper level") == pytest.approx(0.6)
    assert middle.number("elapsed") == pytest.approx(630.0)
    assert (last.text("run"), last.text("sample"), last.text("note")) == ("T2", "end", "belt slow")
    one, other = sheet.tablets
    assert (one.text("run"), one.text("sample"), one.number("tablet")) == ("T1", "start", 1.0)
    assert one.number("breaking force") == 168.0
    assert (other.text("run"), other.text("sample"), other.number("tablet")) == ("T2", "end", 4.0)
    assert other.number("thickness") is None


@pytest.mark.parametrize("suffix", [".csv", ".xlsx"])
def test_a_filled_sheet_is_read_back_in_core_units(tmp_path: Path, suffix: str) -> None:
    in_core_units(read_trial_sheet(filled(tmp_path, WHOLE, suffix), "sheet"))


@pytest.mark.skipif(shutil.which("soffice") is None, reason="no LibreOffice is installed")
def test_an_office_program_keeps_everything(tmp_path: Path) -> None:
    path = workbook(tmp_path, WHOLE)
    (tmp_path / "saved").mkdir()
    subprocess.run(
        ["soffice", "--headless", f"-env:UserInstallation=file://{tmp_path}/profile",
         "--convert-to", "xlsx", "--outdir", str(tmp_path / "saved"), str(path)],
        check=True, capture_output=True, timeout=180,
    )  # fmt: skip
    saved = tmp_path / "saved" / "sheet.xlsx"
    in_core_units(read_trial_sheet(saved))
    book = load_workbook(saved)
    assert book.sheetnames == ["record", "runs", "samples", "tablets", "plan"]
    for table, columns in TABLES.items():
        assert book[table].protection.sheet
        for column in columns:
            cell = book[table][cell_name(column.name, 2, table)]
            assert cell.protection.locked is not column.filled, column.name
    choices = {each.formula1 for each in book["runs"].data_validations.dataValidation}
    assert '"no,yes"' in choices


def test_a_run_table_alone_is_a_whole_sheet(tmp_path: Path) -> None:
    path = filled(tmp_path, {"runs": MEASURED}, ".csv")
    for file in ("trial-samples.csv", "trial-tablets.csv"):
        (tmp_path / file).unlink()
    sheet = read_trial_sheet(path)
    assert (len(sheet.rows), sheet.samples, sheet.tablets, sheet.plan) == (2, (), (), None)
    book = book_of()
    for name in ("record", "samples", "tablets", "plan"):
        del book[name]
    book.save(tmp_path / "runs.xlsx")
    sheet = read_trial_sheet(tmp_path / "runs.xlsx")
    assert (len(sheet.rows), sheet.samples, sheet.tablets) == (2, (), ())


MISTAKES: list[tuple[str, str, object, str]] = [
    ("runs", "weight", "4o1", "4o1"),
    ("runs", "weight", -3, "1 to"),
    ("runs", "weight SD", -3, "0.001 to 5000 mg"),
    ("runs", "thickness", 393.0, "0.1 to 50 mm"),
    ("runs", "tip separation", -1, "0.1 to 50 mm"),
    ("runs", "friability", 130, "0 to 100 %"),
    ("runs", "breaking force", "=A1", "="),
    ("runs", "capping", "maybe", "no or yes"),
    ("runs", "dust", 0, "no or yes"),
    ("runs", "tablets", 2.5, "whole number"),
    ("runs", "note", "=1+1", "plain text"),
    ("samples", "temperature", 295.0, "-20 to 80 °C"),
    ("samples", "humidity", 141, "0 to 100 %"),
    ("samples", "sample@2", "begin", "start or middle or end"),
    ("tablets", "weight", 4.0e6, "1 to 5e+04 mg"),
    ("tablets", "thickness", "thin", "a number in mm"),
]


@pytest.mark.parametrize(("table", "column", "typed", "word"), MISTAKES)
def test_a_typing_mistake_is_named_by_its_cell(
    tmp_path: Path, table: str, column: str, typed: object, word: str
) -> None:
    name = column.partition("@")[0]
    wrong: Typed = {**WHOLE, table: {"weight@2" if table == "tablets" else "note@2": "1",
                                     f"{name}@2": typed}}  # fmt: skip
    with pytest.raises(InputError) as caught:
        read_trial_sheet(filled(tmp_path, wrong), "sheet.xlsx")
    faults = [fault for fault in caught.value.faults if word in str(fault)]
    (fault,) = faults
    assert fault.file == "sheet.xlsx"
    assert fault.where == f"{table}, cell {cell_name(name, 2, table)}"


@pytest.mark.parametrize(
    ("table", "file"), [("runs", "sheet.csv"), ("tablets", "trial-tablets.csv")]
)
def test_a_mistake_in_a_csv_is_named_by_its_file(tmp_path: Path, table: str, file: str) -> None:
    with pytest.raises(InputError) as caught:
        read_trial_sheet(filled(tmp_path, {table: {"weight@2": "x"}}, ".csv"))
    (fault,) = caught.value.faults
    assert (fault.file, fault.where) == (file, f"cell {cell_name('weight', 2, table)}")


def test_a_value_knows_where_it_stands(tmp_path: Path) -> None:
    inside = read_trial_sheet(filled(tmp_path, WHOLE))
    assert inside.rows[0].where("weight") == f"runs, cell {cell_name('weight', 2)}"
    beside = read_trial_sheet(filled(tmp_path, WHOLE, ".csv"))
    assert beside.rows[0].where("weight") == f"cell {cell_name('weight', 2)}"
    assert beside.tablets[0].where("weight") == "trial-tablets.csv, cell D2"


def test_every_mistake_is_told_at_once(tmp_path: Path) -> None:
    wrong: Typed = {
        "runs": {"weight": "x", "thickness": "y"}, "samples": {"humidity@4": "z"},
        "tablets": {"weight@5": "w"},
    }  # fmt: skip
    with pytest.raises(InputError) as caught:
        read_trial_sheet(filled(tmp_path, wrong))
    assert len(caught.value.faults) == 4


@pytest.mark.parametrize("suffix", [".csv", ".xlsx"])
@pytest.mark.parametrize("table", ["samples", "tablets"])
def test_a_run_that_the_runs_lack_is_a_fault(tmp_path: Path, suffix: str, table: str) -> None:
    column = "weight" if table == "tablets" else "force"
    wrong: Typed = {table: {f"{column}@3": 15, "run@3": "T9"}}
    with pytest.raises(InputError) as caught:
        read_trial_sheet(filled(tmp_path, wrong, suffix))
    (fault,) = caught.value.faults
    assert fault.where.endswith("cell A3")
    assert 'the run "T9"' in str(fault)
    assert "T1, T2" in str(fault)


def with_heading(folder: Path, table: str, heading: str, value: str = "Q 7") -> Path:
    """Return a workbook with one more column, filled in on its first row."""
    book = book_of()
    book["runs"][cell_name("weight", 2)] = 401.0
    place = len(TABLES[table]) + 1
    book[table].cell(1, place, heading)
    book[table].cell(2, place, value)
    book.save(folder / "sheet.xlsx")
    return folder / "sheet.xlsx"


@pytest.mark.parametrize("heading", ["operator", "disintegration [s]", "lot", "dwell"])
def test_a_column_that_was_added_is_kept(tmp_path: Path, heading: str) -> None:
    sheet = read_trial_sheet(with_heading(tmp_path, "runs", heading))
    assert sheet.rows[0].extra == {heading: "Q 7"}
    assert sheet.rows[1].extra == {}
    assert heading not in sheet.rows[0].values
    further = read_trial_sheet(with_heading(tmp_path, "samples", heading))
    assert [row.extra for row in further.samples] == [{heading: "Q 7"}]


@pytest.mark.parametrize(
    ("heading", "mend"),
    [
        ("hardness", '"breaking force [N]"'),
        ("hardness [kp]", 'Write "breaking force [kp]".'),
        ("Weight (mg)", 'Write "weight [mg]"'),
        ("thicknes [mm]", "Did you mean thickness"),
        ("capping seen", "Did you mean capping?"),
        ("remarks", "Did you mean note?"),
        ("weight [mg]", ""),
        ("temperature [F]", "temperature"),
        (" ", ""),
    ],
)
def test_a_column_misspelt_is_refused_with_its_mend(
    tmp_path: Path, heading: str, mend: str
) -> None:
    table = "samples" if heading.startswith("temperature") else "runs"
    if heading.startswith("temperature"):
        book = book_of()
        book[table][cell_name("temperature", 1, table)] = heading
        book.save(tmp_path / "sheet.xlsx")
        path = tmp_path / "sheet.xlsx"
    else:
        path = with_heading(tmp_path, table, heading)
    with pytest.raises(InputError) as caught:
        read_trial_sheet(path)
    (fault,) = caught.value.faults
    assert fault.where.startswith(f"{table}, cell ")
    assert fault.where.endswith("1")
    assert mend in str(fault)


@pytest.mark.parametrize("unit", ["°C", "C"])
def test_a_temperature_is_in_degrees(tmp_path: Path, unit: str) -> None:
    path = workbook(tmp_path, WHOLE)
    book = load_workbook(path)
    book["samples"][cell_name("temperature", 1, "samples")] = f"Temperature [{unit}]"
    book.save(path)
    assert read_trial_sheet(path).samples[0].number("temperature") == 22.5


@pytest.mark.parametrize("table", ["runs", "samples", "tablets"])
def test_a_table_without_its_runs_is_refused(tmp_path: Path, table: str) -> None:
    book = load_workbook(workbook(tmp_path, WHOLE))
    book[table].delete_cols(1)
    book.save(tmp_path / "sheet.xlsx")
    with pytest.raises(InputError) as caught:
        read_trial_sheet(tmp_path / "sheet.xlsx")
    assert caught.value.faults[0].where == f"{table}, row 1"
    assert "no column run" in str(caught.value)


def test_decimal_commas_between_semicolons(tmp_path: Path) -> None:
    path = filled(tmp_path, WHOLE, ".csv")
    for each in tmp_path.glob("*.csv"):
        text = each.read_text(encoding="utf-8").replace(",", ";").replace(".", ",")
        each.write_text(text, encoding="utf-8")
    in_core_units(read_trial_sheet(path))


def test_tablets_are_spread_over_the_samples(tmp_path: Path) -> None:
    assert [moment for moment, _ in spread_over_samples(2)] == ["start", "middle"]
    sheet = book_of()["tablets"]
    cells = [tuple(cell.value for cell in row[:3]) for row in sheet.iter_rows(min_row=2)]
    moments = [moment for run, moment, _ in cells if run == "T1"]
    assert moments == ["start"] * 4 + ["middle"] * 3 + ["end"] * 3
    assert [number for run, _, number in cells if run == "T1"] == list(range(1, 11))
    assert len(cells) == 14


@pytest.mark.slow
def test_as_many_tablets_as_a_plan_may_ask_for_are_read(tmp_path: Path) -> None:
    rows: list[dict[str, Value]] = [
        {"run": f"T{number}", "planned force": 15e3, "tablets to sample": 1000.0}
        for number in range(1, 13)
    ]
    path = tmp_path / "sheet.xlsx"
    path.write_bytes(xlsx_sheet(rows, TEXT))
    assert len(read_trial_sheet(path).rows) == 12


@pytest.mark.parametrize("table", TABLES)
def test_predictions_are_locked_and_blanks_are_not(table: str) -> None:
    sheet = book_of()[table]
    assert sheet.protection.sheet
    for column in TABLES[table]:
        cell = sheet[cell_name(column.name, 2, table)]
        assert cell.protection.locked is not column.filled, column.name
        assert (cell.fill.fgColor.rgb == "00FFF6D6") is column.filled
        assert sheet[cell_name(column.name, 1, table)].value == column.heading


def test_the_record_has_blanks_for_what_only_the_press_room_knows() -> None:
    sheet = book_of()["record"]
    assert [sheet.cell(line, 1).value for line in (2, 3)] == ["blend batch", "room"]
    assert [sheet.cell(line, 2).protection.locked for line in (2, 3, 6)] == [False, False, True]
    assert (sheet["A6"].value, sheet["B6"].value) == ("plan", "0123456789abcdef")


@pytest.mark.parametrize("name", ["record", "runs", "samples", "tablets", "plan"])
def test_every_sheet_prints_on_a4_with_the_plan_at_its_foot(name: str) -> None:
    sheet: Any = book_of()[name]
    assert (sheet.page_setup.paperSize, sheet.page_setup.orientation) == (9, "landscape")
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert sheet.freeze_panes
    assert sheet.oddFooter.left.text == "A && B; plan 0123456789abcdef"
    assert "&P" in sheet.oddFooter.right.text
    width = sum(each.width for each in sheet.column_dimensions.values())
    assert width / sheet.page_setup.fitToWidth <= 150.0  # else the letters get too small to read


def test_a_long_line_has_the_height_of_its_lines() -> None:
    text = replace(TEXT, plan=("Head", f"   {'word ' * 60}"))
    book: Any = load_workbook(io.BytesIO(xlsx_sheet(ROWS, text)))
    heights = [book["plan"].row_dimensions[line].height for line in (1, 2)]
    assert heights[1] >= 3 * heights[0]
    longest = max(len(column.heading) for column in RUN_COLUMNS)
    assert book["runs"].row_dimensions[1].height >= 15.0 * longest / 13.0


def test_a_choice_is_a_drop_down() -> None:
    sheet = book_of()["runs"]
    lists = [each for each in sheet.data_validations.dataValidation if each.type == "list"]
    assert {choice.formula1 for choice in lists} == {'"no,yes"'}
    cells = {str(choice.sqref) for choice in lists}
    assert cells == {f"{cell_name(name, 2)}:{cell_name(name, 3)}" for name in ON_TABLETS}


@pytest.mark.parametrize("start", ["=", "+", "-", "@"])
def test_text_never_becomes_a_formula(start: str) -> None:
    rows: list[dict[str, Value]] = [{"run": f"{start}1+1", "purpose": "x"}]
    text = SheetText((f"{start}3",), [("plan", f"{start}4")], (f"{start}2",), f"{start}5")
    book = load_workbook(io.BytesIO(xlsx_sheet(rows, text)))
    for sheet, cell in (("runs", "A2"), ("plan", "A1"), ("record", "A2"), ("record", "B5")):
        assert book[sheet][cell].data_type == "s"
    assert csv_sheet(rows, []).splitlines()[1].startswith(f"'{start}1+1")


def test_every_column_of_the_runs_is_read(tmp_path: Path) -> None:
    """No column is written that reading does not know."""
    typed: dict[str, Any] = {}
    for column in RUN_COLUMNS:
        if column.filled:
            typed[column.name] = "yes" if column.choices else 1.0 if column.core else "text"
    row: SheetRow = read_trial_sheet(filled(tmp_path, {"runs": typed})).rows[0]
    assert {column.name for column in RUN_COLUMNS if column.filled} <= set(row.values)
