"""The plot in plain characters: its axes, its band, its level, at any width."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from scaleup.show.plot import BAND, LEVEL, LINE, Curve, plot_text

X = np.linspace(10.0, 75.0, 7)
FALLING = np.linspace(2.4, 2.2, 7)


def drawn(
    middle: NDArray[np.float64] = FALLING, *, half: float = 0.1, level: float | None = 2.0,
    width: int = 60,
) -> list[str]:  # fmt: skip
    curve = Curve(X, middle, middle - half, middle + half, level)
    return plot_text(curve, "a heading", "rpm", width).splitlines()


def body(lines: list[str]) -> list[str]:
    return [line.split("|", 1)[1] for line in lines if "|" in line]


def ticks(lines: list[str]) -> list[float]:
    return [
        float(line.split("|")[0]) for line in lines if line.split("|")[0].strip() and "|" in line
    ]


@pytest.mark.parametrize("width", [40, 60, 76])
def test_a_plot_is_as_wide_as_asked_and_carries_both_ends(width: int) -> None:
    heading, *rest = drawn(width=width)
    assert heading == "a heading"
    assert max(map(len, rest)) == width
    assert rest[-1].split() == ["10", "75", "rpm"]
    assert len(rest[-1]) == len(rest[-2]) == width


def test_a_narrow_plot_is_still_drawn() -> None:
    assert drawn(width=5)[-1].split() == ["10", "75", "rpm"]


def test_the_ticks_fall_and_enclose_band_and_level() -> None:
    marks = ticks(drawn())
    assert len(marks) == 3
    assert marks == sorted(marks, reverse=True)
    assert marks[-1] < 2.0
    assert marks[0] > 2.5


def test_the_ticks_of_a_narrow_range_differ() -> None:
    marks = ticks(drawn(np.linspace(200.4, 200.2, 7), half=0.1, level=200.0))
    assert len(set(marks)) == len(marks)


def test_a_falling_curve_is_drawn_falling_within_its_band() -> None:
    lines = body(drawn())
    places = [
        next(row for row, line in enumerate(lines) if line[column : column + 1] == LINE)
        for column in range(50)
    ]
    assert places == sorted(places)
    assert places[0] < places[-1]
    for column, place in enumerate(places):
        marks = [line.ljust(50)[column] for line in lines]
        assert marks.count(LINE) == 1
        around = [row for row, mark in enumerate(marks) if mark == BAND]
        assert min(around) < place < max(around)
        assert around == [row for row in range(min(around), max(around) + 1) if row != place]


def test_the_level_is_a_line_across_below_the_curve() -> None:
    lines = body(drawn())
    (place,) = [row for row, line in enumerate(lines) if LEVEL in line]
    assert lines[place] == LEVEL * 50
    assert all(LINE not in line for line in lines[place:])


def test_a_level_inside_the_band_does_not_hide_it() -> None:
    lines = body(drawn(np.full(7, 2.0), level=2.0))
    assert LEVEL not in "".join(lines)
    assert sum(line.count(LINE) for line in lines) == 50


def test_without_a_level_none_is_drawn() -> None:
    assert LEVEL not in "".join(body(drawn(level=None)))


def test_a_curve_without_width_and_slope_is_a_line() -> None:
    lines = body(drawn(np.full(7, 3.0), half=0.0, level=None))
    assert sum(line == LINE * 50 for line in lines) == 1
    assert BAND not in "".join(lines)
