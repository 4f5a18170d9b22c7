"""Single tablets and timed samples as means, and scatter within runs as data."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scaleup.answers.functions import learn
from scaleup.answers.trial.plan import TrialPlan
from scaleup.answers.trial.scatter import RunScatter, weight_against_speed
from scaleup.answers.trial.tablet_means import with_means
from scaleup.errors import InputError
from scaleup.io.trial_sheet.reading import SheetRow, TrialSheet
from scaleup.model.study import Study
from tests.answers.trial.simulated_trial import sheet, with_rows


def tablets_of(run: str, weight: np.ndarray, thickness: np.ndarray) -> tuple[SheetRow, ...]:
    return tuple(
        SheetRow(2 + at, {"run": run, "tablet": float(at), "weight": float(one),
                          "thickness": float(other)})
        for at, (one, other) in enumerate(zip(weight, thickness, strict=True))
    )  # fmt: skip


RNG = np.random.default_rng(4)
WEIGHT, THICKNESS = RNG.normal(400.0, 4.0, 10), RNG.normal(3.95, 0.02, 10)


def test_means_and_spreads_come_from_the_tablets() -> None:
    run = SheetRow(2, {"run": "T1"})
    row = with_means(TrialSheet((run,), tablets=tablets_of("T1", WEIGHT, THICKNESS)))[0]
    assert row.number("weight") == pytest.approx(float(np.mean(WEIGHT)))
    assert row.number("weight SD") == pytest.approx(float(np.std(WEIGHT, ddof=1)))
    assert row.number("thickness") == pytest.approx(float(np.mean(THICKNESS)))
    assert row.number("tablets") == 10.0
    assert row.number("breaking force") is None


def test_a_mean_that_is_not_that_of_its_tablets_is_refused() -> None:
    run = SheetRow(2, {"run": "T1", "weight": 410.0}, {"weight": "cell AF2"})
    with pytest.raises(
        InputError, match=r"cell AF2: found 410.0 mg; allowed: .* the mean of its 10"
    ):
        with_means(TrialSheet((run,), tablets=tablets_of("T1", WEIGHT, THICKNESS)))


@pytest.mark.parametrize(
    ("name", "value", "found"),
    [("weight", 4020.0, "4020.0 mg"), ("thickness", 39.5, "39.5 mm"), ("weight", 200.0, "200.0")],
)
def test_a_tablet_that_is_none_of_its_run_is_refused(name: str, value: float, found: str) -> None:
    tablets = tablets_of("T1", WEIGHT, THICKNESS)
    slipped = SheetRow(5, {**tablets[3].values, name: value}, {name: "tablets, cell D5"})
    sheet = TrialSheet((SheetRow(2, {"run": "T1"}),), tablets=(*tablets[:3], slipped, *tablets[4:]))
    with pytest.raises(InputError, match=f"tablets, cell D5: found {found}") as caught:
        with_means(sheet)
    assert "the middle of T1" in str(caught.value)


def test_means_that_make_no_tablet_are_named_in_the_sheet(marram: Study, plan: TrialPlan) -> None:
    made = sheet(marram, plan)
    heavy = with_rows(made, T1={"weight": 600.0})
    with pytest.raises(InputError, match="row 2, weight and thickness: found 600 mg and"):
        learn(marram, heavy, draws=300)


def test_timed_samples_give_force_and_time() -> None:
    samples = tuple(
        SheetRow(at + 2, {"run": "T1", "sample": "start", "force": force, "force SD": 300.0,
                          "elapsed": time})
        for at, (force, time) in enumerate(((15e3, 60.0), (15.3e3, 120.0), (15.6e3, 180.0)))
    )  # fmt: skip
    row = with_means(TrialSheet((SheetRow(2, {"run": "T1"}),), samples=samples))[0]
    assert row.number("force") == pytest.approx(15.3e3)
    assert row.number("force SD") == pytest.approx(300.0)
    assert row.number("elapsed") == pytest.approx(120.0)


@pytest.mark.slow
def test_scatter_goes_into_the_learned_study(marram: Study, plan: TrialPlan) -> None:
    made = sheet(marram, plan)
    rng = np.random.default_rng(2)
    tablets: tuple[SheetRow, ...] = ()
    for row in made.rows:
        mean, thick = row.number("weight") or 0.0, row.number("thickness") or 0.0
        speed = row.number("planned speed") or 0.0
        weight = rng.normal(mean, 0.0002 * speed * mean, 30)
        weight += mean - weight.mean()
        tablets += tablets_of(row.text("run"), weight, np.full(30, thick))
    learned = learn(marram, replace(made, tablets=tablets), draws=300)
    by_speed = {row.speed: row.weight for row in learned.scatter}
    assert by_speed[75.0] == pytest.approx(0.015, rel=0.3)
    assert by_speed[10.0] == pytest.approx(0.002, rel=0.3)
    power = learned.weight_spread_with_speed
    assert (power.low or 9.0) < 1.0 < (power.high or 0.0)
    assert [
        run.weight_standard_deviation for run in learned.study.lab.runs if run.press == "production"
    ]


def test_the_power_of_scatter_is_that_of_a_weighted_line() -> None:
    speeds = (10.0, 20.0, 40.0, 80.0)
    rows = [RunScatter("T", speed, 40, 0.004 * speed**0.5, None, None, None) for speed in speeds]
    power = weight_against_speed(rows)
    assert power.value == pytest.approx(0.5)
    by_hand = 1.645 / np.sqrt(78.0 * np.sum((np.log(speeds) - np.mean(np.log(speeds))) ** 2))
    assert (power.high or 0.0) - 0.5 == pytest.approx(by_hand, rel=1e-6)
    assert weight_against_speed(rows[:2]).value is None
