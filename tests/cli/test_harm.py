"""Attacks by the files of a study and by the names of outputs, through the commands."""

from __future__ import annotations

import csv
import io
import os
import shutil
import stat
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from scaleup.io.csv_table import comment_line, csv_table, original_text, plain_text
from scaleup.io.study import read_study

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parents[2] / "examples"
Command = Callable[..., subprocess.CompletedProcess[str]]
FEW = ("--draws", "200")
SHEET = EXAMPLES / "marram" / "trial-sheet.csv"


@pytest.fixture
def bracken(tmp_path: Path) -> Path:
    return Path(shutil.copytree(EXAMPLES / "bracken", tmp_path / "bracken"))


@pytest.fixture
def marram(tmp_path: Path) -> Path:
    return Path(shutil.copytree(EXAMPLES / "marram", tmp_path / "marram"))


def contents(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and not path.is_symlink()
    }


def assert_told(done: subprocess.CompletedProcess[str], said: str) -> None:
    assert done.returncode == 2, done.stdout + done.stderr
    assert said in done.stderr
    assert done.stderr.count("\n") == 1
    assert done.stdout == ""


@pytest.mark.parametrize("name", ["records/B3.csv", "second name.csv", "link.csv"])
def test_the_log_just_read_is_not_written_over(command: Command, bracken: Path, name: str) -> None:
    log = bracken / "records" / "B3.csv"
    os.link(log, bracken / "second name.csv")
    (bracken / "link.csv").symlink_to(log)
    before = contents(bracken)
    done = command("record", log, "--csv", bracken / name, "--force")
    assert_told(done, "a link to " if name == "link.csv" else "a file that was just read")
    assert contents(bracken) == before


@pytest.mark.parametrize(
    "file", ["study.toml", "runs.csv", "records/B3.csv", "../marram/trial-sheet.csv"]
)
def test_no_input_of_a_study_is_written_over(
    command: Command, bracken: Path, marram: Path, file: str
) -> None:
    before = contents(bracken), contents(marram)
    if file.endswith("trial-sheet.csv"):
        page = marram / "page.html"
        os.link(marram / "trial-sheet.csv", page)
        words = ("report", marram, "--sheet", marram / "trial-sheet.csv", "--out", page)
        done = command(*words, *FEW, "--force")
        page.unlink()
    else:
        done = command("translate", bracken, *FEW, "--csv", bracken / file, "--force")
    assert_told(done, "a file that was just read")
    assert (contents(bracken), contents(marram)) == before


def test_force_replaces_no_device_pipe_or_link_and_keeps_the_mode(
    command: Command, marram: Path, tmp_path: Path
) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "secret").write_text("mine")
    (tmp_path / "link").symlink_to(tmp_path / "secret")
    ask = ("translate", marram, *FEW, "--force", "--csv")
    assert_told(command(*ask, tmp_path / "pipe"), "a named pipe")
    assert_told(command(*ask, tmp_path / "link"), "a link to ")
    assert_told(command(*ask, "/dev/null"), "a device")
    assert stat.S_ISCHR(Path("/dev/null").stat().st_mode)
    assert (tmp_path / "secret").read_text() == "mine"
    (tmp_path / "secret").chmod(0o600)
    assert command(*ask, tmp_path / "secret").returncode == 0
    assert stat.S_IMODE((tmp_path / "secret").stat().st_mode) == 0o600
    assert (tmp_path / "secret").read_text().startswith("match,")


@pytest.mark.parametrize("kind", ["pipe", "device", "folder", "loop", "missing"])
@pytest.mark.parametrize(
    "file", ["study.toml", "runs.csv", "records/B3.csv", "presses/own.toml", "tooling/own.toml"]
)
def test_what_is_no_file_is_told_and_never_waited_for(
    command: Command, bracken: Path, file: str, kind: str
) -> None:
    text = (bracken / "study.toml").read_text(encoding="utf-8")
    path = bracken / file
    path.parent.mkdir(exist_ok=True)
    path.unlink(missing_ok=True)
    study = read_study(EXAMPLES / "bracken")
    used = {"presses": study.lab.press.id, "tooling": study.lab.tooling.id}.get(path.parent.name)
    if used is not None:
        assert f'"{used}"' in text
        (bracken / "study.toml").write_text(text.replace(f'"{used}"', '"own"', 1))
    make: dict[str, Callable[[], object]] = {
        "pipe": lambda: os.mkfifo(path),
        "device": lambda: path.symlink_to("/dev/zero"),
        "folder": path.mkdir,
        "loop": lambda: path.symlink_to(path.name),
        "missing": lambda: None,
    }
    make[kind]()
    done = command("translate", bracken, *FEW)
    assert_told(done, "found ")


@pytest.mark.parametrize("sheet", ["pipe.csv", "/dev/zero", "pipe.xlsx"])
def test_a_sheet_that_is_no_file_is_told(
    command: Command, marram: Path, tmp_path: Path, sheet: str
) -> None:
    path = tmp_path / sheet
    if not path.exists():
        os.mkfifo(path)
    for words in (("trial", "learn", marram, path), ("report", marram, "--sheet", path, "--out",
                  tmp_path / "page.html")):  # fmt: skip
        assert_told(command(*words, *FEW), "found ")


@pytest.mark.parametrize("words", [("profiles", "check"), ("profiles", "show"), ("record",)])
def test_a_file_named_by_a_command_is_no_pipe(
    command: Command, tmp_path: Path, words: tuple[str, ...]
) -> None:
    for name in ("own.toml", "log.csv", "log.parquet"):
        os.mkfifo(tmp_path / name)
    named = ("log.csv", "log.parquet") if words == ("record",) else ("own.toml",)
    for name in named:
        assert_told(command(*words, tmp_path / name), "a named pipe")


def test_profiles_that_are_no_files_hold_up_no_list(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for room in ("presses", "tooling"):
        (tmp_path / room).mkdir()
        os.mkfifo(tmp_path / room / f"{room}-pipe.toml")
        (tmp_path / room / f"{room}-zero.toml").symlink_to("/dev/zero")
    monkeypatch.setenv("SCALEUP_PROFILES", str(tmp_path))
    monkeypatch.setenv("COLUMNS", "300")
    done = command("profiles")
    assert done.returncode == 0
    assert "a named pipe" in done.stdout
    assert "a device" in done.stdout


def test_a_log_is_hashed_in_pieces(bracken: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No read asks for more than a piece, whatever the size of the log."""
    from scaleup.io import reading_gate  # noqa: PLC0415

    whole = read_study(bracken).inputs
    asked: list[int] = []
    read = reading_gate._read

    def noted(file: io.BufferedReader, most: int, shown: str) -> bytes:
        asked.append(most)
        return read(file, most, shown)

    monkeypatch.setattr(reading_gate, "_read", noted)
    monkeypatch.setattr(reading_gate, "PIECE", 1000)
    assert read_study(bracken).inputs == whole
    sizes = [path.stat().st_size for path in (bracken / "records").iterdir()]
    assert asked.count(1000) > sum(sizes) / 1000 / 2


class TestCopies:
    """`trial learn --out` takes along what is the study's own, and nothing else."""

    def ask(self, command: Command, study: Path) -> subprocess.CompletedProcess[str]:
        sheet = study / "trial-sheet.csv"
        return command("trial", "learn", study, sheet, "--out", study.parent / "new", *FEW)

    @pytest.mark.parametrize("place", ["presses/own.toml", "profiles/deep/er.toml", "extra.toml"])
    def test_a_link_that_leads_out_is_refused(
        self, command: Command, marram: Path, place: str
    ) -> None:
        secret = marram.parent / "secret.txt"
        secret.write_text("not the study's")
        (marram / place).parent.mkdir(parents=True, exist_ok=True)
        (marram / place).symlink_to(secret)
        assert_told(self.ask(command, marram), "which leads out of the folder")
        assert {path.name for path in marram.parent.iterdir()} == {"marram", "secret.txt"}

    def test_a_folder_that_is_a_link_is_refused(self, command: Command, marram: Path) -> None:
        (marram / "presses").mkdir()
        (marram / "presses" / "others").symlink_to(EXAMPLES.parent / "profiles" / "presses")
        assert_told(self.ask(command, marram), "a folder that is a link")
        assert {path.name for path in marram.parent.iterdir()} == {"marram"}

    def test_a_pipe_is_refused(self, command: Command, marram: Path) -> None:
        (marram / "presses").mkdir()
        os.mkfifo(marram / "presses" / "own.txt")
        assert_told(self.ask(command, marram), "a named pipe")
        assert {path.name for path in marram.parent.iterdir()} == {"marram"}

    def test_all_else_goes_along(self, command: Command, marram: Path) -> None:
        (marram / "presses" / "notes").mkdir(parents=True)
        (marram / "presses" / "notes" / "a.bin").write_bytes(bytes(range(256)))
        (marram / "presses" / "b.bin").symlink_to("notes/a.bin")  # stays inside
        assert self.ask(command, marram).returncode == 0
        new = contents(marram.parent / "new")
        assert new["presses/notes/a.bin"] == new["presses/b.bin"] == bytes(range(256))
        assert set(new) == {"presses/notes/a.bin", "presses/b.bin", "runs.csv", "study.toml"}


@pytest.mark.parametrize("full", [1, 2, 3])
def test_a_plan_on_a_full_disk_leaves_none_of_its_files(
    command: Command, marram: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, full: int
) -> None:
    fsync, calls = os.fsync, []

    def failing(descriptor: int) -> None:
        calls.append(descriptor)
        if len(calls) == full:
            raise OSError(28, "No space left on device")
        fsync(descriptor)

    monkeypatch.setattr(os, "fsync", failing)
    (tmp_path / "there").mkdir()
    for folder in ("there", "new"):
        calls.clear()
        done = command("trial", "plan", marram, "--out", tmp_path / folder, *FEW)
        assert_told(done, "no space left on device")
    assert not (tmp_path / "new").exists()
    assert list((tmp_path / "there").iterdir()) == []


HOSTILE = (
    "=1+1", "+1", "-1", "@SUM(1)", "a,=1+1", 'a","=1+1', "a;=1+1", "a\t=1+1", "a | =1+1", "a =1+1",
    "＝1+1", "'=1", "a,  '=1", "a\n=1+1",
)  # fmt: skip


def cells(line: str) -> list[str]:
    """Return the cells that any of the usual separators makes of a line."""
    return [
        cell.strip(" ")
        for delimiter in ",;\t|"
        for row in csv.reader(io.StringIO(line), delimiter=delimiter)
        for cell in row
    ]


@pytest.mark.parametrize("text", HOSTILE)
def test_no_cell_is_a_formula_whatever_parts_them(text: str) -> None:
    whole = csv_table(["run", "note"], [["M1", text], [text, 2.0]], [text, f"Trial of {text}."])
    for line in (*whole.splitlines(), comment_line(text)):
        for cell in cells(line):
            assert not cell.lstrip("'\" ").startswith(tuple("=@＝")) or cell.startswith("'"), line
            assert not cell.startswith(tuple("=+-@＝")), line
    assert original_text(plain_text(text)) == text


def renamed(study: Path, name: str) -> None:
    text = study.read_text(encoding="utf-8")
    quoted = name.replace('"', '\\"')
    study.write_text(text.replace('"Marram 400 mg, first transfer"', f'"{quoted}"'))


@pytest.mark.parametrize("name", ["=1+1", "a\\n=1"])
def test_a_name_that_is_a_formula_or_two_lines_is_refused(
    command: Command, marram: Path, name: str
) -> None:
    renamed(marram / "study.toml", name)
    assert_told(command("translate", marram), "study.toml: name: found")


@pytest.mark.parametrize("name", ["x,=1+1", "-b;=1", 'q","=2+5'])
def test_a_study_named_like_a_formula_is_planned_learned_and_read_back(
    command: Command, marram: Path, name: str
) -> None:
    renamed(marram / "study.toml", name)
    planned = command("trial", "plan", marram, "--out", marram.parent / "trial", *FEW)
    assert planned.returncode == 0, planned.stderr
    sheet = marram.parent / "trial" / "trial-sheet.csv"
    filled = sheet.with_name("filled.csv")
    lines = list(csv.reader(line for line in sheet.read_text().splitlines() if line[0] != "#"))
    given = {"speed [rpm]": "planned speed [rpm]", "force [kN]": "planned force [kN]",
             "thickness [mm]": "predicted thickness [mm]"}  # fmt: skip
    for row in lines[1:]:
        for blank, known in given.items():
            row[lines[0].index(blank)] = row[lines[0].index(known)]
        row[lines[0].index("weight [mg]")] = "400"
    with filled.open("w", newline="") as file:
        csv.writer(file).writerows(lines)
    new = marram.parent / "new"
    done = command("trial", "learn", marram, filled, "--out", new, *FEW)
    assert done.returncode == 0, done.stderr
    for path in (sheet, new / "runs.csv"):
        for line in path.read_text(encoding="utf-8").splitlines():
            assert not [cell for cell in cells(line) if cell.startswith(tuple("=+-@"))], line
    names = [run.name for run in read_study(new).lab.runs]
    assert names[: len(read_study(marram).lab.runs)] == [
        run.name for run in read_study(marram).lab.runs
    ]


@pytest.mark.parametrize("name", ["-5", "+x", "@y", "a;-b"])
def test_a_run_s_name_and_its_log_survive_being_written(
    command: Command, marram: Path, name: str
) -> None:
    runs = marram / "runs.csv"
    runs.write_text(runs.read_text(encoding="utf-8").replace("M1,6.00", f"{name},6.00", 1))
    done = command("trial", "learn", marram, SHEET, "--out", marram.parent / "new", *FEW)
    assert done.returncode == 0, done.stderr
    assert name in {run.name for run in read_study(marram.parent / "new").lab.runs}
