"""What is said of a run table that is wrong, as CSV and as XLSX."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from scaleup.errors import InputError
from scaleup.io.run_table import read_runs

CSV = [
    ("run,force\na,10\n",
     ('line 1, column force: found no unit; allowed: a force with its unit in square brackets. '
     'Write "force [kN]".')),
    ("run,force [mm]\na,10\n",
     ('line 1, column force: found the unit "mm", which does not measure a force; allowed: a unit '
     'of force. Write "force [kN]".')),
    ("run,force [kN],thicknes [mm]\na,10,4\n",
     ('line 1, column thicknes [mm]: found the unknown column "thicknes [mm]"; allowed: the '
     "columns run, press, made on, trial, tablets, batch, revolutions, seen, note, ")),
    ("run,force [kN],thicknes [mm]\na,10,4\n", "Did you mean thickness or in-die thickness?"),
    ("run,force [kN],Force [N]\na,10,4\n",
     "line 1, column Force [N]: found a second column of this name; allowed: each column once"),
    ("run,force [kN],Hardness [kp]\na,10,9\n",
     ('line 1, column Hardness [kp]: found the unknown column "Hardness [kp]"; allowed: the '
     "columns run, press,")),
    ("run,force [kN],Hardness [kp]\na,10,9\n", 'Write "breaking force [kp]".'),
    ("run,force [kN],hardness\na,10,9\n", 'Did you mean "breaking force [N]"?'),
    ("run,Force (kgf)\na,10\n",
     'Write "force [kgf]": the unit stands in square brackets.'),
    ("run,force_kN\na,10\n", 'Write "force [kN]": the unit stands in square brackets.'),
    ("run,force [kN],Crushing strength (kp)\na,10,9\n",
     'Write "breaking force [kp]": the unit stands in square brackets.'),
    ("run,force [kN],comment\na,10,x\n", "Did you mean note?"),
    ("run,force [ton]\na,10\n",
     ('column force: found the unit "ton", of which there are several: tf is the metric one '
     "(9.807 kN), stonf the short one (8.896 kN); allowed: a unit of force.")),
    ("run,force [KN]\na,10\n", 'found the unknown unit "KN" (did you mean kN?); allowed:'),
    ("run,force [kN]\n" + "a,x\n" * 9,
     'lines 2 to 10, column force: found "x"; allowed: a number in kN'),
    ("run,force [kN]\na,5000\nb,1\nc,6000\n",
     "lines 2 and 4, column force: found 5000 kN, 6000 kN; allowed: 0.01 to 1000 kN."),
    ("run [mm],force [kN]\na,10\n",
     'line 1, column run [mm]: found the unit "mm"; allowed: run, without a unit'),
    ("run,force [kN],\na,10,5\n", "line 1, column number 3: found cells without a heading"),
    ("run,weight [mg]\na,400\n",
     'line 1: found no column force; allowed: a column headed "force [kN]"'),
    ("run,force [kN]\na,ten\n", 'line 2, column force: found "ten"; allowed: a number in kN'),
    ("run,force [kN]\na,nan\n", 'line 2, column force: found "nan"; allowed: a number in kN'),
    ("run,force [kN]\na,1e999\n", "line 2, column force: found inf kN; allowed: 0.01 to 1000 kN"),
    ("run,force [kN]\na,-5\n", "line 2, column force: found -5 kN; allowed: 0.01 to 1000 kN"),
    ("run,force [kN]\na,0\n", "line 2, column force: found 0 kN; allowed: 0.01 to 1000 kN"),
    ("run,force [kN]\na,5000\n",
     ("line 2, column force: found 5000 kN; allowed: 0.01 to 1000 kN. Check the number and the "
     "unit of the column.")),
    ("run,force [kN],hold [s]\na,5,-1\n",
     "line 2, column hold: found -1 s; allowed: 0, or 0.0001 to 3.6e+04 s"),
    ("run,force [kN],thickness [mm]\na,5,80\n",
     "line 2, column thickness: found 80 mm; allowed: 0.1 to 50 mm"),
    ("run,force [kN]\na,\nb,5\n",
     "line 2, column force: found a blank cell; allowed: the peak force of the run"),
    ("run,force [kN]\n,5\n", "line 2, column run: found a blank cell; allowed: a name for the run"),
    ("run,force [kN]\na\x1b[2J,5\n",
     'line 2, column run: found "a\\x1b[2J"; allowed: up to 120 printable characters'),
    ("run,force [kN]\na\u2028b,5\n", "line 2, column run: found"),
    ("run,force [kN]\n=1+1,5\n", "line 2, column run: found a formula; allowed: plain text"),
    ("run,force [kN],press\na,5,pilot\n",
     'line 2, column press: found "pilot"; allowed: lab or production'),
    ("run,force [kN],press\na,5,production\n",
     "line 2, column speed: found no speed; allowed: the turret speed of a production run"),
    ("run,force [kN],tablets\na,5,0\n",
     'line 2, column tablets: found "0"; allowed: a whole number, 1 to 9999'),
    ("run,force [kN]\na,5,6\n",
     ("line 2: found 3 cells; allowed: 2 cells, one for each heading. Part the cells by semicolons "
     "if you write a decimal comma.")),
    ("run,force [kN],hold [s]\na,5\nb,5,1\nc,5\nd,6\n",
     ("line 2 and 2 more lines: found 2 cells; allowed: 3 cells, one for each heading. Leave a "
     "cell empty where nothing is known.")),
    ("run,force [kN]\na,5,6\nb\n", "line 3: found 1 cell;"),
    ('run,force [kN]\na,"5,5"\n',
     ('line 2, column force: found "5,5"; allowed: a number in kN with "." as decimal sign. Part '
     "the cells by semicolons")),
    ("run;force [kN]\na;5,5\nb;5.5\n",
     'line 3, column force: found "5.5"; allowed: a number in kN with "," as decimal sign'),
    ('run,force [kN]\n"a,5\n', "line 2: found a line that cannot be parted into cells"),
    ("# only a comment\n\n", "found an empty table; allowed: a line of headings and at least one"),
    ("run,force [kN]\n", "found no rows; allowed: a line of headings and at least one row"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "said"), CSV)
def test_what_is_said_of_a_csv_table(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "runs.csv"
    path.write_bytes(text.encode())
    with pytest.raises(InputError) as caught:
        read_runs(path)
    assert "runs.csv: " in str(caught.value)
    assert said in str(caught.value)


def test_a_heading_that_was_meant_is_not_missed_as_well(tmp_path: Path) -> None:
    path = tmp_path / "runs.csv"
    path.write_text("run,Force (kN)\na,10\n")
    with pytest.raises(InputError) as caught:
        read_runs(path)
    assert len(caught.value.faults) == 1


def test_every_fault_is_told_at_once_up_to_twenty(tmp_path: Path) -> None:
    path = tmp_path / "runs.csv"
    unknown = "".join(f",x{number}" for number in range(30))
    path.write_text(f"run,force [kN]{unknown}\n" + f"a,1{',2' * 30}\n")
    with pytest.raises(InputError) as caught:
        read_runs(path)
    assert len(caught.value.faults) == 21
    last = "runs.csv: found 10 more faults; allowed: none. Mend these first."
    assert str(caught.value.faults[-1]) == last


def test_a_table_that_is_too_large_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "runs.csv"
    path.write_text("run,force [kN]\n" + "a,1\n" * 10_001)
    with pytest.raises(InputError, match="found 10001 rows and 2 columns; allowed: up to 10000"):
        read_runs(path)
    path.write_text("#" * 5_000_001)
    with pytest.raises(InputError, match=r"found 5.0 MB; allowed: up to 5 MB"):
        read_runs(path)


def test_another_kind_of_file_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "runs.ods"
    path.write_bytes(b"")
    with pytest.raises(InputError, match=r'the ending ".ods"; allowed: a table ending in .csv or'):
        read_runs(path)


def test_line_ends_of_every_kind_count_as_lines(tmp_path: Path) -> None:
    path = tmp_path / "runs.csv"
    for end in ("\n", "\r\n", "\r"):
        path.write_bytes(f"run,force [kN]{end}{end}# note{end}a,5{end}".encode())
        assert [run.line for run in read_runs(path)] == [4]


def workbook(
    path: Path, *rows: list[Any], title: str = "Sheet", more: tuple[str, ...] = ()
) -> Path:
    with pd.ExcelWriter(path, engine="openpyxl") as book:
        pd.DataFrame(list(rows), dtype=object).to_excel(
            book, sheet_name=title, header=False, index=False
        )
        for other in more:
            pd.DataFrame([["x"]]).to_excel(book, sheet_name=other, header=False, index=False)
    return path


def with_stored_value(path: Path, value: str) -> None:
    """Store the value of the one formula of a workbook, as a spreadsheet program does."""
    with zipfile.ZipFile(path) as whole:
        parts = {name: whole.read(name) for name in whole.namelist()}
    sheet = parts["xl/worksheets/sheet1.xml"].decode()
    before, after = sheet.split("</f>", 1)
    stored = after.replace("<v />", f"<v>{value}</v>", 1).replace("<v/>", f"<v>{value}</v>", 1)
    assert stored != after
    parts["xl/worksheets/sheet1.xml"] = f"{before}</f>{stored}".encode()
    with zipfile.ZipFile(path, "w") as whole:
        for name, part in parts.items():
            whole.writestr(name, part)


HEAD = ["run", "force [kN]"]


def test_a_formula_counts_only_with_its_stored_value(tmp_path: Path) -> None:
    path = workbook(tmp_path / "runs.xlsx", HEAD, ["a", "=5+5"])
    with pytest.raises(InputError) as caught:
        read_runs(path)
    assert str(caught.value) == (
        "runs.xlsx: line 2, column force: found the formula =5+5 without a stored value; allowed: "
        "a number in kN. Open the workbook, let it calculate, and save it; or paste the values."
    )
    with_stored_value(path, "10")
    assert read_runs(path)[0].force == 10e3


def test_a_sheet_keeps_its_line_numbers_and_blank_rows(tmp_path: Path) -> None:
    path = workbook(tmp_path / "runs.xlsx", [None, None], HEAD, [None, None], [7, 5.5], ["b", 6])
    assert [(run.name, run.line) for run in read_runs(path)] == [("7", 4), ("b", 5)]


def test_one_of_several_sheets_is_called_runs(tmp_path: Path) -> None:
    path = workbook(tmp_path / "runs.xlsx", HEAD, ["a", 5], title="Runs", more=("other",))
    assert read_runs(path)[0].name == "a"
    path = workbook(tmp_path / "two.xlsx", HEAD, ["a", 5], more=("other",))
    with pytest.raises(InputError, match="found 2 sheets, none of them called runs; allowed: one"):
        read_runs(path)


@pytest.mark.parametrize(
    ("cell", "found"),
    [(True, '"True"'), ("5,5", '"5,5"'), ("5 kN", '"5 kN"'), (10**20, "absurdly large number")],
)
def test_a_cell_that_is_no_number(tmp_path: Path, cell: object, found: str) -> None:
    path = workbook(tmp_path / "runs.xlsx", HEAD, ["a", cell])
    with pytest.raises(InputError) as caught:
        read_runs(path)
    assert "line 2, column force: found " in str(caught.value)
    assert found in str(caught.value)


def test_a_damaged_workbook_is_one_fault(tmp_path: Path) -> None:
    path = workbook(tmp_path / "runs.xlsx", HEAD, ["a", 5])
    whole = path.read_bytes()
    with zipfile.ZipFile(io.BytesIO(whole)) as parts:
        names = parts.namelist()
    said = "found no XLSX workbook; allowed: an XLSX workbook. Save it again as XLSX, or as CSV."
    for content in (b"", b"run,force", whole[: len(whole) // 2]):
        path.write_bytes(content)
        with pytest.raises(InputError, match=said):
            read_runs(path)
    for lost in ("[Content_Types].xml", "xl/workbook.xml"):
        assert lost in names
        with zipfile.ZipFile(io.BytesIO(whole)) as parts, zipfile.ZipFile(path, "w") as left:
            for name in names:
                left.writestr(name, b"<broken" if name == lost else parts.read(name))
        with pytest.raises(InputError, match=said):
            read_runs(path)


def test_a_workbook_that_swells_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "runs.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as whole:
        whole.writestr("xl/workbook.xml", b"0" * 61_000_000)
    with pytest.raises(InputError, match="found a workbook of 61 MB unpacked; allowed: up to 60"):
        read_runs(path)
