"""Logs as loggers write them, cut, damaged, with gaps: a clear fault or a result that says so."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from scaleup.answers.force_log import ForceLogAnswer, force_log_answer
from scaleup.arrays import Array
from scaleup.errors import InputError
from scaleup.io import logs
from scaleup.io.logs import open_log

EXAMPLES = Path(__file__).parents[2] / "examples"


def log_of(seconds: float = 1.0, every: float = 0.1, rate: float = 5000.0) -> tuple[Array, Array]:
    time = np.round(np.arange(0.0, seconds, 1.0 / rate), 9)
    phase = (time - 0.03) % every
    force = np.where((phase < 0.02) & (time > 0.03), 12e3 * np.sin(np.pi * phase / 0.02), 0.0)
    return time, force + np.random.default_rng(1).normal(0.0, 5.0, time.size)


def text_of(time: Array, force: Array, delimiter: str = ",", decimal: str = ".") -> str:
    rows = [f"{t * 1e3:.1f}{delimiter}{f / 1e3:.4f}" for t, f in zip(time, force, strict=True)]
    body = "\n".join(rows).replace(".", decimal)
    return f"time [ms]{delimiter}force [kN]\n{body}\n"


def answer(path: Path, data: str | bytes) -> ForceLogAnswer:
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return force_log_answer(open_log(path))


def test_forms_of_the_same_log_give_the_same(tmp_path: Path) -> None:
    time, force = log_of()
    plain = answer(tmp_path / "a.csv", text_of(time, force))
    assert plain.pulses.count == 10
    notes = "Logger 7\r\nOperator; none\r\n\r\n"
    european = notes + text_of(time, force, ";", ",").replace("\n", "\r\n")
    others = [
        answer(tmp_path / "b.csv", european),
        answer(tmp_path / "c.csv", european.encode("utf-16")),
        answer(tmp_path / "d.csv", ("Temp. 21 \N{DEGREE SIGN}C\n" + european).encode("latin-1")),
        answer(tmp_path / "e.tsv", text_of(time, force, "\t", ",")),
        answer(tmp_path / "f.csv", b"\xef\xbb\xbf" + text_of(time, force).encode()),
    ]
    table = pa.table({"force [N]": np.round(force, 1), "time [s]": np.round(time, 4)})
    pq.write_table(table, tmp_path / "g.parquet")
    others.append(force_log_answer(open_log(tmp_path / "g.parquet")))
    for other in others:
        np.testing.assert_allclose(other.pulses.peak, plain.pulses.peak, rtol=1e-9)
        np.testing.assert_allclose(other.pulses.dwell, plain.pulses.dwell, rtol=1e-6)


@pytest.mark.parametrize("rows", [997, 1500, 2048, 4000])
def test_pieces_do_not_matter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, rows: int) -> None:
    """Wherever the pieces end, in a pulse or beside it, the figures are the same."""
    time, force = log_of(3.0)
    table = pa.table({"time [s]": time, "force [N]": force})
    pq.write_table(table, tmp_path / "log.parquet")
    whole = force_log_answer(open_log(tmp_path / "log.parquet")).pulses
    assert whole.count == 30
    monkeypatch.setattr(logs, "PIECE_ROWS", rows)
    parts = force_log_answer(open_log(tmp_path / "log.parquet")).pulses
    assert parts.count == whole.count
    np.testing.assert_allclose(parts.peak, whole.peak, rtol=2e-3)
    np.testing.assert_allclose(parts.above_90, whole.above_90, rtol=0.02)


def test_a_log_cut_anywhere_is_a_log_or_a_fault(tmp_path: Path) -> None:
    """Every figure of a cut log is one of the whole log, or is left out."""
    time, force = log_of(0.5)
    data = text_of(time, force).encode()
    whole = answer(tmp_path / "whole.csv", data).pulses
    rng = np.random.default_rng(3)
    for end in (0, 5, 12, 21, 22, 30, *rng.integers(40, len(data), 40)):
        try:
            record = answer(tmp_path / "cut.csv", data[: int(end)])
        except InputError as error:
            assert len(error.faults) == 1
            continue
        count = record.pulses.count
        assert count <= whole.count
        np.testing.assert_allclose(record.pulses.peak, whole.peak[:count], rtol=2e-3)
        assert any("not finished" in text or "under load" in text for text in record.findings) or (
            data[: int(end)].endswith(b"\n")
        )


FAULTS = [
    ("", "an empty file"),
    ("\n\n", "no line with a time and a force"),
    ("time [ms],force [kN]\n", "found 0 rows; allowed: at least 3 rows"),
    ("time [ms],force [kN]\n0,0\n", "found 1 rows"),
    ("time [ms],force\n0,0\n", "line 1: found force without a unit"),
    ("time [ms],force [bar]\n0,0\n", 'line 1: found the unit "bar"'),
    ("time [ms],force [kN],force [N]\n0,0,0\n", "line 1: found two columns force"),
    ("note\ntime [ms],force [kN]\n0,0\n1,0\n2,hello\n", 'line 5, column force: found "hello"'),
    ("time [ms],force [kN]\n0,0\n1,0\n\n2,1e\n", 'line 5, column force: found "1e"'),
    ("time [ms],force [kN]\n0,0\n1,0\n2,0,0\n3,0\n4,0\n", "line 4: found 3 cells"),
    ("time [ms],force [kN]\n0,0\n1,0\n3,0\n2,0\n", "line 5, column time: found a time 0.001 s be"),
    ("time [ms],force [kN]\n0,0\n1,0\n1,0\n2,0\n", "the same time stamp in 25 % of the rows"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "said"), FAULTS)
def test_a_fault_names_its_line(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        answer(tmp_path / "log.csv", text)
    assert said in str(caught.value)
    assert str(caught.value).startswith("log.csv")


def test_files_that_are_no_log(tmp_path: Path) -> None:
    (tmp_path / "a.parquet").write_bytes(b"PAR1 no more")
    (tmp_path / "b.xlsx").write_bytes(b"")
    pq.write_table(pa.table({"time [s]": ["a"], "force [N]": [1.0]}), tmp_path / "c.parquet")
    for name, said in (
        ("a.parquet", "cannot be read"), ("b.xlsx", 'the ending ".xlsx"'),
        ("c.parquet", "of type string"), ("d.csv", "no such file"),
    ):  # fmt: skip
        with pytest.raises(InputError) as caught:
            force_log_answer(open_log(tmp_path / name))
        assert said in str(caught.value)


def test_a_column_name_that_is_no_text_is_a_damaged_file(tmp_path: Path) -> None:
    path = tmp_path / "log.parquet"
    pq.write_table(pa.table({"time [s]": [0.0], "force [N]": [1.0], "remark": [0.0]}), path)
    path.write_bytes(path.read_bytes().replace(b"remark", b"rema\xdf\xff"))
    with pytest.raises(InputError, match="cannot be read"):
        open_log(path)


@pytest.mark.parametrize("odd", [1e308, -1e308, np.inf, np.nan])
def test_absurd_forces_of_ejection_are_not_measured_and_spoil_no_other(
    tmp_path: Path, odd: float
) -> None:
    """Two absurd samples of the first piece, then all of them."""
    time, force = log_of()
    ejection = np.where((time % 0.1 > 0.06) & (time % 0.1 < 0.07), 300.0, 5.0)
    found = {}
    for name, wrong in (("none", 0), ("two", 2), ("all", time.size)):
        spoilt = ejection.copy()
        spoilt[:wrong] = odd
        columns = {"time [s]": time, "force [N]": force, "ejection force [N]": spoilt}
        pq.write_table(pa.table(columns), tmp_path / f"{name}.parquet")
        found[name] = force_log_answer(open_log(tmp_path / f"{name}.parquet")).pulses
    assert found["none"].ejection == pytest.approx(np.full(10, 295.0))
    assert np.array_equal(found["two"].ejection, found["none"].ejection)
    assert np.isnan(found["all"].ejection).all()


def test_blank_and_absurd_cells_are_left_out_and_told(tmp_path: Path) -> None:
    time, force = log_of()
    lines = text_of(time, force).split("\n")
    lines[41], lines[71], lines[72], lines[73] = "8.0,", "nan,0.1", "14.2,inf", "14.4,1e30"
    record = answer(tmp_path / "log.csv", "\n".join(lines).replace(",inf", ","))
    assert record.log.left_out.blank == 4
    assert (
        "4 rows without a number in time or force left out, first row 41 under"
        in (record.findings[0])
    )
    assert record.samples == time.size - 4


def test_a_few_repeated_stamps_are_left_out(tmp_path: Path) -> None:
    time, force = log_of()
    again = time.copy()
    again[[700, 900]] = again[[699, 899]]
    record = answer(tmp_path / "log.csv", text_of(again, force))
    assert record.log.left_out.repeated == 2
    assert any("2 rows with the time stamp of the row before" in text for text in record.findings)


def test_a_gap_takes_only_the_compression_it_is_in(tmp_path: Path) -> None:
    time, force = log_of()
    keep = np.ones(time.size, dtype=bool)
    keep[690:720] = False
    record = answer(tmp_path / "log.csv", text_of(time[keep], force[keep]))
    assert record.pulses.count == 10
    assert np.isnan(record.pulses.peak).sum() == 1
    assert np.isnan(record.pulses.peak[1])
    assert any(text.startswith("1 gap in the time stamps") for text in record.findings)


def test_a_log_that_begins_or_ends_under_load_says_so(tmp_path: Path) -> None:
    time, force = log_of()
    part = (time > 0.04) & (time < 0.94)
    record = answer(tmp_path / "log.csv", text_of(time[part], force[part]))
    assert record.pulses.count == 8
    assert [text for text in record.findings if "under load" in text] == [
        "the log begins under load; what was being compressed is left out",
        "the log ends under load; what was being compressed is left out",
    ]


def test_a_drifting_zero_is_followed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    time, force = log_of(3.0)
    pq.write_table(
        pa.table({"time [s]": time, "force [N]": force + 300.0 * time}), tmp_path / "log.parquet"
    )
    monkeypatch.setattr(logs, "PIECE_ROWS", 3000)
    record = force_log_answer(open_log(tmp_path / "log.parquet"))
    assert record.pulses.count == 30
    np.testing.assert_allclose(record.pulses.peak, 12e3, rtol=2e-3)
    np.testing.assert_allclose(record.pulses.zero, 300.0 * record.pulses.moment, atol=10.0)
    assert any("the zero drifts by" in text for text in record.findings)


def test_columns_of_no_use_are_named(tmp_path: Path) -> None:
    rows = "".join(f"{n},0,21\n" for n in range(30))
    record = answer(tmp_path / "log.csv", f"time [ms],force [kN],oil temperature\n{rows}")
    assert "columns not used: oil temperature" in record.findings
    assert record.pulses.count == 0


def test_memory_is_bounded_by_the_piece(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is carried from piece to piece stays a pulse with its margins."""
    time, force = log_of(20.0)
    pq.write_table(pa.table({"time [s]": time, "force [N]": force}), tmp_path / "log.parquet")
    monkeypatch.setattr(logs, "PIECE_ROWS", 1000)
    sizes: list[int] = []
    from scaleup.pulses import finder  # noqa: PLC0415  patched here

    joined = finder._joined

    def noted(one: logs.Piece, other: logs.Piece) -> logs.Piece:
        sizes.append(one.time.size)
        return joined(one, other)

    monkeypatch.setattr(finder, "_joined", noted)
    assert force_log_answer(open_log(tmp_path / "log.parquet")).pulses.count == 200
    assert max(sizes) < 300
