"""Figures on a screen in the units the user reads; JSON and CSV stay in core units."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from scaleup.io.units import factor

pytestmark = pytest.mark.slow

MARRAM = Path(__file__).parents[3] / "examples" / "marram"
Screen = Callable[..., str]
Refused = Callable[..., str]
Ask = Callable[..., dict[str, Any]]


@pytest.fixture
def in_pounds(screen: Screen) -> str:
    return screen("translate", MARRAM, "--units", "lbf, in, psi")


def row(shown: str, heading: str) -> list[float]:
    """Return the numbers of a row of the comparison, the lab's first."""
    (line,) = [each for each in shown.splitlines() if each.startswith(f"{heading} ")]
    return [float(number) for number in re.findall(r"(?<![\[\d])\d+(?:\.\d+)?", line)]


def test_a_row_is_the_same_figure_in_the_unit_of_its_heading(in_pounds: str, ask: Ask) -> None:
    form = ask("translate", MARRAM)
    for heading, part, name, unit, core in (
        ("main force, lbf", "settings", "main_force", "lbf", "N"),
        ("main pressure, psi", "settings", "main_pressure", "psi", "MPa"),
        ("thickness, in", "tablet", "thickness", "in", "mm"),
        ("breaking force, lbf", "tablet", "breaking_force", "lbf", "N"),
    ):
        shown = row(in_pounds, heading)
        made = [each[part][name]["value"] for each in form["equivalents"]]
        assert shown[-len(made) :] == pytest.approx(
            [value / factor(unit, core) for value in made], rel=5e-3
        )
    assert "kN" not in in_pounds.split("risks, worst first", maxsplit=1)[0]


def test_sentences_and_other_answers_follow(screen: Screen) -> None:
    assert re.search(r"the lab's own 1,?230 kgf", screen("speed", MARRAM, "--units", "kgf"))
    assert "main force, lbf" in screen("window", MARRAM, "--units", "lbf", "--cells", "6x6")
    alone = ("--to", "rotary-mid-19")
    assert re.search(r"tablets/h +kgf", screen("compare", MARRAM, *alone, "--units", "kgf"))


def test_the_units_of_the_run_table(screen: Screen, altered: Callable[..., Path]) -> None:
    def in_kgf(lines: list[str]) -> list[str]:
        lines = [each for each in lines if not each.startswith("#")]
        head = lines[0].replace("force [kN]", "force [kgf]", 1)
        rows = [each.split(",") for each in lines[1:]]
        return [head, *(",".join([r[0], f"{float(r[1]) * 101.97162:.3f}", *r[2:]]) for r in rows)]

    shown = screen("translate", altered("marram", runs=in_kgf), "--units", "table")
    assert "main force, kgf" in shown
    assert "breaking force, N" in shown
    assert "main force, kN" in screen("translate", MARRAM, "--units", "table")


def test_the_units_of_one_command_are_gone_with_it(in_pounds: str, screen: Screen) -> None:
    assert "main force, kN" in screen("translate", MARRAM)
    assert in_pounds


def test_json_keeps_its_units(ask: Ask) -> None:
    assert ask("translate", MARRAM, "--units", "kgf") == ask("translate", MARRAM)
    usual = ask("speed", MARRAM)
    assert " kN " in usual["reasons"][0]
    assert ask("speed", MARRAM, "--units", "kgf") == usual


def test_units_are_refused_before_anything_is_computed(refused: Refused, tmp_path: Path) -> None:
    assert "--units: found" in refused("translate", tmp_path / "no study", "--units", "parsec")


@pytest.mark.parametrize("unit", ["parsec", "", "N,", "kN/mm"])
def test_what_is_no_unit_of_a_figure_is_told(refused: Refused, unit: str) -> None:
    told = refused("translate", MARRAM, "--units", unit)
    assert told.startswith("scaleup: --units: found ")
    assert '"kgf, in, psi", or "table"' in told
