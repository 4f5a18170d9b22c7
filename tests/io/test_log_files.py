"""What the text of a log really says: numbers, headings, clocks, volts, signs, units."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from scaleup.answers.force_log import ForceLogAnswer, force_log_answer
from scaleup.arrays import Array
from scaleup.errors import InputError
from scaleup.io import log_form, log_text, logs
from scaleup.io.log_asked import AS_WRITTEN, LogAsked
from scaleup.io.logs import open_log
from scaleup.io.study import read_study
from tests.cli.conftest import Command, command

__all__ = ["command"]
EXAMPLES = Path(__file__).parents[2] / "examples"
RATE = 5000.0


def pulses(seconds: float = 1.0, every: float = 0.1, peak: float = 12e3) -> tuple[Array, Array]:
    """Return times in s and forces in N of ten half sines a second, with noise."""
    time = np.round(np.arange(0.0, seconds, 1.0 / RATE), 9)
    phase = (time - 0.03) % every
    force = np.where((phase < 0.02) & (time > 0.03), peak * np.sin(np.pi * phase / 0.02), 0.0)
    return time, force + np.random.default_rng(1).normal(0.0, 5.0, time.size)


def rows(*columns: list[str], head: str, delimiter: str = ",", end: str = "\n") -> str:
    body = [delimiter.join(cells) for cells in zip(*columns, strict=True)]
    return end.join([head, *body, ""])


def said(path: Path, text: str | bytes, asked: LogAsked = AS_WRITTEN) -> ForceLogAnswer:
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return force_log_answer(open_log(path, asked=asked))


def english(value: float, digits: int = 1) -> str:
    return f"{value:,.{digits}f}"


def european(value: float, digits: int = 1, parted: str = ".") -> str:
    return english(value, digits).replace(",", "_").replace(".", ",").replace("_", parted)


TIME, FORCE = pulses()
PEAKS = 10
MS = [f"{each * 1e3:.1f}" for each in TIME]
MS_COMMA = [each.replace(".", ",") for each in MS]


def right(answer: ForceLogAnswer, peak: float = 12e3) -> None:
    assert answer.pulses.count == PEAKS
    np.testing.assert_allclose(answer.pulses.peak, peak, rtol=5e-3)


# Numbers -----------------------------------------------------------------------------------------

HEAD = "time [ms],force [N]"
PARTED = {
    "whole, parted by points": (MS_COMMA, [european(f, 0) for f in FORCE], ";", "point"),
    "parted by points": (MS_COMMA, [european(f) for f in FORCE], ";", "point"),
    "by blanks": (MS_COMMA, [european(f, 1, " ") for f in FORCE], ";", "blank"),
    "by no-break blanks": (MS_COMMA, [european(f, 1, "\u00a0") for f in FORCE], "\t", "blank"),
    "by narrow blanks": (MS, [english(f).replace(",", "\u202f") for f in FORCE], ",", "blank"),
    "by apostrophes": (MS, [english(f).replace(",", "'") for f in FORCE], ";", "apostrophe"),
    "English, quoted": (MS, [f'"{english(f)}"' for f in FORCE], ",", "comma"),
    "English among semicolons": (MS, [english(f, 0) for f in FORCE], ";", "comma"),
    "whole in ms": (
        [english(1e6 * t, 0).replace(",", ".") for t in TIME],
        [european(f, 0) for f in FORCE], "\t", "point",
    ),
}  # fmt: skip


@pytest.mark.parametrize("way", PARTED)
def test_parted_thousands_are_read(tmp_path: Path, way: str) -> None:
    time, force, delimiter, sign = PARTED[way]
    unit = "us" if way == "whole in ms" else "ms"
    head = HEAD.replace("ms", unit).replace(",", delimiter)
    answer = said(tmp_path / "log.csv", rows(time, force, head=head, delimiter=delimiter))
    right(answer)
    decimal = "comma" if time is MS_COMMA or way == "whole in ms" else "point"
    assert f"numbers read with decimal {decimal} and thousands {sign}" in answer.findings
    assert answer.duration == pytest.approx(TIME[-1])


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_three_decimals_with_a_point_stay_what_they_are(tmp_path: Path, delimiter: str) -> None:
    kilo = [f"{f / 1e3:.3f}" for f in FORCE]
    head = HEAD.replace("[N]", "[kN]").replace(",", delimiter)
    for time in (MS, [f"{1e6 * t:.0f}" for t in TIME]):
        heading = head if time is MS else head.replace("ms", "us")
        answer = said(tmp_path / "log.csv", rows(time, kilo, head=heading, delimiter=delimiter))
        right(answer)
        assert not [text for text in answer.findings if "numbers read" in text]


@pytest.mark.parametrize("quiet", [2000, 20_000])
def test_thousands_that_show_late_are_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, quiet: int
) -> None:
    """The idle press shows no thousands; rows read before them stay as they were read."""
    monkeypatch.setattr(log_text, "PIECE_BYTES", 1 << 15)
    time = np.arange(quiet + TIME.size) / RATE
    force = np.concatenate([np.random.default_rng(2).normal(0.0, 5.0, quiet), FORCE])
    comma = [f"{1e3 * t:.1f}".replace(".", ",") for t in time]
    whole = [f"{1e6 * t:.0f}" for t in time]
    for times, forces, delimiter in (
        (comma, [european(f, 0) for f in force], ";"),
        (whole, [f'"{english(f, 0)}"' for f in force], ","),
        ([english(1e6 * t, 0).replace(",", ".") for t in time],
         [european(f, 0) for f in force], ";"),
    ):  # fmt: skip
        head = f"time [{'ms' if times is comma else 'us'}]{delimiter}force [N]"
        answer = said(tmp_path / "log.csv", rows(times, forces, head=head, delimiter=delimiter))
        right(answer)
        assert answer.samples == time.size


def test_whole_numbers_whose_thousands_show_beyond_the_head(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A count of samples that wraps shows nothing; only a force far down has a point."""
    monkeypatch.setattr(log_form, "HEAD_BYTES", 4096)
    force = np.concatenate([np.zeros(900), FORCE])
    time = [f"{n}" for n in range(force.size)]
    text = rows(time, [european(f, 0) for f in force], head="sample;force [N]", delimiter=";")
    right(said(tmp_path / "log.csv", text, LogAsked(rate=RATE)))


def test_numbers_that_could_be_either_are_refused_or_told(tmp_path: Path) -> None:
    count = [f"{n}" for n in range(900)]
    force = [f"{1.5 + 8.0 * ((n // 50) % 2):.3f}" for n in range(900)]
    text = rows(count, force, head="time [ms];force [N]", delimiter=";")
    with pytest.raises(InputError) as caught:
        said(tmp_path / "log.csv", text)
    assert str(caught.value) == (
        'log.csv: line 2, column force: found "1.500", which may be 1.500 or 1500; allowed: '
        "numbers whose decimal sign shows. Write all numbers with one decimal sign, and thousands "
        "together."
    )
    # Commas part the cells of a file with decimal points.
    plain = said(tmp_path / "log.csv", text.replace(";", ","))
    assert plain.pulses.peak[0] == pytest.approx(8.0, rel=0.01)
    # As kN the other reading is beyond any press.
    answer = said(tmp_path / "log.csv", text.replace("[N]", "[kN]"))
    assert "numbers read with decimal point" in answer.findings
    assert answer.pulses.peak[0] == pytest.approx(8e3, rel=0.01)


FAULTS = {
    "time [ms];force [N]\n0,1;1.5\n0,2;2.5\n0,3;3.5\n": '"1.5" beside numbers with decimal comma',
    "time [ms];force [N]\n0,1;12.345\n0,2;2.34,5\n0,3;9\n": 'line 3, column force: found "2.34,5"',
    "time [ms],force [N]\n0.1,1\n0.2,2\n0.3,1'23\n": 'line 4, column force: found "1\'23"',
    'time [ms],force [N]\n0.1,1\n0.2,"1,234"\n0.3,"1,23"\n': 'line 4, column force: found "1,23"',
}  # fmt: skip


@pytest.mark.parametrize("text", FAULTS)
def test_numbers_of_two_ways_are_one_fault(tmp_path: Path, command: Command, text: str) -> None:
    (tmp_path / "log.csv").write_text(text)
    done = command("record", tmp_path / "log.csv")
    assert done.returncode == 2
    assert done.stderr.count("log.csv") == 1
    assert FAULTS[text] in " ".join(done.stderr.split())


# Headings ----------------------------------------------------------------------------------------

N1 = [f"{f:.1f}" for f in FORCE]


@pytest.mark.parametrize(
    "head",
    [
        "Time (ms),Force (N)", "TIME [ms],FORCE [N]", "time/ms,force/N", '"Time, ms","Force, N"',
        "time_ms,force_N", '"Time [ms]","Compression force [N]"', "t [ms],F [N]",
        "Elapsed time (ms),Upper punch force (N)", "time,force\nms,N", "Time,Main force\n[ms],(N)",
        "Elapsed time,Load\n\nms,N", "Load,Time\nnone,yesterday\n\ntime [ms],Load [N]",
    ],
)  # fmt: skip
def test_headings_of_the_trade(tmp_path: Path, head: str) -> None:
    right(said(tmp_path / "log.csv", rows(MS, N1, head=head)))


def test_a_heading_that_measures_something_else_is_no_force(tmp_path: Path) -> None:
    """Filling depths and loads in per cent stand beside the force on many presses."""
    depth = ["3.2"] * len(MS)
    for head in ("time [ms],Main force [N],Main compression [mm]", "time [ms],Load [N],Force [%]"):
        text = rows(MS, N1, depth, head=head)
        if "Force" in head:
            with pytest.raises(InputError, match=r'line 1: found the unit "%"'):
                said(tmp_path / "log.csv", text)
        else:
            right(said(tmp_path / "log.csv", text))


def test_a_study_s_log_says_what_to_write_instead(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(EXAMPLES / "bracken", tmp_path / "study"))
    log = folder / "records" / "B1.csv"
    for old, new, found in (
        ("force [kN]", "force [V]", r'--scale "4 kN/V"; elsewhere write the force in kN'),
        ("time [", "moment [", r'--rate "1 kHz" in its place; elsewhere add a column time \[s\]'),
    ):
        kept = log.read_text()
        assert old in kept
        log.write_text(kept.replace(old, new, 1))
        with pytest.raises(InputError, match=found):
            read_study(folder)
        log.write_text(kept)


def test_two_forces_are_not_guessed_at(tmp_path: Path, command: Command) -> None:
    pre = [f"{0.2 * f:.1f}" for f in FORCE]
    text = rows(MS, N1, pre, head="Time (ms);Main force (N);Pre force (N)", delimiter=";")
    (tmp_path / "log.csv").write_text(text)
    done = command("record", tmp_path / "log.csv")
    assert done.returncode == 2
    assert " ".join(done.stderr.split()) == (
        'scaleup: log.csv: line 1: found two columns force: "Main force (N)" and "Pre force '
        '(N)"; allowed: each column once. scaleup record takes --column "force=Main force (N)"; '
        'elsewhere head one of them "force".'
    )
    for chosen, peak in (("Main force", 12e3), ("pre force (N)", 2.4e3)):
        answer = said(tmp_path / "log.csv", text, LogAsked({"force": chosen}))
        right(answer, peak)
        other = "Pre force (N)" if peak == 12e3 else "Main force (N)"
        assert f"columns not used: {other}" in answer.findings
    done = command("record", tmp_path / "log.csv", "--column", "force=Pre force")
    assert done.returncode == 0
    assert 'the force is the column "Pre force (N)"' in done.stdout
    # The plain name is no guess.
    right(said(tmp_path / "log.csv", text.replace("Main force", "Force")))


@pytest.mark.parametrize(
    ("option", "found"),
    [
        ("force=Side", 'log.csv: --column: found no column "Side"; allowed: one of Time (ms)'),
        ("power=Side", '--column: found "power=Side"; allowed: a column and its heading'),
        ("force", '--column: found "force"'),
    ],
)
def test_a_column_that_is_not_there(
    tmp_path: Path, command: Command, option: str, found: str
) -> None:
    (tmp_path / "log.csv").write_text(rows(MS, N1, head="Time (ms),Force (N)"))
    done = command("record", tmp_path / "log.csv", "--column", option)
    assert done.returncode == 2
    assert found in " ".join(done.stderr.split())


def test_a_wrong_unit_is_named_wherever_it_stands(tmp_path: Path) -> None:
    for head, line, written in (
        ("Time (ms),Main force (bar)", 1, 'the unit "bar"'), ("t [ms],force\n", 1, "force without"),
        ("time,force\nms,bar", 2, 'the unit "bar"'),
    ):  # fmt: skip
        with pytest.raises(InputError, match=f"line {line}: found {written}"):
            said(tmp_path / "log.csv", rows(MS, N1, head=head))


# Volts -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("unit", "volts"), [("V", 1.0), ("mV", 1e3)])
def test_volts_are_read_with_their_scale(tmp_path: Path, unit: str, volts: float) -> None:
    """The zero of the amplifier, half a volt here, is taken off as any zero."""
    signal = [f"{volts * (0.5 + f / 4e3):.6f}" for f in FORCE]
    text = rows(MS, signal, head=f"time [ms],force [{unit}]")
    right(said(tmp_path / "log.csv", text, LogAsked(scale=4e3)))


def test_volts_without_a_scale_and_a_scale_without_volts(tmp_path: Path, command: Command) -> None:
    path = tmp_path / "log.csv"
    for unit, options, found in (
        ("V", (), 'in which an amplifier gives a force; allowed: a unit of force. Say what a volt'),
        ("V", (), 'stands for: scaleup record takes --scale "4 kN/V"; elsewhere write'),
        ("N", ("--scale", "4 kN/V"), "--scale: found a scale for a force in N; allowed: a scale "),
        ("V", ("--scale", "4 kN"), '--scale: found "4 kN"; allowed: a force for each volt'),
        ("V", ("--scale", "4 mm/V"), '--scale: found the unit "mm"'),
        ("V", ("--scale", "0.1 N/V"), "--scale: found 0.1 N/V; allowed: 1 N/V to 10000 kN/V"),
        ("V", ("--scale", "-4 kN/V"), "--scale: found -4000 N/V; allowed: 1 N/V to 10000 kN/V"),
    ):  # fmt: skip
        path.write_text(rows(MS, N1, head=f"time [ms],force [{unit}]"))
        done = command("record", path, *options)
        assert done.returncode == 2
        assert found in " ".join(done.stderr.split())
    path.write_text(rows(MS, [f"{f / 4e3:.5f}" for f in FORCE], head="time [ms],force [V]"))
    done = command("record", path, "--scale", "4 kN/V")
    assert "10 main" in done.stdout


# Sign --------------------------------------------------------------------------------------------

TURNED = "the force is negative under load; its sign was turned over"


def parquet(path: Path, time: Array, force: Array) -> ForceLogAnswer:
    pq.write_table(pa.table({"time [s]": time, "force [N]": force}), path)
    return force_log_answer(open_log(path))


@pytest.mark.parametrize("piece", [700, 1 << 20])
@pytest.mark.parametrize("zero", [0.0, 150.0, -900.0, 3e4])
def test_a_negative_force_is_turned_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, piece: int, zero: float
) -> None:
    monkeypatch.setattr(logs, "PIECE_ROWS", piece)
    answer = parquet(tmp_path / "log.parquet", TIME, zero - FORCE)
    right(answer)
    assert TURNED in answer.findings
    upright = parquet(tmp_path / "log.parquet", TIME, zero + FORCE)
    right(upright)
    assert TURNED not in upright.findings


def test_a_long_hold_is_not_taken_for_the_zero(tmp_path: Path) -> None:
    """Four fifths of the log under load, the log beginning idle, and beginning under load."""
    time = np.arange(0.0, 10.0, 1e-3)
    force = np.interp(time, [0.0, 1.0, 1.2, 9.0, 9.1, 10.0], [0.0, 0.0, 1e4, 9.6e3, 0.0, 0.0])
    force += np.random.default_rng(3).normal(0.0, 3.0, time.size)
    for begin in (0, 2000):
        upright = parquet(tmp_path / "log.parquet", time[begin:], force[begin:])
        assert TURNED not in upright.findings
    turned = parquet(tmp_path / "log.parquet", time, -force)
    assert turned.pulses.count == 1
    assert TURNED in turned.findings
    with pytest.raises(InputError, match=r"found a force that begins at -99\d\d N and rests at"):
        parquet(tmp_path / "log.parquet", time[2000:], -force[2000:])


def test_idle_noise_and_drift_decide_no_sign(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A first piece that only drifts downward, by 300 N."""
    monkeypatch.setattr(logs, "PIECE_ROWS", 5000)
    time = np.arange(0.0, 2.0, 1.0 / RATE)
    force = np.concatenate([np.linspace(0.0, -300.0, 5000), FORCE - 300.0])
    right(parquet(tmp_path / "log.parquet", time, force))


def test_loads_on_both_sides(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(logs, "PIECE_ROWS", 5000)
    pulls = np.where((TIME % 0.1 > 0.07) & (TIME % 0.1 < 0.08), -1.0, 0.0)
    answer = parquet(tmp_path / "log.parquet", TIME, FORCE + 6e3 * pulls)
    right(answer)
    assert any(text.startswith("the force falls to 6.0") for text in answer.findings)
    with pytest.raises(InputError, match=r"above and 1\.4\S*e\+04 N below the zero"):
        parquet(tmp_path / "log.parquet", TIME, FORCE + 14e3 * pulls)
    time = np.arange(0.0, 2.0, 1.0 / RATE)
    with pytest.raises(InputError, match=r"column force: found loads of 1\.2\S* N, and later"):
        parquet(tmp_path / "log.parquet", time, np.concatenate([FORCE, -FORCE]))


# Time --------------------------------------------------------------------------------------------


def clock(seconds: float, sign: str = ".") -> str:
    whole, rest = divmod(round(seconds * 1e4), 10_000)
    minutes, second = divmod(whole, 60)
    hours, minute = divmod(minutes, 60)
    return f"{hours % 24:02d}:{minute:02d}:{second:02d}{sign}{rest:04d}"


BEGIN = 86_399.5
"""Half a second before midnight."""
STAMPS = {
    "clock": ("Time", [clock(BEGIN + t) for t in TIME]),
    "comma": ("time [hh:mm:ss]", [clock(BEGIN + t, ",") for t in TIME]),
    "ISO": ("timestamp", [f"2026-11-0{1 + (t >= 0.5)} {clock(BEGIN + t)}" for t in TIME]),
    "T": ("time", [f"2026-11-0{1 + (t >= 0.5)}T{clock(BEGIN + t)}+01:00" for t in TIME]),
    "dots": ("date time", [f"0{1 + (t >= 0.5)}.11.2026 {clock(BEGIN + t, ',')}" for t in TIME]),
    "days": ("time [d]", [f"{46_000.0 + t / 86_400.0:.11f}" for t in TIME]),
    "ms of 1970": ("time [ms]", [f"{1.76e12 + 1e3 * t:.1f}" for t in TIME]),
}  # fmt: skip


@pytest.mark.parametrize("way", STAMPS)
def test_times_as_clocks_and_dates(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    monkeypatch.setattr(log_text, "PIECE_BYTES", 1 << 15)
    heading, stamps = STAMPS[way]
    text = rows(stamps, N1, head=f"{heading};Force [N]", delimiter=";")
    answer = said(tmp_path / "log.csv", text)
    right(answer)
    plain = said(tmp_path / "plain.csv", rows(MS, N1, head=HEAD))
    np.testing.assert_allclose(answer.pulses.moment, plain.pulses.moment, atol=2e-6)
    np.testing.assert_allclose(answer.pulses.dwell, plain.pulses.dwell, rtol=0.02)


@pytest.mark.parametrize("kind", ["timestamp", "time64", "time32", "duration"])
@pytest.mark.parametrize("piece", [700, 1 << 20])
def test_times_of_parquet(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str, piece: int
) -> None:
    monkeypatch.setattr(logs, "PIECE_ROWS", piece)
    unit = 1e4 if kind == "time32" else 1e6  # ms keep one stamp in two
    ticks = np.round((BEGIN + TIME) * 1e6).astype(np.int64)
    force = FORCE
    if kind == "time32":
        ticks, force = ticks[::5] // 1000, FORCE[::5]
    if kind.startswith("time") and kind != "timestamp":
        ticks %= round(86_400 * unit / (10 if kind == "time32" else 1))
    types = {"timestamp": pa.timestamp("us", "UTC"), "time64": pa.time64("us"),
             "time32": pa.time32("ms"), "duration": pa.duration("us")}  # fmt: skip
    raw = pa.array(ticks.astype(np.int32) if kind == "time32" else ticks)
    table = pa.table({"time": raw.cast(types[kind]), "force [N]": force})
    pq.write_table(table, tmp_path / "log.parquet")
    answer = force_log_answer(open_log(tmp_path / "log.parquet"))
    right(answer)
    first = BEGIN if kind == "duration" else 0.0
    assert answer.pulses.moment[0] == pytest.approx(first + 0.04, abs=2e-3)
    assert np.ptp(np.diff(answer.pulses.moment)) < 5e-3


def test_stamps_of_whole_seconds_are_refused_with_the_mend(
    tmp_path: Path, command: Command
) -> None:
    stamps = [clock(BEGIN + t)[:8] for t in TIME]
    (tmp_path / "log.csv").write_text(rows(stamps, N1, head="time,force [N]"))
    done = command("record", tmp_path / "log.csv")
    assert done.returncode == 2
    assert 'scaleup record takes --rate "1 kHz" in its place' in " ".join(done.stderr.split())
    done = command("record", tmp_path / "log.csv", "--rate", "5 kHz")
    assert done.returncode == 0
    told = " ".join(done.stdout.split())
    assert "10 main" in told
    assert "the time is the number of the row at 5000 samples/s, as asked" in told
    assert "columns not used: time" in told


def test_times_that_cannot_be_read_without_a_guess(tmp_path: Path) -> None:
    for stamp in ("11/02/2026 10:15:03", "10:15", "2026-13-02 10:15:03"):
        with pytest.raises(InputError, match=r'line 2, column time: found ".*"; allowed: times su'):
            said(tmp_path / "log.csv", f"time,force [N]\n{stamp},1\n{stamp},2\n")
    with pytest.raises(InputError, match='line 4, column time: found "later"'):
        said(tmp_path / "log.csv", "time,force [N]\n10:15:03.1,1\n10:15:03.2,2\nlater,3\n")


def test_no_time_but_a_rate(tmp_path: Path) -> None:
    asked = LogAsked(rate=RATE)
    right(said(tmp_path / "log.csv", rows(N1, head="force [N]"), asked))
    count = [str(n + 7) for n in range(len(N1))]
    counted = said(tmp_path / "log.csv", rows(count, N1, head="No.,force [N]"), asked)
    right(counted)
    assert any("the time is a count of samples" in text for text in counted.findings)
    gap = [str(n + 7 + 40 * (n > 2000)) for n in range(len(N1))]
    assert said(tmp_path / "log.csv", rows(gap, N1, head="No.,force [N]"), asked).duration == (
        pytest.approx(counted.duration + 40 / RATE)
    )
    with pytest.raises(InputError, match=r'no column time among force .*takes --rate "1 kHz"'):
        said(tmp_path / "log.csv", rows(N1, head="force [N]"))


# Sense -------------------------------------------------------------------------------------------


def test_forces_beyond_sense(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        said(tmp_path / "log.csv", rows(MS, N1, head="time [ms],force [kN]"))
    place = int((np.abs(np.round(FORCE, 1)) > 2000.0).argmax()) + 2
    assert str(caught.value).startswith(
        f"log.csv: line {place}, column force: found {float(N1[place - 2]) * 1e3:.3g} N, read by "
        'the heading "force [kN]"; allowed: forces of a press, up to 2 MN.'
    )


@pytest.mark.parametrize(("peak", "told"), [(12.0, True), (90.0, True), (300.0, False)])
def test_kilonewtons_headed_newtons_are_told(tmp_path: Path, peak: float, told: bool) -> None:
    force = [f"{peak / 12e3 * f:.4f}" for f in FORCE]
    answer = said(tmp_path / "log.csv", rows(MS, force, head=HEAD))
    right(answer, peak)
    text = f'no peak is above {answer.pulses.peak.max():.3g} N, read by the heading "force [N]"; '
    assert any(each.startswith(text) for each in answer.findings) == told
