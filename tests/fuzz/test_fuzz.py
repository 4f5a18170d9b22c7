"""A short run of the broken inputs, and inputs made to hurt, each found or thought of once."""

from __future__ import annotations

import io
import os
import re
import shutil
import signal
import subprocess
import sys
import time
import zipfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from scaleup.answers.functions import plan_trial, translate
from scaleup.calibration.fit import Fit, fit
from scaleup.calibration.observations import observe, sides
from scaleup.errors import InputError
from scaleup.io.logs import open_log
from scaleup.io.profile_files import read_press
from scaleup.io.run_table import read_runs
from scaleup.io.study import read_study
from scaleup.io.trial_sheet.reading import read_trial_sheet
from scaleup.io.trial_sheet.writing import csv_sheet
from scaleup.io.units import UnitFault, to_core
from tests.fuzz.commands import COMMANDS
from tests.fuzz.readers import READERS
from tests.fuzz.targets import EXAMPLES, Target, attempts, trouble

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("target", (*READERS, *COMMANDS), ids=lambda each: each.name)
def test_broken_inputs_end_in_an_answer_or_a_clear_fault(target: Target) -> None:
    held(target, max(-(-target.short // 3), 3))


@pytest.mark.slow
@pytest.mark.parametrize("target", (*READERS, *COMMANDS), ids=lambda each: each.name)
def test_more_broken_inputs_end_in_an_answer_or_a_clear_fault(target: Target) -> None:
    held(target, target.short)


def held(target: Target, count: int) -> None:
    """Assert that so many broken inputs end well, and enough of them in an answer."""
    tried = list(attempts(target, count, seed=7))
    wrong = [each.told for each in tried if each.told]
    assert not wrong, wrong[0]
    answered = sum(each.answered for each in tried)
    assert answered >= target.share * len(tried), f"{answered} of {len(tried)} reach an answer"


def test_the_harness_sees_what_goes_wrong() -> None:
    assert trouble(lambda: 1 / 0) == "ZeroDivisionError: division by zero"
    assert (trouble(lambda: int("none")) or "").startswith("ValueError")

    def warned() -> None:
        import warnings  # noqa: PLC0415

        warnings.warn("overflow", RuntimeWarning, stacklevel=1)

    assert trouble(warned) == "RuntimeWarning: overflow"
    assert trouble(lambda: None) is None


@pytest.mark.parametrize(
    "text",
    ["10 mm^999999999", "1e999 mm", "9**9**9**9 mm", "10 m" + "m" * 5000, "1" * 5000 + " mm",
     "10 (((((((((mm)))))))))", "10 mm/0", "nan mm", "inf mm", "10 mm\x00", "__import__('os')"],
)  # fmt: skip
def test_a_hostile_quantity_is_a_quick_fault(text: str) -> None:
    start = time.perf_counter()
    with pytest.raises(UnitFault):
        to_core(text, "mm")
    assert time.perf_counter() - start < 1.0


def workbook(sheet: bytes) -> bytes:
    """Return a workbook of one sheet with this XML, compressed as far as it goes."""
    out = io.BytesIO()
    one = Path(__file__).with_name("one-cell.xlsx")
    with zipfile.ZipFile(one) as whole, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for item in whole.namelist():
            data = sheet if item.startswith("xl/worksheets/") else whole.read(item)
            made.writestr(item, data)
    return out.getvalue()


def test_a_workbook_that_unpacks_to_gigabytes_is_refused_quickly(tmp_path: Path) -> None:
    path = tmp_path / "runs.xlsx"
    path.write_bytes(workbook(b"<worksheet><sheetData>" + b"<row/>" * 40_000_000))
    assert path.stat().st_size < 5_000_000
    start = time.perf_counter()
    with pytest.raises(InputError, match="MB unpacked"):
        read_runs(path)
    assert time.perf_counter() - start < 5.0


def test_entities_in_a_workbook_do_not_multiply(tmp_path: Path) -> None:
    laughs = b"".join(
        b'<!ENTITY l%d "%s">' % (n, b"&l%d;" % (n - 1) * 10 if n else b"lol") for n in range(10)
    )
    sheet = b"<!DOCTYPE x [" + laughs + b"]><worksheet><sheetData><row><c><v>&l9;</v></c></row>"
    path = tmp_path / "runs.xlsx"
    path.write_bytes(workbook(sheet + b"</sheetData></worksheet>"))
    start = time.perf_counter()
    with pytest.raises(InputError):
        read_runs(path)
    assert time.perf_counter() - start < 10.0


@pytest.mark.parametrize(
    "name", ["../outside.csv", "/etc/hostname", "link.csv", "deep/../../x.csv"]
)
def test_a_study_reads_nothing_outside_its_folder(tmp_path: Path, name: str) -> None:
    folder = Path(shutil.copytree(EXAMPLES / "marram", tmp_path / "study"))
    shutil.copy(folder / "runs.csv", tmp_path / "outside.csv")
    (folder / "link.csv").symlink_to(tmp_path / "outside.csv")
    file = folder / "study.toml"
    file.write_text(file.read_text().replace('"runs.csv"', f'"{name}"'))
    with pytest.raises(InputError, match=r"leads out|outside|no such file"):
        read_study(folder)


def run(*words: str | Path, cwd: Path | None = None) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-m", "scaleup", *map(str, words)]
    return subprocess.run(command, capture_output=True, timeout=120, check=False, cwd=cwd)


def test_control_characters_and_html_in_names_stay_text(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(EXAMPLES / "marram", tmp_path / "study"))
    runs = (folder / "runs.csv").read_text().replace("\nM4,", "\n<b onload=x>[red]M4[/red],")
    (folder / "runs.csv").write_text(runs)
    file = folder / "study.toml"
    file.write_text(file.read_text().replace('reference = "M4"\n', ""))
    shown = run("translate", folder, "--draws", "300", "--to", "x\x1b[2J")
    assert b"\x1b" not in shown.stdout + shown.stderr
    assert shown.returncode == 2
    page = tmp_path / "page.html"
    assert run("report", folder, "--draws", "300", "--out", page).returncode == 0
    assert "<b onload" not in page.read_text(encoding="utf-8")
    shown = run("translate", folder, "--draws", "300")
    assert shown.returncode == 0, shown.stderr
    log = tmp_path / "a\x1b[31m.csv"
    log.write_text("nothing")
    told = run("record", log)
    assert told.returncode == 2
    assert b"\x1b" not in told.stderr


def test_interrupted_or_killed_it_leaves_what_was_there(tmp_path: Path) -> None:
    """Sent a signal at many moments, the file is the old one or the whole new one."""
    out = tmp_path / "page.html"
    out.write_text("old")
    command = [sys.executable, "-m", "scaleup", "report", str(EXAMPLES / "marram"), "--draws",
               "200", "--out", str(out), "--force"]  # fmt: skip
    for number, wait in enumerate((0.3, 1.0, 1.8, 2.6, 3.2)):
        running = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        time.sleep(wait)
        running.send_signal(signal.SIGINT if number % 2 else signal.SIGKILL)
        _, told = running.communicate(timeout=60)
        # Within the first second the signal may still meet the interpreter starting.
        assert wait <= 1.0 or b"Traceback" not in told
        text = out.read_text(encoding="utf-8")
        assert text == "old" or text.rstrip().endswith("</html>")
    assert {path.name for path in tmp_path.iterdir() if not path.name.startswith(".")} == {out.name}


def test_the_same_seed_gives_the_same_digits_on_any_number_of_threads() -> None:
    texts = set()
    for threads in ("1", "2"):
        settings = dict.fromkeys(
            ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), threads
        )
        words = ["translate", str(EXAMPLES / "fescue"), "--draws", "1500", "--json"]
        done = subprocess.run(
            [sys.executable, "-m", "scaleup", *words], check=True, capture_output=True,
            env=os.environ | settings,
        )  # fmt: skip
        texts.add(done.stdout)
    assert len(texts) == 1


def test_an_endless_device_is_no_log(tmp_path: Path) -> None:
    with pytest.raises(InputError):
        open_log(Path("/dev/zero"))
    (tmp_path / "log.csv").symlink_to("/dev/zero")
    with pytest.raises(InputError):
        open_log(tmp_path / "log.csv")


FOUND = [
    (
        "dunlin",
        r"(?m)^(D1,[^,]*),[^,]*,[^,]*,",
        r"\1,,2.0,",
        "a wall of 0.2 mm; allowed: a wall",
    ),
    ("sedge", r"weight \[mg\]", "weight [\x1bg]", r'the unit "\x1bg"'),
    ("fescue", r"force \[kN\]", "force [\x07]", r'the unit "\x07"'),
]


def test_an_absurd_count_in_a_sheet_is_a_fault(tmp_path: Path) -> None:
    """Found by the long run: an overflow where a number of tablets was 1e999."""
    text = csv_sheet([{"run": "T1", "planned force": 15e3, "tablets": "1e999"}], [])
    (tmp_path / "sheet.csv").write_text(text)
    with pytest.raises(InputError, match=r'cell [A-Z]+2: found "1e999"; allowed: a whole number'):
        read_trial_sheet(tmp_path / "sheet.csv", "sheet.csv")


@pytest.mark.parametrize("ending", [".csv", ".parquet"])
def test_a_force_too_large_for_a_number_is_left_out_of_a_log(tmp_path: Path, ending: str) -> None:
    """Found by the run over Parquet logs: a warning where 1e308 kN became newtons."""
    path = tmp_path / f"log{ending}"
    rows = {"time [s]": [0.0, 0.1, 0.2], "force [kN]": [0.1, 1e308, 0.2]}
    if ending == ".csv":
        path.write_text("time [s],force [kN]\n0,0.1\n0.1,1e308\n0.2,0.2\n")
    else:
        pq.write_table(pa.table(rows), path)
    pieces = list(open_log(path).pieces())
    assert [force for piece in pieces for force in piece.force] == [100.0, 200.0]


def test_a_whole_number_of_thousands_of_digits_is_a_fault(tmp_path: Path) -> None:
    """Found by the second long run: a kind of fault that had no words."""
    text = (EXAMPLES.parent / "profiles" / "presses" / "rotary-mid-19.toml").read_text()
    path = tmp_path / "press.toml"
    path.write_text(text.replace("stations = 19", "stations = 1" + "0" * 4200, 1))
    with pytest.raises(InputError, match="stations: found an absurdly large number; allowed: "):
        read_press(path)


@pytest.mark.parametrize(("example", "old", "new", "said"), FOUND)
def test_what_the_long_run_found(
    tmp_path: Path, example: str, old: str, new: str, said: str
) -> None:
    """Each was a traceback, or a control character on the screen."""
    folder = Path(shutil.copytree(EXAMPLES / example, tmp_path / "study"))
    text = (folder / "runs.csv").read_text()
    changed = re.sub(old, new, text, count=1)
    assert changed != text
    (folder / "runs.csv").write_text(changed)
    with pytest.raises(InputError) as caught:
        study = read_study(folder)
        observe(study, sides(study))
    assert said in str(caught.value)
    assert all(char.isprintable() or char == "\n" for char in str(caught.value))


def test_where_no_ladder_teaches_the_centre_is_run_alone() -> None:
    """Found by the run over trial plans: runs so scattered that no speed tells of the exponent."""
    study = read_study(EXAMPLES / "dunlin")
    shares = (1.18, 0.85, 1.0, 0.82, 1.15)
    runs = tuple(
        replace(run, weight=(run.weight or 0.0) * shares[number % 5])
        for number, run in enumerate(study.lab.runs)
    )
    odd = replace(study, lab=replace(study.lab, runs=runs))
    plan = plan_trial(odd.confirmed(as_given=True), draws=200)
    assert {run.rung.purpose for run in plan.runs} >= {"start-up", "stop and restart", "end"}


def test_a_tablet_too_thin_for_its_equation_has_no_breaking_force() -> None:
    """Found by the run over comparisons: a light tablet between far wider tips."""
    study = read_study(EXAMPLES / "marram", tooling="d-elongated-19", press="rotary-large-23")
    light = replace(study, target=replace(study.target, weight=330.0))
    tablet = translate(light, draws=200).equivalent("pressure").tablet
    assert tablet.tensile_strength.value is not None
    assert tablet.breaking_force.value is None
    assert "wall is too low" in tablet.breaking_force.reason


def test_no_draw_is_a_powder_looser_than_nothing() -> None:
    """Found by the run over trial plans: a little more force for far denser tablets."""
    study = read_study(EXAMPLES / "dunlin")
    forces = np.linspace(23.5e3, 26.5e3, len(study.lab.runs))
    runs = tuple(
        replace(run, force=float(force)) for run, force in zip(study.lab.runs, forces, strict=True)
    )
    fitted = fit(replace(study, lab=replace(study.lab, runs=runs)), draws=400)
    assert isinstance(fitted, Fit)
    loose = fitted.powder.hardening.densification(np.zeros(400))
    assert loose.min() > 0.0
    assert np.ptp(loose) > 0.1
