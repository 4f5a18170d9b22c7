"""Tops cut off in a log without noise are told; holds, round tops, coarse converters are not."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from scaleup.answers.force_log import ForceLogAnswer, force_log_answer
from scaleup.arrays import Array
from scaleup.io.logs import open_log
from scaleup.pulses.clipping import cut_off

STEP = 2e-4


def row_of(shape: Callable[[Array], Array], peaks: Array, length: float, every: float) -> Array:
    """Return forces in N at 5 kHz: pulses of a shape from 0 to 1 and of these peaks."""
    time = np.arange(0.0, every * peaks.size + 0.05, STEP)
    number = np.clip((time // every).astype(int), 0, peaks.size - 1)
    share = (time - number * every - 0.02) / length
    inside = (share > 0.0) & (share < 1.0) & (time < every * peaks.size)
    return np.where(inside, peaks[number] * shape(np.clip(share, 0.0, 1.0)), 0.0)


def half_sine(share: Array) -> Array:
    return np.sin(np.pi * share)


def rotary(share: Array) -> Array:
    """Return a pulse with feet that run out, about that of a roller."""
    return np.asarray(np.cos(np.pi * (share - 0.5)) ** 2)


def trapezoid(share: Array) -> Array:
    return np.interp(share, [0.0, 0.3, 0.7, 1.0], [0.0, 1.0, 1.0, 0.0])


def ramped(share: Array) -> Array:
    """Return a hold reached and left along half a cosine."""
    edge = np.clip(np.minimum(share, 1.0 - share) / 0.2, 0.0, 1.0)
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * edge))


def said(path: Path, force: Array, decimals: int = 1) -> ForceLogAnswer:
    rows = np.column_stack([STEP * np.arange(force.size), np.round(force, decimals)])
    np.savetxt(path, rows, delimiter=",", fmt="%.9g", header="time [s],force [N]", comments="")
    return force_log_answer(open_log(path))


PEAKS = 12e3 * (1.0 + 0.02 * np.sin(np.arange(12.0)))


@pytest.mark.parametrize("shape", [half_sine, rotary])
@pytest.mark.parametrize("ceiling", [6e3, 10e3, 11.6e3])
@pytest.mark.parametrize("step", [0.1, 5.0])
def test_clean_tops_that_are_cut_off(
    tmp_path: Path, shape: Callable[[Array], Array], ceiling: float, step: float
) -> None:
    force = np.round(np.minimum(row_of(shape, PEAKS, 0.04, 0.1), ceiling) / step) * step
    answer = said(tmp_path / "log.csv", force)
    assert answer.pulses.clipped.all()
    assert np.isnan(answer.pulses.peak).all()
    assert any(text.startswith("12 compressions cut off at the") for text in answer.findings)
    alike = np.full(12, 12e3)
    cut = np.minimum(row_of(shape, alike, 0.04, 0.1), ceiling)
    assert said(tmp_path / "log.csv", cut).pulses.clipped.all()


def test_only_those_that_reach_the_end_of_the_range_are(tmp_path: Path) -> None:
    low = np.where(np.arange(12) % 3 == 0, 0.7 * PEAKS, PEAKS)
    answer = said(tmp_path / "log.csv", np.minimum(row_of(half_sine, low, 0.04, 0.1), 10e3))
    assert answer.pulses.clipped.tolist() == [0.0 if n % 3 == 0 else 1.0 for n in range(12)]


WHOLE = {
    "round tops": (half_sine, 0.04, 0.1, 1.0),
    "round tops that are alike": (half_sine, 0.04, 0.1, 0.0),
    "round tops on a coarse converter": (half_sine, 0.04, 50.0, 0.0),
    "a roller on a coarse converter": (rotary, 0.04, 50.0, 0.0),
    "set forces, alike": (trapezoid, 0.08, 0.1, 0.0),
    "set forces on a coarse converter": (trapezoid, 0.08, 20.0, 0.0),
    "holds of their own": (ramped, 0.2, 0.1, 1.0),
    "long holds, alike": (ramped, 0.9, 0.1, 0.0),
    "long holds on a coarse converter": (ramped, 0.9, 20.0, 1.0),
}


@pytest.mark.parametrize("case", WHOLE)
def test_clean_tops_that_are_whole(tmp_path: Path, case: str) -> None:
    shape, length, step, scatter = WHOLE[case]
    peaks = np.round(12e3 + scatter * (PEAKS - 12e3), 1)
    force = row_of(shape, peaks, length, length + 0.1)
    answer = said(tmp_path / "log.csv", np.round(force / step) * step)
    assert answer.pulses.count == 12
    assert not answer.pulses.clipped.any()


def test_two_compressions_are_not_many() -> None:
    sine = 12e3 * np.sin(np.pi * np.arange(200, dtype=np.float64) / 199.0)
    force = np.tile(np.minimum(sine, 1e4), 3)
    time, first = STEP * np.arange(600, dtype=np.float64), 200 * np.arange(3)
    for count in (2, 3):
        some = np.arange(count)
        found = cut_off(time, force, first[some], first[some] + 200, some, 0.0, 0.1)
        assert found.tolist() == [count == 3] * count
