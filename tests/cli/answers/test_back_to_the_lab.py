"""``scaleup translate --from-production``: a production result made again on the lab press."""

from __future__ import annotations

import csv
import re
import subprocess
import tomllib
from collections.abc import Callable
from math import pi
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[3]
EXAMPLES = ROOT / "examples"
Command = Callable[..., subprocess.CompletedProcess[str]]
Screen = Callable[..., str]
Table = Callable[..., list[dict[str, str]]]
Ask = Callable[..., dict[str, Any]]
Refused = Callable[..., str]
Altered = Callable[..., Path]

FESCUE = EXAMPLES / "fescue"
BACK = ("translate", FESCUE, "--from-production", "--run")
MATCHES = ["pressure", "solid-fraction", "strength", "dwell"]
LEFT_OUT = ("F1", "F3", "F4", "F5", "F6", "P1")
"""Runs without which all are of two pressures close to each other."""
ONE_FORM = ("[blend]\n", '[blend]\nhardening = "kawakita"\n')
"""What makes a fit quick where it does not matter."""
AREA = pi / 4 * 10.0**2
"""mm² of the 10 mm flat tips on both presses."""


def made(name: str) -> dict[str, float]:
    """Return a production run as the run table has it."""
    lines = (FESCUE / "runs.csv").read_text().splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    (row,) = [row for row in rows if row["run"] == name]
    return {
        heading.split(" [")[0]: float(value)
        for heading, value in row.items()
        if heading not in {"run", "press"} and value
    }


def equivalent(form: dict[str, Any], match: str) -> dict[str, Any]:
    (found,) = [item for item in form["equivalents"] if item["match"] == match]
    return dict(found)


def value(part: dict[str, Any], name: str) -> float:
    return float(part[name]["value"])


@pytest.mark.parametrize("run", ["P1", "P2"])
def test_the_production_run_is_told_as_measured(ask: Ask, run: str) -> None:
    form, row = ask(*BACK, run)["production"], made(run)
    assert form["run"] == run
    assert value(form["settings"], "main_force") == pytest.approx(row["force"] * 1e3)
    assert value(form["settings"], "main_pressure") == pytest.approx(row["force"] * 1e3 / AREA)
    assert value(form["settings"], "stroke_rate") == pytest.approx(row["speed"])
    tablet = form["tablet"]
    for name in ("weight", "thickness", "breaking_force", "ejection_force"):
        assert value(tablet, name) == pytest.approx(row[name.replace("_", " ")])
    density = float(
        tomllib.loads((FESCUE / "study.toml").read_text())["blend"]["true_density"].split()[0]
    )
    solid = row["weight"] / density / (AREA * row["thickness"])
    assert value(tablet, "solid_fraction") == pytest.approx(solid)
    strength = 2 * row["breaking force"] / (pi * 10.0 * row["thickness"])
    assert value(tablet, "tensile_strength") == pytest.approx(strength)


@pytest.mark.parametrize("run", ["P1", "P2"])
def test_every_match_is_reachable_or_says_why_not(ask: Ask, run: str) -> None:
    form = ask(*BACK, run)
    assert [item["match"] for item in form["equivalents"]] == MATCHES
    for item in form["equivalents"]:
        assert item["reachable"] == (item["reason"] == "")
    assert form["can"]
    assert form["cannot"]


@pytest.mark.parametrize("run", ["P1", "P2"])
def test_the_settings_are_those_the_lab_press_has(ask: Ask, run: str) -> None:
    press = tomllib.loads((ROOT / "profiles" / "presses" / "lab-hydraulic.toml").read_text())
    tooling = tomllib.loads((ROOT / "profiles" / "tooling" / "lab-flat-10.toml").read_text())
    form = ask(*BACK, run)
    assert form["lab"] == {"press": "lab-hydraulic", "tooling": "lab-flat-10"}
    for item in form["equivalents"]:
        settings = item["settings"]
        assert settings["stroke_rate"]["value"] is None
        for name, unit, range_ in (
            ("hold", 1.0, press["hold"]),
            ("loading_rate", 1e3, press["loading_rates"]),
        ):
            low, high = (float(range_[end].split()[0]) * unit for end in ("min", "max"))
            assert low <= value(settings, name) <= high
        if item["reachable"]:
            rating = float(tooling["tip_force_rating"].split()[0]) * 1e3
            assert value(settings, "main_force") <= rating
        force, pressure = value(settings, "main_force"), value(settings, "main_pressure")
        assert force == pytest.approx(pressure * AREA)


@pytest.mark.parametrize("run", ["P1", "P2"])
def test_every_match_keeps_what_it_is_named_for(ask: Ask, run: str) -> None:
    form = ask(*BACK, run)
    settings, tablet = form["production"]["settings"], form["production"]["tablet"]
    same = equivalent(form, "pressure")["settings"]
    assert value(same, "main_pressure") == pytest.approx(value(settings, "main_pressure"))
    dense = equivalent(form, "solid-fraction")["tablet"]
    assert value(dense, "solid_fraction") == pytest.approx(
        value(tablet, "solid_fraction"), abs=0.01
    )
    strong = equivalent(form, "strength")["tablet"]
    measured = value(tablet, "tensile_strength")
    assert value(strong, "tensile_strength") == pytest.approx(measured, rel=0.01)
    for item in form["equivalents"]:
        assert value(item["tablet"], "weight") == pytest.approx(value(tablet, "weight"))


@pytest.mark.parametrize("run", ["P1", "P2"])
def test_the_slow_lab_press_takes_less_force_and_cannot_be_as_quick(ask: Ask, run: str) -> None:
    form = ask(*BACK, run)
    production = form["production"]["settings"]
    for match in ("solid-fraction", "strength"):
        settings = equivalent(form, match)["settings"]
        assert value(settings, "main_force") < value(production, "main_force")
    dwell = equivalent(form, "dwell")
    assert not dwell["reachable"]
    assert value(dwell["settings"], "hold") == 0.0
    assert value(dwell["settings"], "loading_rate") == pytest.approx(20e3)
    lab, here = (value(each, "effective_dwell") for each in (dwell["settings"], production))
    others = [value(item["settings"], "effective_dwell") for item in form["equivalents"][:3]]
    assert here < lab < min(others)
    found = re.search(r" ([\d.]+) times production's", dwell["reason"])
    assert found is not None
    assert float(found[1]) == pytest.approx(lab / here, rel=0.06)


def test_the_quicker_run_has_the_shorter_pulse(ask: Ask) -> None:
    slow, quick = (ask(*BACK, run)["production"]["settings"] for run in ("P1", "P2"))
    assert value(slow, "contact_time") > value(quick, "contact_time")
    assert value(slow, "effective_dwell") > value(quick, "effective_dwell")
    assert value(slow, "strain_rate") < value(quick, "strain_rate")


def test_what_a_lab_press_lacks_is_told(ask: Ask, screen: Screen) -> None:
    told = " ".join(ask(*BACK, "P2")["cannot"])
    row = made("P2")
    assert f"precompression ({row['precompression'] / row['force'] * 100:.0f} %" in told
    assert "forced feeder" in told
    assert "strain rate" in told
    form = ask(*BACK, "P2")
    shown = " ".join(screen(*BACK, "P2").split())
    for line in (*form["can"], *form["cannot"]):
        assert " ".join(line.split()) in shown
    assert "runs P2, named" in shown


def test_the_only_production_run_needs_no_name(ask: Ask, altered: Altered) -> None:
    study = altered(
        "fescue", ONE_FORM, runs=lambda lines: [line for line in lines if line[:2] != "P1"]
    )
    alone = ask("translate", study, "--from-production")
    assert alone["production"]["run"] == "P2"
    assert [item["match"] for item in alone["equivalents"]] == MATCHES


def test_what_the_lab_tips_do_not_bear_is_not_reachable(ask: Ask, altered: Altered) -> None:
    study = altered("fescue", ONE_FORM, ('tooling = "lab-flat-10"', 'tooling = "weak"'))
    text = (ROOT / "profiles" / "tooling" / "lab-flat-10.toml").read_text()
    (study / "tooling").mkdir()
    (study / "tooling" / "weak.toml").write_text(text.replace('"40 kN"', '"9.9 kN"'))
    form = ask("translate", study, "--from-production", "--run", "P2")
    pressure, solid = (equivalent(form, match) for match in ("pressure", "solid-fraction"))
    assert not pressure["reachable"]
    assert "9.9 kN" in pressure["reason"]
    assert solid["reachable"]
    assert value(solid["settings"], "main_force") < 9.9e3
    assert not any(line.startswith("the peak pressure") for line in form["can"])


def test_the_table_holds_what_the_answer_holds(table: Table, ask: Ask) -> None:
    rows = table(*BACK, "P2")
    form = ask(*BACK, "P2")
    told = {"production": form["production"]} | {
        item["match"]: item for item in form["equivalents"]
    }
    left = {(row["match"], row["part"], row["quantity"]): row for row in rows}
    assert len(left) == len(rows)
    for match, item in told.items():
        for part in ("settings", "tablet"):
            for name, each in item[part].items():
                row = left.pop((match, part, name))
                assert row["reachable"] == ("yes" if item.get("reachable", True) else "no")
                assert row["unit"] == each["unit"]
                assert row["reason"] == each.get("reason", "")
                for key in ("value", "low", "high"):
                    assert row[key] == ("" if each[key] is None else repr(each[key]))
    assert not left


def blank(name: str, column: str) -> Callable[[list[str]], list[str]]:
    """Return a change of a run table: one cell of a run is left empty."""

    def change(lines: list[str]) -> list[str]:
        first = next(at for at, line in enumerate(lines) if not line.startswith("#"))
        place = next(
            at for at, head in enumerate(lines[first].split(",")) if head.startswith(column)
        )
        return [
            ",".join("" if at == place else cell for at, cell in enumerate(line.split(",")))
            if line.startswith(f"{name},")
            else line
            for line in lines
        ]

    return change


def test_what_a_production_run_lacks_is_said_of_the_production_run(
    ask: Ask, altered: Altered
) -> None:
    study = altered("fescue", ONE_FORM, runs=blank("P2", "breaking force"))
    form = ask("translate", study, "--from-production", "--run", "P2")
    strength = equivalent(form, "strength")
    assert not strength["reachable"]
    assert strength["settings"]["main_pressure"]["value"] is None
    assert equivalent(form, "solid-fraction")["reachable"]
    reason = form["production"]["tablet"]["breaking_force"]["reason"]
    assert "P2" in reason
    assert "lab run" not in reason


def test_a_production_run_without_a_speed_is_refused(refused: Refused, altered: Altered) -> None:
    study = altered("fescue", runs=blank("P2", "speed"))
    lines = (study / "runs.csv").read_text().splitlines()
    place = next(at for at, line in enumerate(lines, start=1) if line.startswith("P2,"))
    told = refused("translate", study, "--from-production", "--run", "P2")
    assert told.startswith(f"scaleup: runs.csv: line {place}, column speed: found no speed")


def test_production_runs_that_do_not_go_with_their_tooling_are_no_crash(
    command: Command, altered: Altered
) -> None:
    # cups hold more than flat tips: the same weight and thickness make a looser tablet
    study = altered("fescue", ('tooling = "b-flat-10"', 'tooling = "b-convex-10"'))
    done = command("translate", study, "--from-production", "--run", "P2", "--draws", "200")
    assert done.returncode in {0, 2}


def test_without_a_fit_the_lab_press_imitates_nothing_and_no_heading_stands_alone(
    ask: Ask, screen: Screen, altered: Altered
) -> None:
    study = altered(
        "fescue",
        runs=lambda lines: [line for line in lines if not line.startswith(LEFT_OUT)],
    )
    words = ("translate", study, "--from-production", "--run", "P2")
    form = ask(*words)
    assert form["powder"]["evidence"] == "not available"
    assert not any(item["reachable"] for item in form["equivalents"])
    assert form["can"] == []
    lines = screen(*words).splitlines()
    for heading in ("the lab press can imitate", "it cannot imitate"):
        if heading in lines:
            assert lines[lines.index(heading) + 1].startswith("  - ")
