"""What a program reads: the JSON and the CSV of a translation, whole, equal and repeatable."""

from __future__ import annotations

import csv
import hashlib
import json
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "examples"
NAMES = ("marram", "dunlin", "sedge")
FEW = ("--draws", "300")
MATCHES = ["pressure", "solid-fraction", "strength", "dwell"]
SETTINGS = {
    "main_pressure": "MPa",
    "main_force": "N",
    "precompression_force": "N",
    "turret_speed": "rpm",
    "output": "1/h",
    "fill_depth": "mm",
    "tip_separation": "mm",
    "dwell_time": "s",
    "effective_dwell": "s",
    "time_above_90": "s",
    "contact_time": "s",
    "punch_velocity": "mm/s",
    "strain_rate": "1/s",
}
TABLET = {
    "weight": "mg",
    "solid_fraction": "1",
    "thickness": "mm",
    "tensile_strength": "MPa",
    "breaking_force": "N",
    "ejection_force": "N",
}
Command = Callable[..., subprocess.CompletedProcess[str]]


def answered(command: Command, study: Path, *words: str | Path) -> dict[str, Any]:
    """Return the JSON of a study; a number that strict JSON does not know fails."""
    done = command("translate", study, *FEW, "--json", *words)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    form = json.loads(done.stdout, parse_constant=pytest.fail)
    assert isinstance(form, dict)
    return form


def without_fit(folder: Path) -> Path:
    """Return a study of one condition without weight or thickness: geometry alone."""
    study = Path(shutil.copytree(EXAMPLES / "marram", folder / "bare"))
    (study / "runs.csv").write_text("run,force [kN],hold [s]\nM4,12.1,1\nM4,12.0,1\n")
    return study


def quantities(form: object) -> Iterator[dict[str, Any]]:
    """Yield every quantity, however deep; facts have no band."""
    if isinstance(form, dict) and {"value", "unit"} <= set(form):
        yield form
    elif isinstance(form, dict):
        for name, each in form.items():
            yield from quantities(each) if name != "facts" else ()
    elif isinstance(form, list):
        for each in form:
            yield from quantities(each)


def assert_shape(form: dict[str, Any]) -> None:
    assert list(form) == [
        "format", "tool", "inputs", "seed", "draws", "study", "lab", "production", "powder",
        "logged_pulses", "equivalents", "risks", "verdict", "budget", "assumed", "caution",
    ]  # fmt: skip
    assert form["format"] == "scaleup translation 1"
    assert [item["match"] for item in form["equivalents"]] == MATCHES
    for item in [form["lab"], *form["equivalents"]]:
        assert {name: each["unit"] for name, each in item["settings"].items()} == SETTINGS
        assert {name: each["unit"] for name, each in item["tablet"].items()} == TABLET
    for item in form["equivalents"]:
        assert item["reachable"] == (item["reason"] == "")
        assert 0.0 <= item["share_within_limits"] <= 1.0
    for risk in form["risks"]:
        told = {"code", "severity", "message", "evidence", "action", "effect"}
        assert set(risk) == told | {"about", "facts"}
        assert all(risk[part] for part in told)
        numbers = [each for each in risk["facts"].values() if isinstance(each, dict)]
        assert numbers
        assert all(set(each) == {"value", "unit"} for each in numbers)
    assert set(form["verdict"]) == {"answer", "reasons"}
    assert form["verdict"]["reasons"]


def assert_quantity(quantity: dict[str, Any]) -> None:
    value, low, high = (quantity[key] for key in ("value", "low", "high"))
    assert set(quantity) - {"reason"} == {"value", "unit", "low", "high"}
    if None in (value, low, high):
        assert quantity["reason"]
    else:
        assert low <= high
        assert set(quantity) == {"value", "unit", "low", "high"}
    if value is None:
        assert (low, high) == (None, None)


@pytest.mark.parametrize("name", NAMES)
def test_json_has_the_fixed_shape(command: Command, name: str) -> None:
    form = answered(command, EXAMPLES / name)
    assert_shape(form)
    found = list(quantities(form))
    assert len(found) > len(MATCHES) * (len(SETTINGS) + len(TABLET))
    for quantity in found:
        assert_quantity(quantity)


def test_json_has_the_fixed_shape_where_nothing_can_be_fitted(
    command: Command, tmp_path: Path
) -> None:
    form = answered(command, without_fit(tmp_path))
    assert_shape(form)
    for quantity in quantities(form):
        assert_quantity(quantity)
    assert form["verdict"]["answer"] == "not enough evidence"
    assert form["powder"]["evidence"] == "not available"
    assert form["powder"]["reasons"]
    # 45 rpm on 16 stations, one tablet for each in a turn; the tip area of a 10 mm flat punch
    pressure = form["equivalents"][0]["settings"]
    assert pressure["output"]["value"] == pytest.approx(45 * 60 * 19)
    assert pressure["main_pressure"]["value"] == pytest.approx(12050 / 78.5398163, rel=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_inputs_carry_the_hash_of_what_was_read(command: Command, name: str) -> None:
    form = answered(command, EXAMPLES / name)
    digests = {item["file"]: item["sha256"] for item in form["inputs"]}
    profiles = {f"profiles/presses/{form[side]['press']}.toml" for side in ("lab", "production")}
    profiles |= {f"profiles/tooling/{form[side]['tooling']}.toml" for side in ("lab", "production")}
    borrowed = {"profiles/materials/rate-sensitivity.toml"} if name == "dunlin" else set()
    assert set(digests) == {"study.toml", "runs.csv"} | profiles | borrowed
    for file, digest in digests.items():
        path = (ROOT if file.startswith("profiles/") else EXAMPLES / name) / file
        assert digest == hashlib.sha256(path.read_bytes()).hexdigest()


def test_same_seed_same_bytes(command: Command) -> None:
    first, again, other = (
        command("translate", EXAMPLES / "marram", *FEW, "--json", "--seed", seed).stdout
        for seed in ("3", "3", "4")
    )
    assert first == again
    forms = [json.loads(each) for each in (first, other)]
    assert [form["seed"] for form in forms] == [3, 4]
    pressures = [form["equivalents"][1]["settings"]["main_pressure"] for form in forms]
    assert pressures[0] != pressures[1]


def test_options_override_the_study(command: Command) -> None:
    asked = ("--to", "rotary-single-31", "--tooling", "b-convex-10", "--speed", "60 rpm")
    form = answered(command, EXAMPLES / "marram", *asked, "--confidence", "95 %")
    assert form["production"]["press"] == "rotary-single-31"
    assert form["production"]["tooling"] == "b-convex-10"
    assert form["production"]["speed"]["value"] == pytest.approx(60.0)
    assert form["study"]["confidence"] == pytest.approx(0.95)
    assert form["draws"] == 300


@pytest.mark.parametrize("written", ["1 Hz", "1 rev/s", "3600 turns/h", "60/min"])
def test_a_speed_is_read_in_any_unit_of_speed(command: Command, written: str) -> None:
    form = answered(command, EXAMPLES / "marram", "--speed", written)
    assert form["production"]["speed"]["value"] == pytest.approx(60.0)


def rows_of(text: str) -> dict[tuple[str, str], dict[str, str]]:
    """Return the lines of a CSV by match and quantity, each once."""
    rows = list(csv.DictReader(text.splitlines()))
    found = {(row["match"], row["quantity"]): row for row in rows}
    assert len(found) == len(rows)
    return found


def number(written: str) -> float | None:
    return float(written) if written else None


@pytest.mark.parametrize("name", NAMES)
def test_csv_holds_what_json_holds(command: Command, tmp_path: Path, name: str) -> None:
    file = tmp_path / "out.csv"
    form = answered(command, EXAMPLES / name, "--csv", file)
    rows = rows_of(file.read_text(encoding="utf-8"))
    told = {"lab": form["lab"]} | {item["match"]: item for item in form["equivalents"]}
    assert {match for match, _ in rows} == set(told)
    for match, item in told.items():
        reachable = "yes" if item.get("reachable", True) else "no"
        for part in ("settings", "tablet"):
            for quantity, each in item[part].items():
                row = rows.pop((match, quantity))
                assert (row["reachable"], row["part"]) == (reachable, part)
                assert row["unit"] == each["unit"]
                assert [number(row[key]) for key in ("value", "low", "high")] == [
                    each[key] for key in ("value", "low", "high")
                ]
                assert row["reason"] == each.get("reason", "")
    assert not rows


def test_csv_is_not_replaced_unasked(command: Command, tmp_path: Path) -> None:
    file = tmp_path / "out.csv"
    file.write_text("mine")
    refused = command("translate", EXAMPLES / "marram", *FEW, "--csv", file)
    assert refused.returncode == 2
    assert refused.stdout == ""
    assert refused.stderr.startswith(f"scaleup: {file}: found a file that exists")
    assert file.read_text() == "mine"
    assert command("translate", EXAMPLES / "marram", *FEW, "--csv", file, "--force").returncode == 0
    assert file.read_text().startswith("match,")
    assert [path.name for path in tmp_path.iterdir()] == ["out.csv"]


@pytest.mark.parametrize("place", ["nowhere/out.csv", "."])
def test_csv_needs_a_place(command: Command, tmp_path: Path, place: str) -> None:
    done = command("translate", EXAMPLES / "marram", *FEW, "--csv", tmp_path / place)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("scaleup: ")
    assert done.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_strict_ends_with_three_only_for_a_severe_risk(command: Command) -> None:
    for name in NAMES:
        done = command("translate", EXAMPLES / name, *FEW, "--strict", "--json")
        severe = [risk for risk in json.loads(done.stdout)["risks"] if risk["severity"] == "severe"]
        assert done.returncode == (3 if severe else 0)
    assert command("translate", EXAMPLES / "sedge", *FEW, "--strict").returncode == 3
