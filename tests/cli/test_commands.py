"""The command line as a process: start, profiles, help, completion, pipes and terminals."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FEW = ("--draws", "300")


def run(
    *words: str | Path, cwd: Path = ROOT, **environment: str
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-W", "error", "-m", "scaleup", *map(str, words)],
        capture_output=True,
        text=True,
        check=False,
        cwd=cwd,
        env=os.environ | {"PYTHONPATH": str(ROOT), "COLUMNS": "80"} | environment,
    )


@pytest.fixture
def marram(tmp_path: Path) -> Path:
    return Path(shutil.copytree(ROOT / "examples" / "marram", tmp_path / "marram"))


def test_a_started_study_translates_as_it_stands(tmp_path: Path) -> None:
    started = run("start", tmp_path / "mine")
    assert started.returncode == 0
    assert "next: scaleup translate" in started.stdout
    done = run("translate", tmp_path / "mine", *FEW)
    assert done.returncode == 0
    assert "verdict: " in done.stdout


def test_start_writes_only_where_nothing_is(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_text("mine")
    assert run("start", tmp_path / "empty").returncode == 0
    for taken in ("empty", "full", "full/mine.txt"):
        refused = run("start", tmp_path / taken)
        assert refused.returncode == 2
        assert refused.stdout == ""
        assert refused.stderr.startswith(f"scaleup: {tmp_path / taken}: found ")
        assert refused.stderr.count("\n") == 1
    assert [path.name for path in (tmp_path / "full").iterdir()] == ["mine.txt"]
    assert (tmp_path / "full" / "mine.txt").read_text() == "mine"


def shipped(room: str) -> list[str]:
    """Return the ids of the shipped profiles, from the names of their files."""
    return sorted(path.stem for path in (ROOT / "profiles" / room).glob("*.toml"))


@pytest.mark.parametrize("width", ["80", "160"])
def test_every_profile_is_listed(width: str) -> None:
    done = run("profiles", COLUMNS=width)
    assert done.returncode == 0
    listed = done.stdout.splitlines()
    assert max(map(len, listed)) <= int(width)
    assert "…" not in done.stdout
    names = {line.split()[0] for line in listed if line[:1].isalpha()}
    assert names == {*shipped("presses"), *shipped("tooling"), "press", "tooling"}


@pytest.mark.parametrize("name", shipped("presses"))
def test_every_press_is_shown(name: str) -> None:
    done = run("profiles", "show", name)
    assert done.returncode == 0, done.stderr
    assert f"({name}, " in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80
    for figure in ("nan", "inf", "n/a", "…"):
        assert not re.search(rf"\b{figure}\b", done.stdout)


def test_a_press_is_shown_at_the_speed_asked() -> None:
    shown = run("profiles", "show", "rotary-mid-19", "--speed", "45 rpm").stdout
    # The arc form of the dwell time (common practice) with the tooling's 9.5 mm head flat on the
    # press's 317 mm pitch circle; the exact form is 0.02 % longer.
    dwell = 60000 * 9.5 / (3.14159265 * 317 * 45)
    found = re.search(r"dwell time +([\d.]+) ms", shown)
    assert found is not None
    assert float(found[1]) == pytest.approx(dwell, rel=1e-3)
    assert "51300 tablets/h" in shown  # 19 stations, 45 turns a minute, 60 minutes
    assert "outside" not in shown
    outside = run("profiles", "show", "rotary-mid-19", "--speed", "95 rpm").stdout
    assert "outside the speed range of the press, 10 rpm to 75 rpm" in outside


@pytest.mark.parametrize("name", shipped("tooling"))
def test_all_tooling_is_shown(name: str) -> None:
    done = run("profiles", "show", name)
    assert done.returncode == 0, done.stderr
    assert f"({name}, " in done.stdout
    assert re.search(r"tip area +[\d.]+ mm²", done.stdout)
    rated = re.search(r"rated tip force +([\d.]+) kN\npressure at the rated force +([\d.]+) MPa",
                      re.sub(" +\n", "\n", done.stdout))  # fmt: skip
    area = re.search(r"tip area +([\d.]+) mm²", done.stdout)
    if rated is not None and area is not None:
        assert float(rated[1]) * 1e3 / float(area[1]) == pytest.approx(float(rated[2]), rel=2e-3)
    else:
        assert "rated tip force              not stated" in done.stdout


def test_profiles_of_one_s_own_are_shown_from_their_files(tmp_path: Path) -> None:
    for room, name in (("presses", "rotary-mid-19"), ("tooling", "b-flat-10")):
        (tmp_path / room).mkdir()
        text = (ROOT / "profiles" / room / f"{name}.toml").read_text().replace('"B"', '"OWN"')
        (tmp_path / room / f"my-{room}.toml").write_text(text)
    press = run("profiles", "show", tmp_path / "presses" / "my-presses.toml")
    assert press.returncode == 0, press.stderr
    assert "(my-presses, rotary)" in press.stdout
    assert "(my-tooling) at 75 rpm" in press.stdout  # no other fits
    tooling = run("profiles", "show", tmp_path / "tooling" / "my-tooling.toml")
    assert "(my-tooling, round flat)" in tooling.stdout
    absent = run("profiles", "show", tmp_path / "presses" / "none.toml")
    assert absent.returncode == 2
    assert "found no such file" in absent.stderr


def test_a_file_of_no_format_may_be_either(tmp_path: Path) -> None:
    (tmp_path / "empty.toml").write_text("")
    done = run("profiles", "check", tmp_path / "empty.toml")
    assert done.returncode == 2
    assert "scaleup press 1" in done.stderr
    assert "scaleup tooling 1" in done.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("rotary-mid",), "Did you mean rotary-mid-19"),
        (("rotary-mid-19", "--speed", "45"), "--speed: found"),
        (("rotary-mid-19", "--tooling", "d-flat-16"), "b-convex-10, b-flat-10"),
        (("rotary-mid-19", "--tooling", "b-flat-11"), "Did you mean b-flat-10"),
        (("lab-hydraulic", "--force", "0 kN"), "--force: found"),
    ],
)
def test_what_cannot_be_shown_is_told(words: tuple[str, ...], said: str) -> None:
    done = run("profiles", "show", *words)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("scaleup: ")
    assert done.stderr.count("\n") == 1
    assert said in done.stderr


def test_every_fault_of_a_profile_is_told_at_once(tmp_path: Path) -> None:
    text = (ROOT / "profiles" / "presses" / "rotary-mid-19.toml").read_text()
    bad = tmp_path / "bad.toml"
    bad.write_text(text.replace('"317 mm"', "290").replace('"72 kN"', '"72 s"'))
    checked = run("profiles", "check", bad)
    assert checked.returncode == 2
    assert checked.stdout == ""
    lines = checked.stderr.splitlines()
    assert len(lines) == 2
    assert all(line.startswith(f"scaleup: {bad}: ") for line in lines)
    assert "pitch_circle" in checked.stderr
    assert "main_roller.force_limit" in checked.stderr


def test_what_a_profile_lacks_is_doubtful_not_wrong(tmp_path: Path) -> None:
    good = ROOT / "profiles" / "presses" / "rotary-mid-19.toml"
    assert run("profiles", "check", good).stdout.endswith("no fault, nothing doubtful\n")
    stated = tmp_path / "stated.toml"
    text = good.read_text()
    lines = [line for line in text.splitlines() if not line.startswith("stiffness")]
    assert len(lines) == text.count("\n") - 1
    stated.write_text("\n".join(lines))
    checked = run("profiles", "check", stated)
    assert checked.returncode == 0
    assert checked.stdout.startswith("doubtful: no stiffness")
    assert checked.stdout.endswith("no fault\n")


@pytest.mark.parametrize(
    "words",
    [("translate",), ("start",), ("profiles",), ("profiles", "show"), ("profiles", "check"), ()],
)
def test_every_help_shows_an_example_that_runs(words: tuple[str, ...], tmp_path: Path) -> None:
    told = run(*words, "--help", COLUMNS="200").stdout
    found = re.search(r"Example: (scaleup [^\n]+)", told)
    assert found is not None, told
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    shutil.copytree(ROOT / "profiles", tmp_path / "profiles")
    lines = found.group(1).strip().split(" && ")
    for line in lines:
        done = run(*shlex.split(line)[1:], cwd=tmp_path)
        assert done.returncode == 0, done.stderr


def test_start_up_loads_nothing_heavy() -> None:
    code = (
        "import sys, scaleup.cli.app;"
        "heavy = ('numpy', 'scipy', 'pandas', 'pint', 'pydantic');"
        "print([name for name in heavy if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True,
                          cwd=ROOT)  # fmt: skip
    assert done.stdout.strip() == "[]"


ESCAPE = "\x1b"
COLOUR = re.compile(r"\x1b\[(?:[\d;]*;)?(?:3[0-8]|4[0-8]|9[0-7]|10[0-7])(?:;[\d;]*)?m")
"""SGR parameters 30 to 38 and 90 to 97 for the foreground, 40 to 48 and 100 to 107 behind it
(ECMA-48; the bright ones are common practice)."""


def on_a_terminal(*words: str | Path, **environment: str) -> str:
    """Return what the command writes where standard output is a terminal."""
    ours, its = os.openpty()
    process = subprocess.Popen(
        [sys.executable, "-W", "error", "-m", "scaleup", *map(str, words)],
        stdout=its,
        stderr=subprocess.PIPE,
        env=os.environ
        | {"PYTHONPATH": str(ROOT), "COLUMNS": "80", "TERM": "xterm-256color"}
        | environment,
        cwd=ROOT,
    )
    os.close(its)
    told = b""
    while chunk := _read(ours):
        told += chunk
    os.close(ours)
    _, complaints = process.communicate()
    assert process.returncode == 0, complaints
    return told.decode()


def _read(terminal: int) -> bytes:
    try:
        return os.read(terminal, 4096)
    except OSError:  # Linux reports EIO where the other end has closed
        return b""


def test_a_pipe_gets_no_escape_codes(marram: Path) -> None:
    for words in (("translate", marram, *FEW), ("profiles",), ("profiles", "show", "lab-recorded")):
        done = run(*words, TERM="xterm-256color")
        assert done.stdout
        assert ESCAPE not in done.stdout + done.stderr


def test_a_terminal_gets_colour_unless_it_is_unwanted() -> None:
    sedge = ("translate", ROOT / "examples" / "sedge", *FEW)
    assert COLOUR.search(on_a_terminal(*sedge))
    plain = on_a_terminal(*sedge, NO_COLOR="1")
    assert "verdict: " in plain
    assert not COLOUR.search(plain)
    assert ESCAPE not in on_a_terminal(*sedge, TERM="dumb")


@pytest.mark.parametrize("words", [("profiles",), ("translate", "examples/marram", *FEW)])
def test_a_terminal_of_ascii_gets_an_answer(words: tuple[str, ...]) -> None:
    done = run(*words, PYTHONIOENCODING="ascii")
    assert "Traceback" not in done.stderr
    assert done.returncode == 0


@pytest.mark.parametrize("words", [(), ("--json",)])
def test_a_full_disk_is_told(words: tuple[str, ...]) -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "scaleup", "translate", "examples/marram", *FEW, *words],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
            env=os.environ | {"PYTHONPATH": str(ROOT)},
            cwd=ROOT,
        )
    assert done.returncode not in (0, 3)
    assert "Traceback" not in done.stderr
    assert done.stderr.startswith("scaleup: ")


@pytest.mark.parametrize("words", [(), ("--json",)])
def test_a_reader_that_goes_away_is_no_traceback(words: tuple[str, ...]) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "scaleup", "translate", "examples/marram", *FEW, *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        cwd=ROOT,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    complaints = process.stderr.read()
    process.stderr.close()
    process.wait()
    assert b"Traceback" not in complaints


def test_a_fault_ends_the_process_with_two(marram: Path) -> None:
    (marram / "runs.csv").write_bytes(bytes(range(256)))
    done = run("translate", marram)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr == (
        "scaleup: runs.csv: line 2: found a character that is not UTF-8; allowed: text in UTF-8. "
        "Save the file again with the encoding UTF-8.\n"
    )


def test_completion_knows_the_presses() -> None:
    from scaleup.cli.options import press_ids, tooling_ids  # noqa: PLC0415

    assert "rotary-mid-19" in press_ids("rotary-m")
    assert press_ids("zzz") == []
    assert "b-flat-10" in tooling_ids("b-")
