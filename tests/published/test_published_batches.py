"""Žagar & Mihelič 2022: batches of one product on a slow press, and on a fast one.

The slow batches are taken as lab runs, and the mean of the fast ones is foretold. What the source
does not give is assumed here, in the open, before anything is compared:

| assumed | value | grade |
|---|---|---|
| both presses | 32 stations on 410 mm, rollers of 125 mm radius, forced feeder | invented |
| punch heads | a flat of 9.5 mm, edge radius 15.9 mm, diameter 25 mm | from memory |
| cup depth | 0.85 mm: thickness less the set cylindrical height is about twice that | assumed |
| true density | 1.54 mg/mm³, of lactose and cellulose | from memory |
| lubricant | one: a production blend without is rare | common practice |

How runs are chosen: batches whose main force is within 10 % of 7.22 kN, the mean of the fast
batches. The force was steered to meet a breaking force, so a batch far from that force says nothing
of how strength grows with force. Thickness is printed to 0.1 mm, too coarse for one batch, so a run
is the mean of the batches of one month; the month is its batch.
"""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
import pytest

import scaleup
from scaleup.model.estimate import Estimate, drawn
from scaleup.model.press import MainRoller, RotaryProfile
from scaleup.model.ranges import Range
from scaleup.model.tooling import ToolingProfile
from scaleup.model.transfer_terms import TERMS, TransferTerms

TABLE = tomllib.loads(
    Path(__file__).with_name("production_batches.toml").read_text(encoding="utf-8")
)
STATIONS, TRUE_DENSITY = 32, 1.54
PRESS = RotaryProfile(
    name="slow",
    accepts=("B",),
    feed="forced",
    stations=STATIONS,
    pitch_circle=410.0,
    speed=Range(10.0, 110.0),
    main_roller=MainRoller(radius=125.0, force_limit=80e3),
)
OTHER = replace(PRESS, name="fast")
TOOLING = ToolingProfile(
    name="convex 8.1",
    shape="round convex",
    standard="B",
    diameter=8.1,
    stated_cup_depth=0.85,
    head_flat=9.5,
    head_edge_radius=15.9,
    head_diameter=25.0,
    barrel_diameter=19.0,
    punch_length=133.6,
    modulus=210e3,
)
NAMES = [name.strip() for name in TABLE["columns"].split(",")]
LAW_ALONE = TransferTerms(off=TERMS)


class Mean(NamedTuple):
    """The mean of some batches: kN, mg, N, thousands of tablets/h."""

    force: float
    weight: float
    breaking_force: float
    speed: float


def batches(speed: str) -> pd.DataFrame:
    """Return the batches of a speed, with the middle of what was printed as ends."""
    found = pd.DataFrame(TABLE[speed], columns=NAMES)
    for name in ("weight", "thickness"):
        found[name] = (found[f"{name}_least"] + found[f"{name}_most"]) / 2.0
    return found


def mean_of(found: pd.DataFrame) -> Mean:
    columns = ("main_force", "weight", "breaking_force", "speed")
    return Mean(*(float(found[name].mean()) for name in columns))


SLOW, FAST, SLOWER = map(batches, ("slow", "fast", "slower"))


def runs_of(found: pd.DataFrame) -> pd.DataFrame:
    """Return one run for each month."""
    months = found.groupby("month").mean()
    return pd.DataFrame(
        {
            "run": months.index,
            "batch": months.index,
            "force [kN]": months["main_force"],
            "speed [rpm]": months["speed"] * 1e3 / 60.0 / STATIONS,
            "weight [mg]": months["weight"],
            "thickness [mm]": months["thickness"],
            "breaking force [N]": months["breaking_force"],
        }
    )


def foretold(
    runs: pd.DataFrame, press: RotaryProfile, asked: Mean, terms: TransferTerms | None = None
) -> Estimate | None:
    """Return the breaking force in N of the next batch on a press; None if there is no fit."""
    study = scaleup.study_from(
        runs_of(runs),
        blend=TRUE_DENSITY,
        lab=(PRESS, TOOLING),
        production=(press, TOOLING, asked.speed * 1e3 / 60.0 / STATIONS),
        target={"weight": f"{asked.weight:.1f} mg"},
        transfer=TransferTerms(lubricated=True) if terms is None else terms,
    )
    case = scaleup.Analysis(study, draws=300).case()
    if case.no_fit is not None:
        return None
    made = case.process.at(asked.force * 1e3 / TOOLING.tip_area, case.speed).breaking_force
    assert made is not None
    return drawn(made, "N")


def holds(band: Estimate, value: float) -> bool:
    assert band.low is not None
    assert band.high is not None
    return band.low <= value <= band.high


@pytest.fixture(scope="module")
def on_the_other_press() -> Estimate:
    found = foretold(SLOW, OTHER, mean_of(FAST))
    assert found is not None
    return found


def test_the_figures_are_those_of_the_source() -> None:
    """36 fast batches broke at 47.7 N (2.9) at 7.22 kN, the slow ones at that force 8 N above."""
    assert (len(SLOW), len(SLOWER), len(FAST)) == (66, 3, 36)
    assert mean_of(FAST).breaking_force == pytest.approx(47.7, abs=0.05)
    assert FAST["breaking_force"].std() == pytest.approx(2.9, abs=0.05)
    assert mean_of(FAST).force == pytest.approx(7.22, abs=0.005)
    assert mean_of(SLOW).breaking_force == pytest.approx(55.7, abs=0.05)


def test_the_band_of_the_next_batch_holds_the_fast_press(on_the_other_press: Estimate) -> None:
    """It holds 47.7 N, and is not so wide that anything would be held."""
    level = mean_of(SLOW).breaking_force
    assert holds(on_the_other_press, mean_of(FAST).breaking_force)
    assert on_the_other_press.low is not None
    assert on_the_other_press.high is not None
    assert on_the_other_press.low / level - 1.0 >= -0.35
    assert on_the_other_press.high / level - 1.0 <= 0.25


def test_the_law_alone_does_not_hold_it() -> None:
    """The dwell explains a few per cent of the 14 %: without the terms the band is believed."""
    alone = foretold(SLOW, OTHER, mean_of(FAST), LAW_ALONE)
    assert alone is not None
    assert not holds(alone, mean_of(FAST).breaking_force)


def test_batch_to_batch_is_read_from_the_months(on_the_other_press: Estimate) -> None:
    """Months scatter by some 5 % about one curve: neither nothing nor what only noise would be."""
    study = scaleup.study_from(
        runs_of(SLOW),
        blend=TRUE_DENSITY,
        lab=(PRESS, TOOLING),
        production=(PRESS, TOOLING, 62.0),
    )
    terms = scaleup.Analysis(study, draws=300).case().process.plant.terms
    lot = next(each for each in terms if each.name == "lot")
    assert lot.grade == "measured"
    between_months = np.log(runs_of(SLOW)["breaking force [N]"]).std()
    assert np.std(lot.strength(62.0)) == pytest.approx(between_months, rel=0.5)
    assert [each.name for each in terms if each.grade == "cancels"] == [
        "gauges",
        "friction",
        "shear",
    ]


@pytest.mark.parametrize("press", ["the same", "another"])
def test_single_batches_lie_in_the_band_as_often_as_it_says(
    press: str, on_the_other_press: Estimate
) -> None:
    """Nine of ten batches or more, on the press of the runs and on the other one."""
    pool = SLOW if press == "the same" else FAST
    band = on_the_other_press if press == "another" else foretold(SLOW, PRESS, mean_of(SLOW))
    assert band is not None
    share = np.mean([holds(band, each) for each in pool["breaking_force"]])
    assert share >= 0.85


@pytest.mark.slow
def test_months_left_out_are_foretold() -> None:
    """Every month in turn is foretold without it: at its own speed, force and weight."""
    told = []
    for pool, press in ((SLOW, PRESS), (SLOWER, PRESS), (FAST, OTHER)):
        for month, group in pool.groupby("month"):
            found = foretold(SLOW[SLOW["month"] != month], press, mean_of(group))
            if found is not None:
                told.append(holds(found, mean_of(group).breaking_force))
    assert len(told) >= 16
    assert np.mean(told) >= 0.85
