"""``scaleup record`` on the shipped logs."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from tests.cli.conftest import Command

RECORDS = Path(__file__).parents[2] / "examples" / "bracken" / "records"


def test_the_screen_fits_and_says_what_was_found(command: Command) -> None:
    done = command("record", RECORDS / "rotary.csv")
    assert done.returncode == 0, done.stderr
    assert max(map(len, done.stdout.splitlines())) <= 80
    for text in (
        "20 precompression, 19 main", "one main compression every 83", "1 compression missing",
        "ejection", "samples/s are few for that",
    ):  # fmt: skip
        assert text in " ".join(done.stdout.split()), text


def test_json_and_csv_say_the_same(command: Command, tmp_path: Path) -> None:
    done = command("record", RECORDS / "B3.csv", "--json", "--csv", tmp_path / "b3.csv",
                   "--press-stiffness", "129 kN/mm")  # fmt: skip
    found = json.loads(done.stdout)
    assert found["format"] == "scaleup record 1"
    assert len(found["compressions"]) == 3
    with (tmp_path / "b3.csv").open() as file:
        rows = list(csv.DictReader(file))
    for row, item in zip(rows, found["compressions"], strict=True):
        assert float(row["peak [N]"]) == item["peak"]["value"]
        assert item["peak"]["low"] < item["peak"]["value"] < item["peak"]["high"]
        assert 3.8 < float(row["in die thickness [mm]"]) < 4.0
        assert item["ejection"]["value"] is None
        assert item["ejection"]["reason"]


def test_stiffness_of_a_slug(command: Command) -> None:
    done = command("record", RECORDS / "steel-slug.csv", "--stiffness", "--slug", "8 mm",
                   "--slug-diameter", "9.9 mm", "--json")  # fmt: skip
    found = json.loads(done.stdout)["stiffness"]
    # What the invented log was made with: the bench press with its punches.
    assert found["low"] < 129.4e3 < found["high"]
    assert found["high"] / found["low"] < 1.05
    shown = command("record", RECORDS / "steel-slug.csv", "--stiffness").stdout
    assert "stiffness 121" in shown


@pytest.mark.parametrize("ending", ["svg", "png"])
def test_a_picture(command: Command, tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"log.{ending}"
    assert command("record", RECORDS / "B3.csv", "--plot", path).returncode == 0
    assert path.stat().st_size > 5000
    again = command("record", RECORDS / "B3.csv", "--plot", path)
    assert again.returncode == 2
    assert "exists" in again.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--exponent", "0.5"), "--exponent: found 0.5; allowed: 0 to 0.2"),
        (("--range", "40 bar"), "--range"),
        (("--slug", "8 mm"), "--slug"),
        (("--stiffness", "--slug", "8 mm"), "--slug and --slug-diameter together"),
        (("--stiffness", "--csv", "x.csv"), "--csv: found --csv with --stiffness"),
        (("--plot", "x.svg", "--csv", "x.svg"), "--csv: found the file of --plot"),
        (("--plot", "x.pdf"), '--plot: found the ending ".pdf"; allowed: .svg or .png'),
    ],
)
def test_options_that_cannot_be(command: Command, words: tuple[str, ...], said: str) -> None:
    done = command("record", RECORDS / "B3.csv", *words)
    assert done.returncode == 2
    assert said in done.stderr
    assert len(done.stderr.splitlines()) <= 3


def test_what_needs_a_position_says_so(command: Command, tmp_path: Path) -> None:
    done = command("record", RECORDS / "rotary.csv", "--stiffness")
    assert done.returncode == 2
    assert "no column position" in done.stderr
    assert command("record", tmp_path / "none.csv").returncode == 2
    powder = command("record", RECORDS / "rotary.csv", "--press-stiffness", "100 kN/mm")
    assert powder.returncode == 2


def test_a_fault_found_late_leaves_no_picture(command: Command, tmp_path: Path) -> None:
    path, taken = tmp_path / "log.svg", tmp_path / "taken.csv"
    taken.write_text("kept")
    long_slug = ("--stiffness", "--slug", "100 mm", "--slug-diameter", "1 mm")
    done = command("record", RECORDS / "steel-slug.csv", *long_slug, "--plot", path)
    assert done.returncode == 2
    assert "a slug that gives more than was logged" in done.stderr
    done = command("record", RECORDS / "B3.csv", "--csv", taken, "--plot", path)
    assert done.returncode == 2
    assert "taken.csv" in done.stderr
    assert not path.exists()
    assert taken.read_text() == "kept"


def test_without_a_rate_exponent_there_is_no_effective_dwell(command: Command) -> None:
    """Of a power without bound the noise would decide, not the pulse."""
    done = command("record", RECORDS / "B3.csv", "--exponent", "0", "--json")
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert all(each["effective_dwell"]["value"] is None for each in found["compressions"])
    assert all(each["time_above_90"]["value"] > 1.0 for each in found["compressions"])
    assert any("3 compressions without an effective dwell" in each for each in found["findings"])


def test_blanks_in_the_position_leave_the_stiffness_as_it_is(
    command: Command, tmp_path: Path
) -> None:
    lines = (RECORDS / "steel-slug.csv").read_text().splitlines()
    head = next(number for number, line in enumerate(lines) if line.startswith("time"))
    at = lines[head].split(",").index(next(x for x in lines[head].split(",") if "position" in x))
    for number in range(head + 1, len(lines), 7):
        cells = lines[number].split(",")
        cells[at] = ""
        lines[number] = ",".join(cells)
    (tmp_path / "blank.csv").write_text("\n".join(lines))

    def stiffness(path: Path) -> float:
        done = command("record", path, "--stiffness", "--json")
        assert done.returncode == 0, done.stderr
        return float(json.loads(done.stdout)["stiffness"]["value"])

    whole = stiffness(RECORDS / "steel-slug.csv")
    assert stiffness(tmp_path / "blank.csv") == pytest.approx(whole, rel=0.01)


def test_stations_of_a_profile_or_by_their_number(command: Command) -> None:
    log = RECORDS / "rotary.csv"
    asked = (("--press", "rotary-mid-19"), ("--stations", "19"))
    one, two = (json.loads(command("record", log, *each, "--json").stdout) for each in asked)
    assert one["stations"] == two["stations"]
    assert len(one["stations"]["each"]) == 19
    assert one["stations"]["speed"]["value"] == pytest.approx(60.0 / (19 * 0.083), rel=0.01)
    assert one["stations"]["silent"] == [8]
    screen = command("record", log, *asked[0]).stdout
    assert max(map(len, screen.splitlines())) <= 80
    assert "19 stations, 1.05 turns at 37.9 rpm" in screen
    assert "no compression of station 8" in screen


def test_stations_that_contradict_the_profile_end_with_status_2(command: Command) -> None:
    log = RECORDS / "rotary.csv"
    done = command("record", log, "--press", "rotary-mid-19", "--stations", "16")
    assert done.returncode == 2
    assert "--stations: found 16; allowed: 19, as the profile of --press has" in done.stderr
    bench = command("record", log, "--press", "lab-hydraulic")
    assert bench.returncode == 2
    assert "allowed: a rotary press" in bench.stderr


def test_stations_seen_once_have_no_scatter(command: Command) -> None:
    """40 stations of 20 compressions: each is seen once, and how they differ cannot be told."""
    log = RECORDS / "rotary.csv"
    told = json.loads(command("record", log, "--stations", "40", "--json").stdout)["stations"]
    assert told["within"] is None
    assert told["each"][0]["mean_peak"]["low"] is None
    assert "not available: too few turns" in " ".join(
        command("record", log, "--stations", "40").stdout.split()
    )
