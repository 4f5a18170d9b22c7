"""``scaleup window``: the map, its centre and edges, the table, and the picture on the screen."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[3]
EXAMPLES = ROOT / "examples"
Screen = Callable[..., str]
Table = Callable[..., list[dict[str, str]]]
Ask = Callable[..., dict[str, Any]]
Altered = Callable[..., Path]

MARRAM, DUNLIN, SEDGE = (EXAMPLES / name for name in ("marram", "dunlin", "sedge"))
MAP = ("window", MARRAM, "--cells", "12x8")
EVIDENCE = {"tested-pressure", "tested-dwell"}
"""Limits that say how far the runs reach: the share of draws within limits leaves them out."""
TOWARDS = ["more force", "less force", "faster", "slower"]


def number(text: str) -> float:
    return float(text.split(maxsplit=1)[0])


def speeds_of(press: str) -> tuple[float, float]:
    """Return the slowest and the fastest speed in a press's profile."""
    path = ROOT / "profiles" / "presses" / f"{press}.toml"
    range_ = tomllib.loads(path.read_text())["speed"]
    return number(range_["min"]), number(range_["max"])


def shape(rows: list[list[object]]) -> tuple[int, set[int]]:
    return len(rows), {len(row) for row in rows}


@pytest.mark.parametrize(
    ("words", "size"),
    [(MAP, (12, 8)), (("window", DUNLIN), (60, 24)), (("window", SEDGE), (60, 24))],
)
def test_the_map_has_the_cells_asked_for(
    ask: Ask, words: tuple[str | Path, ...], size: tuple[int, int]
) -> None:
    form = ask(*words)
    found = form["map"]
    assert (found["speeds"]["unit"], found["forces"]["unit"]) == ("rpm", "N")
    speeds, forces = found["speeds"]["values"], found["forces"]["values"]
    assert (len(speeds), len(forces)) == size
    assert (speeds[0], speeds[-1]) == pytest.approx(speeds_of(form["production"]["press"]))
    assert speeds == sorted(speeds)
    assert forces == sorted(forces)
    every = [found["share_within_limits"], found["inside"]]
    for rows in [*every, *[limit["share"] for limit in found["limits"]]]:
        assert shape(rows) == (len(forces), {len(speeds)})


@pytest.mark.parametrize("words", [MAP, ("window", DUNLIN), ("window", SEDGE)])
def test_a_cell_is_inside_where_every_limit_is_kept(
    ask: Ask, words: tuple[str | Path, ...]
) -> None:
    form = ask(*words)
    found = form["map"]
    for row, together in enumerate(found["share_within_limits"]):
        for column, share in enumerate(together):
            shares = [limit["share"][row][column] for limit in found["limits"]]
            assert all(0.0 <= each <= 1.0 for each in (share, *shares))
            kept = [
                limit["share"][row][column]
                for limit in found["limits"]
                if limit["limit"] not in EVIDENCE
            ]
            lost = sum(1.0 - each for each in kept)
            assert 1.0 - lost - 1e-9 <= share <= min(kept) + 1e-9
            assert found["inside"][row][column] == (min(shares) >= form["confidence"])


def test_the_table_has_a_line_for_each_cell(table: Table, ask: Ask) -> None:
    rows = table(*MAP)
    found = ask(*MAP)["map"]
    cells = [
        (row, column)
        for row in range(len(found["forces"]["values"]))
        for column in range(len(found["speeds"]["values"]))
    ]
    assert len(rows) == len(cells) == 12 * 8
    limits = {limit["limit"]: limit["share"] for limit in found["limits"]}
    for line, (row, column) in zip(rows, cells, strict=True):
        assert float(line["speed [rpm]"]) == found["speeds"]["values"][column]
        assert float(line["force [N]"]) == found["forces"]["values"][row]
        assert float(line["share_within_limits"]) == found["share_within_limits"][row][column]
        assert line["inside"] == ("yes" if found["inside"][row][column] else "no")
        shares = [share[row][column] for share in limits.values()]
        assert float(line["worst_share"]) == min(shares)
        assert limits[line["worst_limit"]][row][column] == min(shares)


def nearest(values: list[float], wanted: float) -> int:
    """Return the cell that a point between cells lies in."""
    return min(range(len(values)), key=lambda place: abs(values[place] - wanted))


@pytest.mark.parametrize("words", [MAP, ("window", DUNLIN)])
def test_the_edges_are_where_the_map_ends(ask: Ask, words: tuple[str | Path, ...]) -> None:
    form = ask(*words)
    found, centre = form["map"], form["centre"]
    assert [edge["towards"] for edge in centre["edges"]] == TOWARDS
    most, least, fastest, slowest = (edge["at"]["value"] for edge in centre["edges"])
    speed, force = centre["speed"]["value"], centre["dialled"]["force"]["value"]
    assert least < force < most
    assert slowest < speed < fastest
    column = nearest(found["speeds"]["values"], speed)
    row = nearest(found["forces"]["values"], force)
    assert found["inside"][row][column]
    for each, inside in zip(found["forces"]["values"], found["inside"], strict=True):
        if abs(each / least - 1.0) > 0.03 and abs(each / most - 1.0) > 0.03:
            assert inside[column] == (least < each < most)
    for each, inside_there in zip(found["speeds"]["values"], found["inside"][row], strict=True):
        if slowest * 1.01 < each < fastest / 1.01:
            assert inside_there
    labels = {limit["label"] for limit in found["limits"]}
    labels |= {"the slowest speed of the press", "the fastest speed of the press"}
    assert {edge["limit"] for edge in centre["edges"]} <= labels


@pytest.mark.parametrize("words", [MAP, ("window", DUNLIN)])
def test_every_point_told_has_room_on_all_sides(ask: Ask, words: tuple[str | Path, ...]) -> None:
    form = ask(*words)
    for centre in (form["recommended"], form["centre"], form["at_asked_speed"]):
        firm = [margin for margin in centre["dialled"]["margins"] if not margin["watched"]]
        assert min(margin["share"] for margin in firm) >= form["confidence"]
        most, least, fastest, slowest = (edge["at"]["value"] for edge in centre["edges"])
        force, speed = centre["dialled"]["force"]["value"], centre["speed"]["value"]
        nearest = min(most / force, force / least, fastest / speed, speed / slowest) - 1.0
        assert 0.0 < centre["margin"] <= nearest + 0.01
    assert form["reasons"] == []


@pytest.mark.parametrize("words", [("window", MARRAM), ("window", DUNLIN)])
def test_the_recommended_point_is_the_fastest_of_those_with_the_margin(
    ask: Ask, screen: Screen, words: tuple[str | Path, ...]
) -> None:
    form = ask(*words)
    best, widest = form["recommended"], form["centre"]
    assert widest["margin"] >= form["at_asked_speed"]["margin"] - 0.005
    assert (best["asked_margin"], best["asked_margin_met"]) == (0.10, True)
    assert best["margin"] >= 0.10
    assert best["speed"]["value"] >= widest["speed"]["value"]
    shown = screen(*words)
    assert "X recommended: the largest output with a margin of at least 10 %" in shown
    assert "* largest margin" in shown


def test_the_margin_is_an_option_and_a_key_of_the_study(ask: Ask, altered: Altered) -> None:
    asked = ask(*MAP, "--margin", "20 %")["recommended"]
    study = altered("marram", ('confidence = "90 %"', 'confidence = "90 %"\nmargin = "20 %"'))
    stated = ask("window", study, "--cells", "12x8")["recommended"]
    assert asked == stated
    assert asked["asked_margin"] == 0.20
    assert asked["speed"]["value"] < ask(*MAP)["recommended"]["speed"]["value"]


def test_a_margin_that_no_point_has_is_said_to_be_missed(ask: Ask, screen: Screen) -> None:
    words = (*MAP, "--margin", "45 %")
    form = ask(*words)
    assert form["recommended"]["asked_margin_met"] is False
    assert form["recommended"]["margin"] == form["centre"]["margin"] < 0.45
    assert "X recommended: the largest margin: no point has 45 %" in screen(*words)


def test_the_fastest_speed_is_the_one_that_translating_tells(ask: Ask) -> None:
    told = ask("translate", MARRAM)["production"]
    form = ask(*MAP)
    for name in ("fastest_speed", "fastest_speed_pressure", "fastest_speed_output"):
        assert form[name] == told[name]


def test_a_speed_asked_for_is_looked_at_as_well(ask: Ask) -> None:
    form = ask(*MAP, "--speed", "30 rpm")
    assert form["production"]["speed"]["value"] == pytest.approx(30.0)
    assert form["at_asked_speed"]["speed"]["value"] == pytest.approx(30.0)
    own = ask(*MAP)
    assert own["at_asked_speed"]["speed"]["value"] == pytest.approx(45.0)
    assert form["map"] == own["map"]


def test_a_point_above_the_highest_tested_pressure_says_so(ask: Ask, screen: Screen) -> None:
    beyond = 0
    for name in ("recommended", "centre", "at_asked_speed"):
        centre = ask(*MAP)[name]
        # the largest force in runs.csv, 15.24 kN, on 10 mm flat tips
        tested = centre["highest_tested_pressure"]["value"]
        assert tested == pytest.approx(15240 / 78.5398163)
        beyond += centre["dialled"]["pressure"]["value"] > tested
    assert screen(*MAP).count("above the highest tested pressure, 194 MPa") == beyond


def test_where_there_is_no_window_the_answer_says_why(ask: Ask, screen: Screen) -> None:
    form = ask("window", SEDGE)
    assert form["centre"] is None
    assert form["at_asked_speed"] is None
    assert not any(any(row) for row in form["map"]["inside"])
    assert form["reasons"]
    flat = " ".join(screen("window", SEDGE).split())
    for reason in form["reasons"]:
        assert " ".join(reason.split()) in flat
    cells = [line.split("|")[1] for line in picture(screen("window", SEDGE))]
    assert " " not in "".join(cells)


def test_the_edge_of_the_press_is_the_edge_of_the_window(ask: Ask) -> None:
    other = ("--to", "rotary-large-23", "--tooling", "d-flat-16", "--cells", "8x6")
    for words in (MAP, ("window", MARRAM, *other)):
        form = ask(*words)
        slowest, fastest = speeds_of(form["production"]["press"])
        edges = {edge["towards"]: edge for edge in form["centre"]["edges"]}
        assert edges["slower"]["at"]["value"] == pytest.approx(slowest, rel=1e-9)
        assert edges["slower"]["limit"] == "the slowest speed of the press"
        assert edges["faster"]["at"]["value"] == pytest.approx(fastest, rel=1e-9)
        assert edges["faster"]["limit"] == "the fastest speed of the press"


def picture(shown: str) -> list[str]:
    """Return the lines between the heading of the map and the axis below it."""
    body = shown.split("main force, kN\n", 1)[1]
    return re.split(r"\n +\+-", body, maxsplit=1)[0].splitlines()


@pytest.mark.parametrize("words", [MAP, ("window", SEDGE)])
def test_the_picture_is_the_map(screen: Screen, ask: Ask, words: tuple[str | Path, ...]) -> None:
    shown, form = screen(*words), ask(*words)
    lines = picture(shown)
    cells = [line.split("|", 1)[1] for line in lines]
    letters = {limit["letter"] for limit in form["map"]["limits"]}
    inside = form["map"]["inside"][::-1]
    assert len(cells) == len(inside)
    for drawn, row in zip(cells, inside, strict=True):
        assert len(drawn) == len(row)
        for symbol, kept in zip(drawn, row, strict=True):
            assert symbol in " X*+" if kept else symbol == "." or symbol in letters
    assert "".join(cells).count("X") <= 1
    explained = set(re.findall(r"\n  ([A-Z]) [^\n]+ (?:below|above) ", shown))
    used = set("".join(cells))
    assert explained == used - set(" .X*+")
    assert used & set("X*+") <= {line[0] for line in shown.splitlines() if line}
    ticks = [float(line.split("|")[0]) for line in lines if line.split("|")[0].strip()]
    forces = form["map"]["forces"]["values"]
    assert ticks == sorted(ticks, reverse=True)
    assert (ticks[0], ticks[-1]) == pytest.approx((forces[-1] / 1e3, forces[0] / 1e3), rel=0.005)


def test_the_edge_of_the_window_is_a_line_of_letters(screen: Screen, ask: Ask) -> None:
    """Every cell outside that touches one inside has the letter of the limit that fails there."""
    form, cells = ask(*MAP), [line.split("|", 1)[1] for line in picture(screen(*MAP))]
    inside, limits = form["map"]["inside"][::-1], form["map"]["limits"]
    touching = 0
    for row, line in enumerate(inside):
        for column, kept in enumerate(line):
            beside = [(row - 1, column), (row + 1, column), (row, column - 1), (row, column + 1)]
            edge = not kept and any(
                0 <= r < len(inside) and 0 <= c < len(line) and inside[r][c] for r, c in beside
            )
            if edge:
                lost = min(limits, key=lambda limit: limit["share"][len(inside) - 1 - row][column])
                assert cells[row][column] == lost["letter"]
                touching += 1
    assert touching > 0


def test_a_limit_has_one_letter_in_every_study(ask: Ask) -> None:
    known: dict[str, set[str]] = {}
    for words in (MAP, ("window", DUNLIN), ("window", SEDGE)):
        for limit in ask(*words)["map"]["limits"]:
            known.setdefault(limit["limit"], set()).add(limit["letter"])
    assert len(known) > 6
    letters = [letter for each in known.values() for letter in each]
    assert len(letters) == len(known) == len(set(letters))


@pytest.mark.parametrize("cells", ["12x8", "4x4"])
def test_the_axis_of_the_picture_carries_both_ends(screen: Screen, cells: str) -> None:
    shown = screen("window", MARRAM, "--cells", cells)
    (foot,) = re.findall(r"\n +(\d[^\n]* rpm)\nblank: ", shown)
    assert re.fullmatch(r"10 +75 rpm", foot)


def test_a_picture_wider_than_the_screen_is_not_torn(screen: Screen) -> None:
    lines = picture(screen("window", MARRAM, "--cells", "80x6"))
    assert len(lines) == 6
    assert all("|" in line for line in lines)
