"""What a row of compressions tells, and the stiffness of a press without powder."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from scaleup.answers.force_log import ForceLogAnswer, force_log_answer
from scaleup.io.logs import open_log
from scaleup.pulses.block import Shape
from scaleup.pulses.stiffness import stiffness_of

EXAMPLES = Path(__file__).parents[2] / "examples"


def answer(path: Path, begins: Any, peaks: Any, length: float = 0.02) -> ForceLogAnswer:
    time = np.arange(0.0, float(begins.max()) + 0.2, 2e-4)
    force = np.random.default_rng(1).normal(0.0, 5.0, time.size)
    for begin, peak in zip(begins, peaks, strict=True):
        inside = (time > begin) & (time < begin + length)
        force[inside] += peak * np.sin(np.pi * (time[inside] - begin) / length)
    rows = np.column_stack([time, force])
    np.savetxt(path, rows, delimiter=",", header="time [s],force [N]", comments="", fmt="%.6g")
    return force_log_answer(open_log(path))


def test_precompression_is_told_from_main(tmp_path: Path) -> None:
    rng = np.random.default_rng(2)
    main = 0.1 + 0.1 * np.arange(12)
    begins = np.sort(np.concatenate([main, main - 0.04]))
    peaks = np.where(np.arange(24) % 2, 14e3, 4e3) * (1.0 + 0.05 * rng.standard_normal(24))
    record = answer(tmp_path / "log.csv", begins, peaks)
    assert record.pattern.precompression.tolist() == [True, False] * 12
    assert record.pattern.interval == pytest.approx(0.1, rel=1e-3)
    alike = answer(tmp_path / "b.csv", main, np.full(12, 14e3) * (1 + 0.05 * rng.normal(size=12)))
    assert not alike.pattern.precompression.any()


def test_small_and_large_in_no_order_are_not_precompression(tmp_path: Path) -> None:
    begins = 0.1 + 0.1 * np.arange(12)
    peaks = np.array([1, 1, 1, 2, 2, 1, 1, 2, 2, 2, 1, 2]) * 7e3
    assert not answer(tmp_path / "log.csv", begins, peaks).pattern.precompression.any()


def test_missing_and_empty_and_double_are_counted(tmp_path: Path) -> None:
    begins = 0.1 + 0.1 * np.arange(20)
    peaks = np.full(20, 12e3)
    lacking = answer(tmp_path / "a.csv", np.delete(begins, [5, 11, 12]), peaks[:17])
    assert lacking.pattern.missing == 3
    assert lacking.pattern.missing_after == pytest.approx((0.51, 1.11), abs=2e-3)
    empty = peaks.copy()
    empty[7] = 800.0
    weak = answer(tmp_path / "b.csv", begins, empty)
    assert np.flatnonzero(weak.pattern.weak).tolist() == [7]
    assert weak.pattern.missing == 0
    assert any("no tablet in the die" in text for text in weak.findings)
    twice = np.sort(np.append(begins, begins[9] + 0.03))
    double = answer(tmp_path / "c.csv", twice, np.full(21, 12e3))
    assert np.flatnonzero(double.pattern.double).tolist() == [10]
    assert any("struck twice" in text for text in double.findings)


def test_by_hand_nothing_is_missing(tmp_path: Path) -> None:
    begins = np.cumsum(np.random.default_rng(4).uniform(0.08, 0.5, 12))
    record = answer(tmp_path / "log.csv", begins, np.full(12, 12e3))
    assert record.pattern.interval is None
    assert record.pattern.missing == 0
    assert not record.pattern.double.any()


def test_the_example_of_a_rotary_press() -> None:
    record = force_log_answer(open_log(EXAMPLES / "bracken" / "records" / "rotary.csv"))
    pattern = record.pattern
    assert int(pattern.precompression.sum()) == 20
    assert pattern.missing == 1
    assert pattern.interval == pytest.approx(60.0 / 45.0 / 16.0, rel=5e-3)
    ejected = record.pulses.ejection[~pattern.precompression]
    assert np.nanmin(ejected[:-1]) > 250.0
    assert np.isnan(record.pulses.ejection[pattern.precompression]).all()


def shapes(compliance: float, count: int = 3, noise: float = 0.001) -> list[Shape]:
    rng = np.random.default_rng(5)
    time = np.linspace(0.0, 1.0, 400)
    force = 15e3 * np.clip(np.sin(np.pi * time), 0.0, None)
    return [
        Shape(time, force, 8.05 - compliance * force + rng.normal(0.0, noise, time.size))
        for _ in range(count)
    ]


def test_stiffness_is_found_again() -> None:
    stiffness = stiffness_of(shapes(7e-6), 8.0)
    assert abs(stiffness.compliance - 7e-6) < 2.0 * stiffness.compliance_error
    assert stiffness.compliance_error < 0.05 * 7e-6
    assert stiffness.offset == pytest.approx(0.05, abs=2e-3)
    one = stiffness_of(shapes(7e-6, 1))
    assert abs(one.compliance - 7e-6) < 2.0 * one.compliance_error


def test_the_slug_s_own_shortening_is_taken_off() -> None:
    bare, with_slug = stiffness_of(shapes(7e-6)), stiffness_of(shapes(7e-6), 8.0, 77.0)
    assert bare.compliance - with_slug.compliance == pytest.approx(8.0 / (210e3 * 77.0))


def test_a_position_that_does_not_close_gives_no_stiffness() -> None:
    opening = [Shape(each.time, each.force, -each.position) for each in shapes(7e-6)
               if each.position is not None]  # fmt: skip
    with pytest.raises(ValueError, match="no compression with a position that closes"):
        stiffness_of(opening)
    with pytest.raises(ValueError, match="no compression"):
        stiffness_of([Shape(each.time, each.force, None) for each in shapes(7e-6)])
